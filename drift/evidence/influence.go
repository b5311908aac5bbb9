package evidence

import (
	"context"
	"errors"
	"math"
	"slices"

	"windfall/drift/internal/stream"
	"windfall/geo"
	"windfall/geo/grid"
)

// Influence is what one sighting did to the map.
type Influence struct {
	Sighting
	// Wrong is the posterior chance that it is a mistake (for nothing-in: that
	// the vehicle lies there all the same), with its standard error.
	Wrong, WrongSE float64
	// Moved is the share of the chance that lies elsewhere than it would
	// without this sighting: the total variation distance of the two maps,
	// 0 to 1.
	Moved float64
	// AreaWithout is the 90 % area in m2 had this sighting not been made.
	AreaWithout float64
}

// influences says what each sighting did. It needs the posterior's own runs;
// where dropping a sighting leaves too few of them effective it draws new ones.
func (s *sampler) influences(ctx context.Context, d *weighted, before batch) ([]Influence, error) {
	n := len(s.terms)
	out, errs := make([]Influence, n), make([]error, n)
	s.parallel(n, func(one *sampler, i int) {
		t, in := s.terms[i], &out[i]
		in.Sighting = t.Sighting
		in.Wrong, in.WrongSE = s.wrongness(d, t, i)
		without, err := one.sampleWithout(ctx, d, before, i)
		if err == nil {
			in.Moved = totalVariation(d, without)
			in.AreaWithout, err = area90(s.m.Frame(), without)
		}
		errs[i] = err
	})
	return out, errors.Join(errs...)
}

// wrongness is the posterior chance that sighting i is a mistake.
func (s *sampler) wrongness(d *weighted, t *term, i int) (p, se float64) {
	value := func(j int) float64 { return 1 - t.trust(d.batch[j].right[i], 1-*t.Sure) }
	for j, w := range d.w {
		if w > 0 {
			p += w * value(j)
		}
	}
	for j, w := range d.w {
		if w > 0 {
			e := w * (value(j) - p)
			se += e * e
		}
	}
	return p, math.Sqrt(se)
}

// sampleWithout returns a sample of the posterior of all sightings but i.
func (s *sampler) sampleWithout(ctx context.Context, d *weighted, before batch, i int) (*weighted, error) {
	if len(s.terms) == 1 {
		w := make([]float64, len(before))
		for j := range w {
			w[j] = 1 / float64(len(w))
		}
		return &weighted{batch: before, w: w}, nil
	}
	logs := make([]float64, len(d.batch))
	for j := range logs {
		logs[j] = math.Log(d.w[j]) - logAdd(d.batch[j].right[i], s.wrong[i])
		if d.w[j] == 0 {
			logs[j] = math.Inf(-1)
		}
	}
	if w, _, ok := relative(logs); ok && effective(w) >= enoughWithout(len(d.batch)) {
		return &weighted{batch: d.batch, w: w}, nil
	}
	rest := slices.Delete(slices.Clone(s.terms), i, i+1)
	r := newSampler(s.m, rest, Options{Seed: stream.Without(s.seed, i), Workers: s.workers})
	got, err := r.sample(ctx, before.dropSighting(s.terms, i, r.wrong), tuned.againWanted, tuned.againMost, nil)
	s.flights += r.flights
	if err == nil && (got == nil || got.eff == 0) {
		return &weighted{batch: d.batch, w: d.w}, nil // the rest explains nothing alone
	}
	return got, err
}

// dropSighting returns the runs as a sampler without sighting i has them; wrong
// is that of the others.
func (b batch) dropSighting(terms []*term, i int, wrong []float64) batch {
	from := landingFeatures
	for _, t := range terms[:i] {
		from += t.features()
	}
	to := from + terms[i].features()
	out := slices.Clone(b)
	for j := range out {
		r := &out[j]
		r.f = slices.Delete(slices.Clone(r.f), from, to)
		r.right = slices.Delete(slices.Clone(r.right), i, i+1)
		r.logq = 0
		r.weigh(wrong)
	}
	return out
}

// totalVariation is the distance between two samples of landings, on
// square cells a third of the wider one's standard deviation wide.
func totalVariation(a, b *weighted) float64 {
	cell := math.Max(sdOf(a), sdOf(b)) / 3
	if !(cell > 0) {
		return 0
	}
	type key struct{ i, j int }
	index := map[key]int{}
	var diff []float64
	add := func(d *weighted, sign float64) {
		for i, w := range d.w {
			p := d.batch[i].landing.At
			k := key{int(math.Floor(p.X / cell)), int(math.Floor(p.Y / cell))}
			n, ok := index[k]
			if !ok {
				n = len(diff)
				index[k] = n
				diff = append(diff, 0)
			}
			diff[n] += sign * w
		}
	}
	add(a, 1)
	add(b, -1)
	sum := 0.0
	for _, v := range diff {
		sum += math.Abs(v)
	}
	return math.Min(1, sum/2)
}

// sdOf is the fourth root of the determinant of the landings' covariance, m.
func sdOf(d *weighted) float64 {
	s := grid.Sums{About: d.batch[0].landing.At}
	for i, w := range d.w {
		s.Add(d.batch[i].landing.At, w)
	}
	return s.Cov().SD()
}

func area90(f geo.Frame, d *weighted) (float64, error) {
	pts := make([]geo.XY, len(d.batch))
	for i := range pts {
		pts[i] = d.batch[i].landing.At
	}
	g, err := grid.From(f, pts, d.w, grid.Options{})
	if err != nil {
		return 0, err
	}
	return g.Area(0.9), nil
}
