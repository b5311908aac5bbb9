package evidence

import (
	"context"
	"errors"
	"math"

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

// alone is the effective number of runs of n below which the map without a
// sighting is sampled anew instead of reweighted.
func alone(n int) float64 { return clamp(float64(n)/50, 100, 400) }

// influences says what each sighting did. It needs the posterior's own runs;
// where dropping a sighting leaves too few of them effective it draws new ones.
func (s *sampler) influences(ctx context.Context, m model, terms []*term, d *drawn, before *batch) ([]Influence, error) {
	out := make([]Influence, len(terms))
	errs := make([]error, len(terms))
	s.share(len(terms), func(one *sampler, i int) {
		t, in := terms[i], &out[i]
		in.Sighting = t.Sighting
		in.Wrong, in.WrongSE = s.wrongness(d, t, i)
		without, err := one.without(ctx, m, terms, d, before, i)
		if err == nil {
			in.Moved = apart(d, without)
			in.AreaWithout, err = area90(m.Frame(), without)
		}
		errs[i] = err
	})
	return out, errors.Join(errs...)
}

// wrongness is the posterior chance that sighting i is a mistake.
func (s *sampler) wrongness(d *drawn, t *term, i int) (p, se float64) {
	nt := len(s.wrong)
	value := func(j int) float64 { return 1 - t.trust(d.right[j*nt+i], 1-*t.Sure) }
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

// without returns a sample of the posterior of all sightings but i.
func (s *sampler) without(ctx context.Context, m model, terms []*term, d *drawn, before *batch, i int) (*drawn, error) {
	nt := len(terms)
	if nt == 1 {
		w := make([]float64, before.len())
		for j := range w {
			w[j] = 1 / float64(len(w))
		}
		return &drawn{batch: before, w: w}, nil
	}
	logs := make([]float64, d.len())
	for j := range logs {
		logs[j] = math.Log(d.w[j]) - logAdd(d.right[j*nt+i], s.wrong[i])
		if d.w[j] == 0 {
			logs[j] = math.Inf(-1)
		}
	}
	if w, _, ok := relative(logs); ok && effective(w) >= alone(d.len()) {
		return &drawn{batch: d.batch, w: w}, nil
	}
	var rest []*term
	for j, t := range terms {
		if j != i {
			rest = append(rest, t)
		}
	}
	o := Options{Seed: s.seed ^ uint64(i+1)<<32, Workers: s.workers}
	r := newSampler(m, rest, o)
	got, err := r.sample(ctx, before.less(s.target, r.target, terms, i), 1200, 25000, nil)
	s.flights += r.flights
	if err == nil && (got == nil || got.eff == 0) {
		return &drawn{batch: d.batch, w: d.w}, nil // the rest explains nothing alone
	}
	return got, err
}

// less returns the batch as r has it: without sighting i.
func (b *batch) less(s, r *target, terms []*term, i int) *batch {
	out := newBatch(r, b.len())
	copy(out.k, b.k)
	copy(out.z, b.z)
	copy(out.landing, b.landing)
	copy(out.parts, b.parts)
	from := 4
	for _, t := range terms[:i] {
		from += t.features()
	}
	nt, drop := len(terms), terms[i].features()
	for j := range b.len() {
		row := b.f[j*s.nf : (j+1)*s.nf]
		copy(out.f[j*r.nf:], row[:from])
		copy(out.f[j*r.nf+from:], row[from+drop:])
		right := b.right[j*nt : (j+1)*nt]
		copy(out.right[j*(nt-1):], right[:i])
		copy(out.right[j*(nt-1)+i:], right[i+1:])
		for c, v := range out.right[j*(nt-1) : (j+1)*(nt-1)] {
			out.ll[j] += logAdd(v, r.wrong[c])
		}
	}
	return out
}

// apart is the total variation distance between two samples of landings, on
// square cells a third of the wider one's standard deviation wide.
func apart(a, b *drawn) float64 {
	cell := math.Max(sdOf(a), sdOf(b)) / 3
	if !(cell > 0) {
		return 0
	}
	type key struct{ i, j int }
	index := map[key]int{}
	var diff []float64
	add := func(d *drawn, sign float64) {
		for i, w := range d.w {
			p := d.landing[i].At
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
func sdOf(d *drawn) float64 {
	s := grid.Sums{About: d.landing[0].At}
	for i, w := range d.w {
		s.Add(d.landing[i].At, w)
	}
	return s.Cov().SD()
}

func area90(f geo.Frame, d *drawn) (float64, error) {
	pts := make([]geo.XY, d.len())
	for i := range pts {
		pts[i] = d.landing[i].At
	}
	g, err := grid.From(f, pts, d.w, grid.Options{})
	if err != nil {
		return 0, err
	}
	return g.Area(0.9), nil
}
