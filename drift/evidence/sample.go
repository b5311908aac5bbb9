package evidence

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
)

var settled = fitting{maxDirections: 16, maxParts: 10, inflate: 1.08, wide: 0.10, prior: 0.05}

// drawn is a weighted sample of the posterior.
type drawn struct {
	*batch
	w        []float64 // sum to one
	outcomes []share
	logZ     float64
	eff      float64
	q        proposals
}

// share is the posterior chance of an outcome with its standard error.
type share struct{ p, se float64 }

// sample draws from the posterior until wanted runs are effective or most
// flights were flown in all; nil when no run has any likelihood. check, when
// not nil, sees a first rough sample and may stop the rest with its error.
func (s *sampler) sample(ctx context.Context, prior *batch, wanted, most int, check func(*drawn) error) (*drawn, error) {
	q, mass, err := s.explore(ctx, prior)
	if err != nil || q == nil {
		return nil, err
	}
	pilot, err := s.strata(ctx, q, allot(mass, nil, 4000, 300), 1<<40, nil)
	if err != nil {
		return nil, err
	}
	if check != nil {
		if err := check(pilot); err != nil {
			return nil, err
		}
	}
	s.refit(pilot, q)
	d, eff := pilot, s.efficiencies(pilot)
	n := 0.0
	for k, m := range mass {
		if m > 0 && eff[k] > 0 {
			n += m / math.Sqrt(eff[k])
		}
	}
	count := clamp(0.6*float64(wanted)*n*n, 1000, float64(most-s.flights)) // the refit is better: more follow as needed
	d = nil
	for round := range 6 {
		counts := allot(mass, eff, count, 100)
		if d, err = s.strata(ctx, q, counts, 1<<41+uint64(round), d); err != nil {
			return nil, err
		}
		if d.eff >= float64(wanted) || s.flights >= most {
			break
		}
		eff = s.efficiencies(d)
		short := math.Max(0.02, 1.02*float64(wanted)/math.Max(d.eff, 1)-1)
		count = clamp(short*float64(d.len()), 1000, math.Max(1000, float64(most-s.flights)))
	}
	return d, nil
}

// explore climbs for every outcome and returns its proposals and posterior
// masses (sum one); q is nil where no run of any outcome has likelihood.
func (s *sampler) explore(ctx context.Context, prior *batch) (q proposals, mass []float64, err error) {
	nk := len(s.chances)
	q = make(proposals, nk)
	logs := make([]float64, nk)
	errs := make([]error, nk)
	s.share(nk, func(one *sampler, k int) {
		logs[k] = math.Inf(-1)
		if s.chances[k] <= 0 {
			return
		}
		first, err := one.firstRung(ctx, prior, k)
		if err == nil {
			q[k], logs[k], err = one.climb(ctx, k, first)
		}
		errs[k] = err
	})
	if err := errors.Join(errs...); err != nil {
		return nil, nil, err
	}
	mass, _, ok := relative(logs)
	if !ok {
		return nil, nil, nil
	}
	return q, mass, nil
}

// firstRung gathers prior runs of outcome k and flies more where they are few.
func (s *sampler) firstRung(ctx context.Context, from *batch, k int) (*batch, error) {
	const most = 2 * stageRuns
	b := newBatch(s.target, most)
	n := 0
	for i := range from.k {
		if from.k[i] == k && n < most {
			b.copyRow(s.target, n, from, i)
			n++
		}
	}
	if n < stageRuns {
		for i := n; i < stageRuns; i++ {
			b.k[i] = k
		}
		q := make(proposals, len(s.chances))
		q[k] = prior(s.dim)
		if err := s.fill(ctx, b, q, 1<<42|uint64(k), n, stageRuns); err != nil {
			return nil, err
		}
		n = stageRuns
	}
	return b.head(s.target, n), nil
}

func (b *batch) copyRow(t *target, i int, from *batch, j int) {
	b.k[i], b.ll[i], b.logq[i], b.landing[i] = from.k[j], from.ll[j], from.logq[j], from.landing[j]
	copy(b.z[i*t.dim:(i+1)*t.dim], from.z[j*t.dim:])
	copy(b.parts[i*t.np:(i+1)*t.np], from.parts[j*t.np:])
	copy(b.f[i*t.nf:(i+1)*t.nf], from.f[j*t.nf:])
	copy(b.right[i*len(t.wrong):(i+1)*len(t.wrong)], from.right[j*len(t.wrong):])
}

// head returns the first n rows.
func (b *batch) head(t *target, n int) *batch {
	return &batch{b.k[:n], b.z[:n*t.dim], b.f[:n*t.nf], b.right[:n*len(t.wrong)], b.ll[:n], b.logq[:n], b.landing[:n], b.parts[:n*t.np]}
}

// join returns the rows of a, then those of b.
func join(a, b *batch) *batch {
	if a == nil {
		return b
	}
	return &batch{append(a.k, b.k...), append(a.z, b.z...), append(a.f, b.f...), append(a.right, b.right...),
		append(a.ll, b.ll...), append(a.logq, b.logq...), append(a.landing, b.landing...), append(a.parts, b.parts...)}
}

// allot divides count runs among the outcomes: in proportion to the mass over
// the root of the efficiency, which makes most runs effective, and at least
// few for each that has mass.
func allot(mass, eff []float64, count, few float64) []int {
	share := make([]float64, len(mass))
	sum := 0.0
	for k, m := range mass {
		share[k] = m
		if eff != nil && eff[k] > 0 {
			share[k] = m / math.Sqrt(eff[k])
		}
		sum += share[k]
	}
	out := make([]int, len(mass))
	for k := range out {
		if mass[k] > 0 {
			out[k] = int(math.Max(few, math.Round(count*share[k]/sum)))
		}
	}
	return out
}

// strata draws counts[k] more runs of each outcome from q and weights them
// together with those of earlier, which came from the same q.
func (s *sampler) strata(ctx context.Context, q proposals, counts []int, stream uint64, earlier *drawn) (*drawn, error) {
	n := 0
	for _, c := range counts {
		n += c
	}
	b := newBatch(s.target, n)
	i := 0
	for k, c := range counts {
		for range c {
			b.k[i] = k
			i++
		}
	}
	if err := s.fill(ctx, b, q, stream, 0, n); err != nil {
		return nil, err
	}
	if earlier != nil {
		b = join(earlier.batch, b)
	}
	d := &drawn{batch: b, q: q}
	s.weigh(d)
	return d, nil
}

// weigh fills the weights of d, the outcomes' chances, the evidence and the
// effective number of runs. The chance of an outcome is a ratio of stratum
// means; its standard error is by the delta method.
func (s *sampler) weigh(d *drawn) {
	counts := make([]float64, len(s.chances))
	for _, k := range d.k {
		counts[k]++
	}
	logs := logWeights(d.batch, 1)
	for i, k := range d.k {
		logs[i] += math.Log(s.chances[k] / counts[k])
	}
	var ok bool
	if d.w, d.logZ, ok = relative(logs); !ok {
		d.eff = 0
		d.outcomes = make([]share, len(s.chances))
		return
	}
	d.eff = effective(d.w)
	d.outcomes = shares(d.k, d.w, counts)
}

func shares(ks []int, w, counts []float64) []share {
	nk := len(counts)
	p, sq := make([]float64, nk), make([]float64, nk)
	for i, k := range ks {
		p[k] += w[i]
		sq[k] += w[i] * w[i]
	}
	out := make([]share, nk)
	for k := range out {
		v := 0.0
		for j := range nk {
			if counts[j] == 0 {
				continue
			}
			d := -p[k]
			if j == k {
				d++
			}
			v += d * d * math.Max(0, sq[j]-p[j]*p[j]/counts[j])
		}
		out[k] = share{p[k], math.Sqrt(v)}
	}
	return out
}

// efficiencies returns for each outcome the effective share of its runs.
func (s *sampler) efficiencies(d *drawn) []float64 {
	out := make([]float64, len(s.chances))
	for k := range out {
		var sum, sq, n float64
		for i, v := range d.w {
			if d.k[i] == k {
				sum += v
				sq += v * v
				n++
			}
		}
		if sq > 0 {
			out[k] = sum * sum / sq / n
		}
	}
	return out
}

// refit improves the proposals of the outcomes that have enough effective runs in d.
func (s *sampler) refit(d *drawn, q proposals) {
	s.share(len(q), func(_ *sampler, k int) {
		if q[k] == nil {
			return
		}
		var rows []int
		var w []float64
		for i := range d.k {
			if d.k[i] == k {
				rows = append(rows, i)
				w = append(w, d.w[i])
			}
		}
		sum := 0.0
		for _, v := range w {
			sum += v
		}
		if sum == 0 || effective(w) < 300 {
			return
		}
		z, f := make([]float64, 0, len(rows)*s.dim), make([]float64, 0, len(rows)*s.nf)
		for n, i := range rows {
			w[n] /= sum
			z = append(z, d.z[i*s.dim:(i+1)*s.dim]...)
			f = append(f, d.f[i*s.nf:(i+1)*s.nf]...)
		}
		rng := rand.New(rand.NewPCG(splitmix(s.seed^0x4ef), uint64(k)))
		q[k] = fit(z, f, w, s.dim, s.nf, settled, rng)
	})
}
