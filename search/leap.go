package search

import (
	"math"
	"slices"
	"sort"

	"windfall/geo"
)

// jumpPrice is what going elsewhere costs, in turns.
const jumpPrice = 3.0

// findTargets picks the likeliest node of every block of nodes.
func (b *beam) findTargets() {
	b.targets = b.targets[:0]
	const blk = 3
	var all []target
	var mass []float64
	for j := 0; j < b.m; j += blk {
		for i := 0; i < b.n; i += blk {
			best, bestP := -1, 0.0
			for y := j; y < min(b.m, j+blk); y++ {
				for x := i; x < min(b.n, i+blk); x++ {
					c := y*b.n + x
					if math.IsInf(b.home[c], 1) {
						continue
					}
					var p float64
					for _, q := range b.near(x, y) {
						p += b.left[q] * b.worth(int(q), b.a.begin)
					}
					if p > bestP {
						best, bestP = c, p
					}
				}
			}
			if best >= 0 {
				all = append(all, target{node: best, near: b.near(best%b.n, best/b.n)})
				mass = append(mass, bestP)
			}
		}
	}
	order := make([]int, len(all))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(i, j int) bool { return mass[order[i]] > mass[order[j]] })
	for _, i := range order[:min(len(order), 120)] {
		b.targets = append(b.targets, all[i])
	}
}

// near returns the quads within a node and a half of node (x, y).
func (b *beam) near(x, y int) []int32 {
	var out []int32
	for j := max(0, 2*y-2); j < min(b.shadow.ny, 2*y+4); j++ {
		for i := max(0, 2*x-2); i < min(b.shadow.nx, 2*x+4); i++ {
			out = append(out, int32(j*b.shadow.nx+i))
		}
	}
	return out
}

// leap adds jumps from state i to the targets that promise most for their way.
func (b *beam) leap(i int, at geo.XY) {
	st := b.states[i]
	a := b.a
	keep := b.jumps
	if st.node < 0 {
		keep = 4 * b.jumps
	}
	type option struct {
		k   int
		val float64
	}
	best := make([]option, 0, keep+1) // best first
	v := maxOf(a.speed)
	sweep := 9 * b.s / v
	for k, tg := range b.targets {
		d := b.node(tg.node).Sub(at).Norm()
		if st.node >= 0 && d < 1.5*b.s {
			continue
		}
		var p float64
		t := st.t + d/v
		for _, q := range tg.near {
			if m := b.left[q] * b.own[q]; m > 0 {
				p += m * b.worth(int(q), t)
			}
		}
		o := option{k, p / (d/v + sweep)}
		i := len(best)
		for i > 0 && best[i-1].val < o.val {
			i--
		}
		if i < keep {
			best = slices.Insert(best, i, o)
			best = best[:min(len(best), keep)]
		}
	}
	for _, o := range best {
		b.leapTo(i, at, &b.targets[o.k])
	}
}

// leapTo adds the jump from state i to a target, what is seen on a straight way
// counted.
func (b *beam) leapTo(i int, at geo.XY, tg *target) {
	st := b.states[i]
	node := tg.node
	q := b.node(node)
	straight := b.a.world.Free(at, q)
	var dt float64
	if straight {
		dt = b.a.travel(at, q)
	} else {
		if tg.from == nil {
			tg.from = b.a.world.From(q)
		}
		pts, _, ok := tg.from.To(at)
		if !ok {
			return
		}
		from := q
		for _, p := range pts {
			dt += b.a.travel(p, from) + b.a.turn
			from = p
		}
	}
	if st.dir >= 0 {
		dt += b.a.turn
	}
	m := move{parent: int32(i), node: int32(node), how: jump, dir: -1, grace: graceEdges, t: st.t + dt, flown: st.flown + dt, score: st.score - jumpPrice*b.price}
	if !b.allowed(&m) {
		return
	}
	if n := q.Sub(at).Norm(); straight && n > 0 {
		m.look = b.jumpWidth(at, q)
		b.each(b.in(at), b.in(q), m.look, func(c int, share, s float64) {
			if p := b.left[c] * b.own[c]; p > 0 {
				m.score += passGain * p * share * b.worth(c, st.t+dt*s/n)
			}
		})
	}
	m.hash = st.hash ^ mix(uint64(i)<<20^uint64(node)^0x77<<48)
	b.push(m)
}
