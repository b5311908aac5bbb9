package blocks

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"sync"

	"windfall/geo"
)

// chain is one run of simulated annealing on one axis.
type chain struct {
	task   *Task
	r      *raster
	ways   *ways
	ledger *ledger
	rng    *rand.Rand
	end    float64 // s, when a find is worth nothing any more
	width  float64 // m, the usual sweep width
	least  int     // lanes of a block on foot
	ground float64 // m2 of the likely ground
	strict float64 // price of two walkers' lanes on the same ground

	now, trial []*schedule // by searcher
	spare      []*schedule
	draft      [][]Block
	next       []int
	sums       []float64 // of the chance left by the present layout, by cell
	value      float64   // what the present layout finds, less its price
	worthNow   float64
	order, old *order
	best       [][]Block
	bestValue  float64

	budget, spent float64 // units of work
	short         bool    // the budget was not enough for all steps
}

func newChain(t *Task, r *raster, w *ways, width float64, stream uint64) *chain {
	n := len(t.Searchers)
	c := &chain{
		task: t, r: r, ways: w, ledger: newLedger(r), ground: float64(len(r.p)) * r.h * r.h,
		rng: rand.New(rand.NewPCG(t.Seed, stream)), width: width, least: t.leastLanes(),
		draft: make([][]Block, n), next: make([]int, n), trial: make([]*schedule, n), best: make([][]Block, n),
		order: newOrder(n), old: newOrder(n),
	}
	for i := range t.Searchers {
		c.end = math.Max(c.end, tuned.Afterwards*t.Searchers[i].End)
		c.now, c.spare = append(c.now, &schedule{}), append(c.spare, &schedule{})
	}
	c.look()
	return c
}

// start takes a layout's blocks for the beginning, as far as they can be walked.
func (c *chain) start(blocks [][]Block) {
	for i := range c.now {
		c.plan(i, nil, c.now[i])
		for _, b := range blocks[i] {
			c.take(i)
			if c.plan(i, append(c.draft[i], b), c.spare[i]) {
				c.now[i], c.spare[i] = c.spare[i], c.now[i]
			}
		}
	}
	c.strict = tuned.StrictFirst
	legal := c.assess()
	if c.bestValue = math.Inf(-1); legal {
		c.keep()
	}
	c.look()
}

// assess reckons anew what the present layout is worth; it reports whether it is
// allowed.
func (c *chain) assess() (legal bool) {
	all := make([]int, len(c.now))
	for i := range all {
		all[i] = i
	}
	c.order.take(c, c.old, c.now, all)
	price, legal := c.price(c.order)
	c.worthNow = c.worth(c.now)
	c.ledger.restore()
	c.value = c.worthNow - price
	return legal
}

// with returns the present schedules with those in spare for the searchers
// named.
func (c *chain) with(changed ...int) []*schedule {
	copy(c.trial, c.now)
	for _, i := range changed {
		c.trial[i] = c.spare[i]
	}
	return c.trial
}

// lookEvery is how many accepted moves pass between two looks at what is left.
const lookEvery = 25

// run makes n steps from one temperature to the other.
func (c *chain) run(ctx context.Context, n int, hot, cold float64) {
	accepted := 0
	c.spent = 0
	for k := 0; k < n; k++ {
		if k%512 == 0 && ctx.Err() != nil {
			return
		}
		if k > 0 && k%reckonEvery == 0 {
			n = c.afford(k, n)
		}
		done := float64(k) / float64(n)
		temp := hot * math.Pow(cold/hot, done)
		if k%64 == 0 {
			c.strict = tuned.StrictFirst * math.Pow(tuned.StrictLast/tuned.StrictFirst, done)
			price, _ := c.price(c.order)
			c.value = c.worthNow - price
		}
		if !c.try(temp) {
			continue
		}
		if accepted++; accepted%lookEvery == 0 {
			c.look()
		}
	}
}

// try tries one move and reports whether it was taken.
func (c *chain) try(temp float64) bool {
	changed := c.move()
	if changed == nil {
		return false
	}
	for _, i := range changed {
		if !c.plan(i, c.draft[i], c.spare[i]) {
			return false
		}
	}
	ss := c.with(changed...)
	c.old.take(c, c.order, ss, changed)
	price, legal := c.price(c.old)
	luck := temp * math.Log(c.rng.Float64())
	if c.worthNow+tuned.Leap-price < c.value+luck {
		return false
	}
	worth := c.worth(ss)
	c.pay(ss)
	c.ledger.restore()
	v := worth - price
	if v < c.value+luck {
		return false
	}
	c.value, c.worthNow = v, worth
	c.order, c.old = c.old, c.order
	for _, i := range changed {
		c.now[i], c.spare[i] = c.spare[i], c.now[i]
	}
	if legal && v > c.bestValue {
		c.keep()
	}
	return true
}

// keep notes the present layout as the best.
func (c *chain) keep() {
	c.bestValue = c.value
	for i, s := range c.now {
		c.best[i] = append(c.best[i][:0], s.blocks...)
	}
}

// look sums up what the present layout leaves.
func (c *chain) look() {
	c.worth(c.now)
	if c.sums == nil {
		c.sums = make([]float64, len(c.r.p))
	}
	sum := 0.0
	for i, p := range c.ledger.left {
		sum += p
		c.sums[i] = sum
	}
	c.ledger.restore()
}

// Lay makes a layout for the task: chains on every axis, coarse and short at
// first, and again from the best of them, longer and finer. It returns ctx.Err()
// when ctx ends first.
func Lay(ctx context.Context, t *Task) (*Layout, error) {
	l, err := lay(ctx, t)
	if err == nil && !t.loose && l.empty() {
		easy := *t
		easy.loose, easy.From = true, nil
		return lay(ctx, &easy)
	}
	return l, err
}

func (l *Layout) empty() bool {
	for _, b := range l.Blocks {
		if len(b) > 0 {
			return false
		}
	}
	return true
}

func lay(ctx context.Context, t *Task) (*Layout, error) {
	cells := likely(t)
	width, ways := usual(t, cells), newWays(t, cells)
	if t.From != nil {
		return again(ctx, t, cells, width, ways)
	}
	var field []*chain
	short := false
	for round, heat := range tuned.Rounds {
		if t.Progress != nil {
			t.Progress(round, len(tuned.Rounds))
		}
		var rasters []*raster
		if round == 0 {
			rasters = each(len(t.Axes), func(k int) *raster { return newRaster(t, cells, width, t.Axes[k], heat.Across) })
		} else {
			field = best(field, heat.Keep)
			rasters = each(len(field), func(k int) *raster { return newRaster(t, cells, width, field[k].r.u, heat.Across) })
		}
		before := field
		field = each(len(rasters)*heat.Copies, func(k int) *chain {
			c := newChain(t, rasters[k/heat.Copies], ways, width, uint64(1000*round+k))
			if round == 0 {
				c.begin()
			} else {
				c.start(c.shifted(before[k/heat.Copies].r.o, before[k/heat.Copies].best))
			}
			c.budget = t.budget(len(rasters) * heat.Copies)
			c.run(ctx, c.fewer(heat.steps(t)), heat.Hot, heat.Cold)
			if round == len(tuned.Rounds)-1 {
				c.settle(ctx, heat)
			}
			return c
		})
		short = short || slices.ContainsFunc(field, func(c *chain) bool { return c.short })
	}
	return best(field, 1)[0].layout(short), ctx.Err()
}

// again takes up an earlier layout and changes it where that pays.
func again(ctx context.Context, t *Task, cells []int, width float64, ways *ways) (*Layout, error) {
	heat := tuned.Again
	r := newRaster(t, cells, width, t.From.Axis, heat.Across)
	field := each(heat.Copies, func(k int) *chain {
		c := newChain(t, r, ways, width, uint64(k))
		c.start(c.shifted(t.From.Origin, t.From.Blocks))
		c.budget = t.budget(heat.Copies)
		c.run(ctx, heat.steps(t), heat.Hot, heat.Cold)
		return c
	})
	return best(field, 1)[0].layout(false), ctx.Err()
}

// layout is the best that was found; when nothing allowed was, what of the
// present blocks is.
func (c *chain) layout(short bool) *Layout {
	if math.IsInf(c.bestValue, -1) {
		c.repair()
	}
	return &Layout{Origin: c.r.o, Axis: c.r.u, Blocks: c.best, Value: c.bestValue, Short: short || c.short}
}

// repair leaves out blocks that lie on others' ground.
func (c *chain) repair() {
	var bs [][]Block
	for _, s := range c.now {
		bs = append(bs, append([]Block(nil), s.blocks...))
	}
	for i := range c.now {
		c.plan(i, nil, c.now[i])
	}
	c.assess()
	for i := range bs {
		for _, b := range bs[i] {
			c.take(i)
			if c.plan(i, append(c.draft[i], b), c.spare[i]) {
				c.old.take(c, c.order, c.with(i), []int{i})
				if _, legal := c.price(c.old); legal {
					c.order, c.old = c.old, c.order
					c.now[i], c.spare[i] = c.spare[i], c.now[i]
				}
			}
		}
	}
	c.assess()
	c.keep()
}

// shifted returns blocks of another origin on this chain's raster.
func (c *chain) shifted(origin geo.XY, blocks [][]Block) [][]Block {
	d := c.r.in(origin)
	out := make([][]Block, len(blocks))
	for i, bs := range blocks {
		for _, b := range bs {
			b.Lo, b.Hi, b.V = b.Lo+d.u, b.Hi+d.u, b.V+d.v
			out[i] = append(out[i], b)
		}
	}
	return out
}

// each runs f for 0 to n-1 side by side and returns what it gave, in order.
func each[T any](n int, f func(k int) T) []T {
	out := make([]T, n)
	var wait sync.WaitGroup
	for k := range n {
		wait.Go(func() { out[k] = f(k) })
	}
	wait.Wait()
	return out
}

// best returns the n chains of most value, best first.
func best(cs []*chain, n int) []*chain {
	out := append([]*chain(nil), cs...)
	sort.SliceStable(out, func(a, b int) bool { return out[a].bestValue > out[b].bestValue })
	return out[:min(n, len(out))]
}

// moments returns the middle of the chance on the raster and its spread along
// and across.
func (c *chain) moments() (mean, spread point) {
	var s float64
	for n, p := range c.r.p {
		q := point{(float64(n/c.r.nv) + 0.5) * c.r.h, (float64(n%c.r.nv) + 0.5) * c.r.h}
		s, mean.u, mean.v = s+p, mean.u+p*q.u, mean.v+p*q.v
	}
	mean = point{mean.u / s, mean.v / s}
	for n, p := range c.r.p {
		q := point{(float64(n/c.r.nv) + 0.5) * c.r.h, (float64(n%c.r.nv) + 0.5) * c.r.h}.sub(mean)
		spread.u, spread.v = spread.u+p*q.u*q.u/s, spread.v+p*q.v*q.v/s
	}
	return mean, point{math.Sqrt(spread.u), math.Sqrt(spread.v)}
}

// steps is how long a chain runs.
func (h heat) steps(t *Task) int {
	n := h.Steps + h.More*(len(t.Searchers)-1)
	if t.Quick {
		n /= 10
	}
	return n
}
