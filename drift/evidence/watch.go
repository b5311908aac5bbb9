package evidence

import (
	"context"
	"math"
	"math/rand/v2"

	"windfall/drift"
	"windfall/drift/internal/stream"
	"windfall/geo"
	"windfall/geo/grid"
)

// stand lets every candidate watch every trial: seen[c][j] is what candidate c
// has of trial j, with an error drawn from (seed, c, j).
func (w *watch) stand() error {
	w.seen = make([][]glance, len(w.cands))
	for c, cand := range w.cands {
		from := geo.Place{Lat: cand.At.Lat(), Lon: cand.At.Lon()}
		base := Bearing{Observer: Observer{From: &from}, BearingDeg: new(float64), Moment: Moment{Event: "landing"}}
		where, err := w.told(base)
		if err != nil {
			return err
		}
		w.seen[c] = make([]glance, w.o.Trials)
		for j := range w.seen[c] {
			rng := stream.Watchers.New(w.o.Seed, uint64(c)<<32|uint64(j))
			if w.seen[c][j], err = w.look(&w.flights[w.o.Runs+j], base, where.bearingLaw, rng); err != nil {
				return err
			}
		}
	}
	return nil
}

// look is what a watcher says of one flight.
func (w *watch) look(f *track, base Bearing, where *bearingLaw, rng *rand.Rand) (g glance, err error) {
	eye := [3]float64{where.from.X, where.from.Y, where.eye}
	g.when = math.NaN()
	wrong := [2]float64{rng.Float64(), rng.Float64()}
	e := [...]float64{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}
	any := [...]float64{360 * rng.Float64(), 90 * rng.Float64(), 360 * rng.Float64()}
	ground := w.m.Flight().Terrain
	if m := f.eject; !math.IsNaN(m.t) && w.visible(ground, eye, [3]float64{m.x, m.y, m.z}) {
		b, el := where.direction(&m)
		b, el = geo.NormDeg(b+3*e[0]), math.Min(90, math.Max(-30, el+3*e[1]))
		if wrong[0] > 0.95 {
			b, el = any[0], any[1]
		}
		s := base
		s.Event, s.BearingDeg, s.ElevDeg = "ejection", &b, &el
		if g.eject, err = w.told(s); err != nil {
			return g, err
		}
	}
	m := moment{t: f.landS, x: f.landing.X, y: f.landing.Y, z: f.landZ}
	s := base
	if !w.visible(ground, eye, [3]float64{m.x, m.y, m.z + glimpse}) {
		last, ok := w.lastSeen(ground, f, eye)
		if !ok {
			return g, nil
		}
		m = f.at(last)
		g.when = math.Max(0, last+e[3])
		s.Event, s.At = "", &g.when
	}
	b, _ := where.direction(&m)
	b = geo.NormDeg(b + 3*e[2])
	if wrong[1] > 0.95 {
		b = any[2]
	}
	s.BearingDeg = &b
	g.last, err = w.told(s)
	return g, err
}

// told is one watcher's bearing, ready for the flights.
type told struct {
	*bearingLaw
	logSure, wrong float64
}

func (w *watch) told(b Bearing) (*told, error) {
	t, err := ready(Sighting{Kind: b}, w.m)
	if err != nil {
		return nil, err
	}
	return &told{t.law.(*bearingLaw), t.logSure, t.wrong}, nil
}

// lastSeen is the last time at which a watcher has the flight in view.
func (w *watch) lastSeen(ground drift.Terrain, f *track, eye [3]float64) (s float64, ok bool) {
	for i := len(f.x) - 1; i > 0; i-- {
		if w.visible(ground, eye, [3]float64{float64(f.x[i]), float64(f.y[i]), float64(f.zz[i])}) {
			return float64(i) * f.dt, true
		}
	}
	return 0, false
}

// visible tells whether q is within SeesTo of the eye and no ground between.
func (w *watch) visible(ground drift.Terrain, eye, q [3]float64) bool {
	dx, dy, dz := q[0]-eye[0], q[1]-eye[1], q[2]-eye[2]
	flat := math.Hypot(dx, dy)
	if math.Hypot(flat, dz) > w.o.SeesTo {
		return false
	}
	if ground == nil {
		return true
	}
	base := w.m.Flight().Site.Elevation
	n := int(flat / lineStep)
	for i := 1; i < n; i++ {
		s := float64(i) / float64(n)
		e, ok := ground.Elevation(geo.XY{X: eye[0] + s*dx, Y: eye[1] + s*dy})
		if ok && e-base > eye[2]+s*dz {
			return false
		}
	}
	return true
}

// sights counts what each candidate sees of the trials.
func (w *watch) sights() []Sight {
	out := make([]Sight, len(w.cands))
	n := float64(w.o.Trials)
	for c, gs := range w.seen {
		for _, g := range gs {
			if g.eject != nil {
				out[c].Ejection++
			}
			if g.last != nil && math.IsNaN(g.when) {
				out[c].Landing++
			}
		}
		out[c].Ejection, out[c].Landing = out[c].Ejection/n, out[c].Landing/n
		p := math.Max(out[c].Ejection*(1-out[c].Ejection), out[c].Landing*(1-out[c].Landing))
		out[c].SE = math.Sqrt(p / n)
	}
	return out
}

// likely fills l with the likelihood of g under every run, up to a factor.
func (w *watch) likely(g *glance, l []float64) {
	for r := range l {
		f, p := &w.flights[r], 1.0
		if g.eject != nil {
			right := math.Inf(-1)
			if !math.IsNaN(f.eject.t) {
				right = g.eject.logSure + g.eject.seen(&f.eject, 0, 0)
			}
			p *= math.Exp(right) + math.Exp(g.eject.wrong)
		}
		if g.last != nil {
			m := moment{x: f.landing.X, y: f.landing.Y, z: f.landZ}
			right := 0.0
			if math.IsNaN(g.when) {
				right = g.last.seen(&m, 0, 0)
			} else {
				m = f.at(g.when)
				right = g.last.seen(&m, g.last.TimeSD, 0) + math.Log(upper((g.when-f.landS)/g.last.TimeSD))
			}
			p *= math.Exp(g.last.logSure+right) + math.Exp(g.last.wrong)
		}
		l[r] = p
	}
}

// expect returns the expected 90 % area of each set, over the trials.
func (w *watch) expect(ctx context.Context, list [][]int) ([]Stand, error) {
	areas := make([][]float64, w.o.Trials) // by trial, then set
	w.total += w.o.Trials
	err := w.parallel(ctx, w.o.Trials, func() func(j int) error {
		like := make([][]float64, len(w.cands))
		joint := make([]float64, w.o.Runs)
		scratch := w.bins.scratch()
		return func(j int) error {
			for c := range like {
				if like[c] == nil {
					like[c] = make([]float64, w.o.Runs)
				}
				w.likely(&w.seen[c][j], like[c])
			}
			areas[j] = make([]float64, len(list))
			for s, set := range list {
				copy(joint, like[set[0]])
				for _, c := range set[1:] {
					for r, v := range like[c] {
						joint[r] *= v
					}
				}
				areas[j][s] = w.bins.area(joint, scratch)
			}
			if w.o.Progress != nil {
				w.o.Progress(int(w.done.Add(1)), w.total)
			}
			return nil
		}
	})
	if err != nil {
		return nil, err
	}
	out := make([]Stand, len(list))
	for s, set := range list {
		out[s] = Stand{Places: set}
		out[s].Area, out[s].SE = meanSE(w.o.Trials, func(j int) float64 { return areas[j][s] })
	}
	return out, nil
}

func meanSE(n int, v func(j int) float64) (mean, se float64) {
	sq := 0.0
	for j := range n {
		mean += v(j) / float64(n)
	}
	for j := range n {
		sq += (v(j) - mean) * (v(j) - mean)
	}
	return mean, math.Sqrt(sq/float64(max(n-1, 1))) / math.Sqrt(float64(n))
}

// calibrate brings the quick areas of all sets to the map's own measure, the
// one that locate shows: both are taken of the two leading sets over the first
// trials, and all areas are scaled by the ratio of the sums.
func (w *watch) calibrate(ctx context.Context, pts []geo.XY, out *Spots) error {
	const some, lead = 30, 2
	trials := min(some, w.o.Trials)
	sets := out.Best[:min(lead, len(out.Best))]
	quick, fine := make([]float64, len(sets)*trials), make([]float64, len(sets)*trials)
	err := w.parallel(ctx, len(fine), func() func(i int) error {
		one, joint := make([]float64, w.o.Runs), make([]float64, w.o.Runs)
		scratch := w.bins.scratch()
		return func(i int) error {
			for r := range joint {
				joint[r] = 1
			}
			for _, c := range sets[i/trials].Places {
				w.likely(&w.seen[c][i%trials], one)
				for r, v := range one {
					joint[r] *= v
				}
			}
			quick[i] = w.bins.area(joint, scratch)
			at, weight := weighty(pts, joint)
			g, err := grid.From(w.m.Frame(), at, weight, grid.Options{MaxCells: 1 << 15})
			if err != nil {
				return err
			}
			fine[i] = g.Area(0.9)
			return nil
		}
	})
	if err != nil {
		return err
	}
	var q, f float64
	for i := range fine {
		q += quick[i]
		f += fine[i]
	}
	for _, list := range [][]Stand{out.Best, out.Alone} {
		for i := range list {
			list[i].Area *= f / q
			list[i].SE *= f / q
		}
	}
	return nil
}

// weighty returns the points that have weight to speak of.
func weighty(pts []geo.XY, w []float64) (at []geo.XY, weight []float64) {
	sum := 0.0
	for _, v := range w {
		sum += v
	}
	for i, v := range w {
		if v > 1e-9*sum {
			at, weight = append(at, pts[i]), append(weight, v)
		}
	}
	return at, weight
}
