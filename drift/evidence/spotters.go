package evidence

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"sync"
	"sync/atomic"

	"github.com/paulmach/orb"

	"windfall/drift"
	"windfall/geo"
	"windfall/geo/grid"
)

// Candidate is a place where a watcher could stand.
type Candidate struct {
	Name string
	At   orb.Point
}

// SpotterOptions says how to choose; the zero value is ready to use.
type SpotterOptions struct {
	N        int     // watchers to place; 0: 2
	Runs     int     // flights that the maps are made of; 0: 12 000
	Trials   int     // flights that are watched; 0: 80
	SeesTo   float64 // m, farthest that a watcher sees the vehicle; 0: 2 km
	Seed     uint64
	Workers  int                   // 0: all cores; the result does not depend on it
	Progress func(done, total int) // nil: nobody watches
}

// Spots is where watchers help most.
type Spots struct {
	Without    float64 // m2, the 90 % area with nobody watching
	Best       []Stand // sets of N candidates, best first, at most ten
	Alone      []Stand // each candidate by itself, in their order
	Sees       []Sight // what each candidate sees, in their order
	Exhaustive bool    // every set was tried; else one watcher after the other, then exchanges
}

// Stand is a set of candidates and the 90 % area in m2 expected after their
// sightings, with its standard error over the watched flights.
type Stand struct {
	Places   []int // indices of the candidates, ascending
	Area, SE float64
}

// Sight is the chance that a candidate sees the ejection (or the first
// opening) and the landing: near enough, and no ground between.
type Sight struct{ Ejection, Landing, SE float64 }

const (
	mostSets   = 3000 // more sets than that are not all tried
	trackSteps = 240  // of a flight kept for watching, at most
	glimpse    = 2.0  // m above the ground at which a landing is still seen
	lineStep   = 25.0 // m between looks at the terrain along a line of sight
)

// Spotters chooses the n candidates whose sightings would leave the smallest
// 90 % area on average over flights of the model. Each watcher gives a bearing
// and an elevation angle of the ejection (or first opening) and a bearing of
// the landing, or of where it was last in view, with the errors and the chance
// of a mistake that Sighting has by default; what is beyond SeesTo or behind
// the terrain is not seen. All sets are held against the same flights and the
// same errors.
func Spotters(ctx context.Context, m *drift.Model, cands []Candidate, o SpotterOptions) (*Spots, error) {
	return spotters(ctx, m, cands, o)
}

func spotters(ctx context.Context, m model, cands []Candidate, o SpotterOptions) (*Spots, error) {
	if o.N == 0 {
		o.N = 2
	}
	if o.Runs <= 0 {
		o.Runs = 12000
	}
	if o.Trials <= 0 {
		o.Trials = 80
	}
	if o.SeesTo <= 0 {
		o.SeesTo = 2000
	}
	if o.N < 1 || o.N > len(cands) {
		return nil, fmt.Errorf("n %d with %d candidates: give n from 1 to the number of candidates", o.N, len(cands))
	}
	w := &watch{m: m, o: o, cands: cands}
	if err := w.fly(ctx); err != nil {
		return nil, err
	}
	if err := w.stand(); err != nil {
		return nil, err
	}
	out := &Spots{Sees: w.sights()}
	err := w.choose(ctx, out)
	return out, err
}

// watch is a choice of watchers in the making.
type watch struct {
	m       model
	o       SpotterOptions
	cands   []Candidate
	flights []track // Runs of them make the maps, Trials more are watched
	seen    [][]glance
	bins    raster
	done    atomic.Int64
	total   int
}

// track is a flight as watchers may see it.
type track struct {
	landing  geo.XY
	landZ    float64
	landS    float64
	eject    moment // t NaN: there was none
	dt       float64
	x, y, zz []float32 // every dt from 0 on
}

// glance is what one watcher has of one flight: up to two bearings.
type glance struct {
	eject, last *told
	when        float64 // s, of last; NaN: the landing
}

// fly makes the flights, in parallel, each in its own slot.
func (w *watch) fly(ctx context.Context) error {
	n := w.o.Runs + w.o.Trials
	w.flights = make([]track, n)
	return w.parallel(ctx, n, func() func(i int) error {
		work := &drift.Work{Record: true}
		var in drift.Input
		return func(i int) error {
			w.m.Draw(w.o.Seed, i, &in)
			l := w.m.Fly(in, work)
			w.flights[i] = follow(&l, work)
			return nil
		}
	})
}

// follow keeps of a flight what a watcher may see.
func follow(l *drift.Landing, w *drift.Work) track {
	t := track{landing: l.At, landS: l.LandingS, dt: math.Max(0.5, l.LandingS/trackSteps)}
	when := l.EjectionS
	if open := eventTime("opening", l, w); math.IsNaN(when) || open < when {
		when = open
	}
	t.eject = moment{t: math.NaN()}
	if !math.IsNaN(when) && when < l.LandingS {
		t.eject = at(w.Path, when)
	}
	n := int(l.LandingS/t.dt) + 1
	t.x, t.y, t.zz = make([]float32, n), make([]float32, n), make([]float32, n)
	for i := range n {
		m := at(w.Path, float64(i)*t.dt)
		t.x[i], t.y[i], t.zz[i] = float32(m.x), float32(m.y), float32(m.z)
	}
	if k := len(w.Path); k > 0 {
		t.landZ = w.Path[k-1].Z
	}
	return t
}

// at returns the vehicle at time s, standing still after the landing.
func (t *track) at(s float64) moment {
	n := len(t.x)
	if s >= t.landS || n == 0 {
		return moment{t: s, x: t.landing.X, y: t.landing.Y, z: t.landZ}
	}
	i := min(int(s/t.dt), n-1)
	nx, ny, nz, h := t.landing.X, t.landing.Y, t.landZ, t.landS-float64(i)*t.dt
	if i+1 < n {
		nx, ny, nz, h = float64(t.x[i+1]), float64(t.y[i+1]), float64(t.zz[i+1]), t.dt
	}
	x, y, z := float64(t.x[i]), float64(t.y[i]), float64(t.zz[i])
	if h <= 0 {
		return moment{t: s, x: x, y: y, z: z}
	}
	vx, vy, vz := (nx-x)/h, (ny-y)/h, (nz-z)/h
	d := s - float64(i)*t.dt
	return moment{s, x + vx*d, y + vy*d, z + vz*d, vx, vy, vz}
}

// parallel does 0..n-1; make gives each goroutine a function of its own.
func (w *watch) parallel(ctx context.Context, n int, make func() func(i int) error) error {
	var next atomic.Int64
	var wg sync.WaitGroup
	var mu sync.Mutex
	var first error
	for range cores(w.o.Workers) {
		wg.Go(func() {
			do := make()
			for i := int(next.Add(1)) - 1; i < n && ctx.Err() == nil; i = int(next.Add(1)) - 1 {
				if err := do(i); err != nil {
					mu.Lock()
					first = cmp.Or(first, err)
					mu.Unlock()
					return
				}
			}
		})
	}
	wg.Wait()
	return cmp.Or(ctx.Err(), first)
}

// choose tries the sets and fills out.
func (w *watch) choose(ctx context.Context, out *Spots) error {
	pts := make([]geo.XY, w.o.Runs)
	for i := range pts {
		pts[i] = w.flights[i].landing
	}
	g, err := grid.From(w.m.Frame(), pts, nil, grid.Options{})
	if err != nil {
		return err
	}
	out.Without = g.Area(0.9)
	w.bins = newRaster(pts, out.Without)
	single := make([][]int, len(w.cands))
	for c := range single {
		single[c] = []int{c}
	}
	var tried []Stand
	if out.Exhaustive = sets(len(w.cands), w.o.N) <= mostSets; out.Exhaustive {
		list := append(slices.Clone(single), allSets(len(w.cands), w.o.N)...)
		if tried, err = w.expect(ctx, list); err != nil {
			return err
		}
		out.Alone, tried = tried[:len(single):len(single)], tried[len(single):]
	} else {
		if out.Alone, err = w.expect(ctx, single); err != nil {
			return err
		}
		if tried, err = w.exchange(ctx, out.Alone); err != nil {
			return err
		}
	}
	sortStands(tried)
	if len(tried) > 10 {
		tried = tried[:10]
	}
	out.Best = tried
	return w.calibrate(ctx, pts, out)
}

// exchange adds the best watcher to the best set until there are n, then
// exchanges one at a time while that helps.
func (w *watch) exchange(ctx context.Context, alone []Stand) ([]Stand, error) {
	best := slices.MinFunc(alone, func(a, b Stand) int { return cmp.Compare(a.Area, b.Area) })
	var tried []Stand
	step := func(keep []int) error {
		var next [][]int
		for c := range w.cands {
			if !slices.Contains(keep, c) {
				set := append(slices.Clone(keep), c)
				slices.Sort(set)
				next = append(next, set)
			}
		}
		var err error
		tried, err = w.expect(ctx, next)
		return err
	}
	for len(best.Places) < w.o.N {
		if err := step(best.Places); err != nil {
			return nil, err
		}
		best = slices.MinFunc(tried, func(a, b Stand) int { return cmp.Compare(a.Area, b.Area) })
	}
	all := tried
	for range 3 {
		before := best.Area
		for i := range w.o.N {
			if err := step(slices.Delete(slices.Clone(best.Places), i, i+1)); err != nil {
				return nil, err
			}
			all = append(all, tried...)
			if b := slices.MinFunc(tried, func(a, b Stand) int { return cmp.Compare(a.Area, b.Area) }); b.Area < best.Area {
				best = b
			}
		}
		if best.Area >= before {
			break
		}
	}
	sortStands(all)
	return slices.CompactFunc(all, func(a, b Stand) bool { return slices.Equal(a.Places, b.Places) }), nil
}

// sets returns the number of sets of k out of n, at most some millions.
func sets(n, k int) int {
	c := 1
	for i := range k {
		if c = c * (n - i) / (i + 1); c > 1<<22 {
			return c
		}
	}
	return c
}

// allSets lists the sets of k out of n in ascending order.
func allSets(n, k int) [][]int {
	var out [][]int
	set := make([]int, k)
	var add func(i, from int)
	add = func(i, from int) {
		if i == k {
			out = append(out, slices.Clone(set))
			return
		}
		for c := from; c < n; c++ {
			set[i] = c
			add(i+1, c+1)
		}
	}
	add(0, 0)
	return out
}
