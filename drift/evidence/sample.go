package evidence

import (
	"context"
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"windfall/drift/internal/stream"
)

// weighted is a sample of the posterior.
type weighted struct {
	batch
	w        []float64 // sum to one
	outcomes []chance
	logZ     float64
	eff      float64
	q        proposals
}

// chance is the posterior chance of an outcome with its standard error.
type chance struct{ p, se float64 }

// sample draws from the posterior until wanted runs are effective or most
// flights were flown in all; nil when no run has any likelihood. check, when
// not nil, sees a first rough sample and may stop the rest with its error.
func (s *sampler) sample(ctx context.Context, prior batch, wanted, most int,
	check func(*weighted) error) (*weighted, error) {
	q, mass, err := s.explore(ctx, prior)
	if err != nil || q == nil {
		return nil, err
	}
	pilot, err := s.strata(ctx, q, allot(mass, nil, tuned.pilotRuns, tuned.pilotLeast), stream.Pilot, nil)
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
	// the refit is better: more follow as needed
	count := clamp(tuned.firstShare*float64(wanted)*n*n, tuned.roundLeast, float64(most-s.flights))
	d = nil
	for round := range tuned.rounds {
		counts := allot(mass, eff, count, tuned.outcomeLeast)
		if d, err = s.strata(ctx, q, counts, stream.Sample(round), d); err != nil {
			return nil, err
		}
		if d.eff >= float64(wanted) || s.flights >= most {
			break
		}
		eff = s.efficiencies(d)
		short := math.Max(tuned.leastMore, (1+tuned.leastMore)*float64(wanted)/math.Max(d.eff, 1)-1)
		count = clamp(short*float64(len(d.batch)), tuned.roundLeast, math.Max(tuned.roundLeast, float64(most-s.flights)))
	}
	return d, nil
}

// explore climbs for every outcome and returns its proposals and posterior
// masses (sum one); q is nil where no run of any outcome has likelihood.
func (s *sampler) explore(ctx context.Context, prior batch) (q proposals, mass []float64, err error) {
	nk := len(s.chances)
	q = make(proposals, nk)
	logs := make([]float64, nk)
	errs := make([]error, nk)
	s.parallel(nk, func(one *sampler, k int) {
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
func (s *sampler) firstRung(ctx context.Context, prior batch, k int) (batch, error) {
	var b batch
	for _, r := range prior {
		if r.k == k && len(b) < 2*stageRuns {
			b = append(b, r)
		}
	}
	n := len(b)
	if n >= stageRuns {
		return b, nil
	}
	b = append(b, newBatch(s.target, stageRuns-n).of(k)...)
	q := make(proposals, len(s.chances))
	q[k] = priorMixture(s.dim)
	return b, s.fillAfter(ctx, b, q, stream.FirstRung(k), n)
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

// strata draws counts[k] more runs of each outcome from q and weighs them
// together with those of earlier, which came from the same q.
func (s *sampler) strata(ctx context.Context, q proposals, counts []int, from stream.Stream,
	earlier *weighted) (*weighted, error) {
	var all batch
	for k, n := range counts {
		all = append(all, newBatch(s.target, n).of(k)...)
	}
	if err := s.fill(ctx, all, q, from); err != nil {
		return nil, err
	}
	if earlier != nil {
		all = slices.Concat(earlier.batch, all)
	}
	d := &weighted{batch: all, q: q}
	s.weigh(d)
	return d, nil
}

// weigh fills the weights of d, the outcomes' chances, the evidence and the
// effective number of runs. The chance of an outcome is a ratio of stratum
// means; its standard error is by the delta method.
func (s *sampler) weigh(d *weighted) {
	counts := make([]float64, len(s.chances))
	for i := range d.batch {
		counts[d.batch[i].k]++
	}
	logs := logWeights(d.batch, 1)
	for i := range logs {
		k := d.batch[i].k
		logs[i] += math.Log(s.chances[k] / counts[k])
	}
	var ok bool
	if d.w, d.logZ, ok = relative(logs); !ok {
		d.eff = 0
		d.outcomes = make([]chance, len(s.chances))
		return
	}
	d.eff = effective(d.w)
	d.outcomes = outcomeChances(d, counts)
}

// outcomeChances are the ratios of stratum means with their errors; counts is
// how many runs each outcome has.
func outcomeChances(d *weighted, counts []float64) []chance {
	nk := len(counts)
	p, sq := make([]float64, nk), make([]float64, nk)
	for i, w := range d.w {
		k := d.batch[i].k
		p[k] += w
		sq[k] += w * w
	}
	out := make([]chance, nk)
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
		out[k] = chance{p[k], math.Sqrt(v)}
	}
	return out
}

// efficiencies returns for each outcome the effective share of its runs.
func (s *sampler) efficiencies(d *weighted) []float64 {
	out := make([]float64, len(s.chances))
	for k := range out {
		var sum, sq, n float64
		for i, v := range d.w {
			if d.batch[i].k == k {
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
func (s *sampler) refit(d *weighted, q proposals) {
	s.parallel(len(q), func(_ *sampler, k int) {
		if q[k] == nil {
			return
		}
		var b batch
		var w []float64
		for i, r := range d.batch {
			if r.k == k {
				b, w = append(b, r), append(w, d.w[i])
			}
		}
		sum := floats.Sum(w)
		if sum == 0 || effective(w) < tuned.refitLeast {
			return
		}
		floats.Scale(1/sum, w)
		q[k] = s.fitted(b, w).fit(tuned.finalFit, stream.Refits.New(s.seed, uint64(k)))
	})
}
