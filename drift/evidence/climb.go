package evidence

import (
	"context"
	"math"

	"windfall/drift/internal/stream"
)

// climb finds a proposal for the posterior of outcome k. It starts from runs
// drawn from the prior and raises the likelihood to a power that grows from 0
// to 1, each time as far as the effective number of runs allows, fitting a new
// proposal on every rung. logZ is the logarithm of the evidence of the outcome
// and its prior chance; m is nil when no run has any likelihood.
func (s *sampler) climb(ctx context.Context, k int, first batch) (m *mixture, logZ float64, err error) {
	b, beta, share := first, 0.0, 0.0
	repeats := 0
	for rung := 1; ; rung++ {
		next, w := temper(b, beta)
		if w == nil {
			return nil, math.Inf(-1), nil
		}
		n := float64(len(b))
		if next == 1 {
			_, lse, _ := relative(logWeights(b, 1))
			logZ = math.Log(s.chances[k]) + lse - math.Log(n)
		}
		m = s.fitted(b, w).fit(tuned.rungFit, stream.Fits.New(s.seed, uint64(k)<<32|uint64(rung)))
		if next == 1 {
			now := effective(w) / n
			if now >= tuned.goodShare || repeats >= tuned.topRepeats || (repeats > 1 && now < tuned.better*share) {
				return m, logZ, nil
			}
			share = now
			repeats++
		}
		if rung >= tuned.mostRungs {
			_, lse, ok := relative(logWeights(b, 1))
			if !ok {
				return nil, math.Inf(-1), nil
			}
			return m, math.Log(s.chances[k]) + lse - math.Log(n), nil
		}
		beta = next
		b = newBatch(s.target, stageRuns).of(k)
		q := make(proposals, len(s.chances))
		q[k] = m
		if err := s.fill(ctx, b, q, stream.Rung(k, rung)); err != nil {
			return nil, 0, err
		}
	}
}

// logWeights are the logarithms of the importance weights of b for the
// likelihood raised to the power beta.
func logWeights(b batch, beta float64) []float64 {
	out := make([]float64, len(b))
	for i := range out {
		out[i] = beta*b[i].ll - b[i].logq
		if math.IsInf(b[i].ll, -1) {
			out[i] = math.Inf(-1)
		}
	}
	return out
}

// temper returns the greatest power above beta, at most 1, at which the runs
// of b keep enough of them effective, and their weights there. A step of
// less than a half more takes a smaller share, for thin runs near the aim serve
// the next fit better than many far from it. w is nil where no run has any
// likelihood.
func temper(b batch, beta float64) (next float64, w []float64) {
	if _, _, ok := relative(logWeights(b, 1)); !ok {
		return 1, nil
	}
	for _, share := range tuned.rungShares {
		if next = reach(b, beta, share*float64(len(b))); next == 1 || next > tuned.goodStep*beta {
			break
		}
	}
	next = math.Min(1, math.Max(next, math.Max(tuned.leastStep*beta, 1e-9)))
	w, _, _ = relative(logWeights(b, next))
	return next, w
}

// reach is the greatest power from beta to 1 at which at least floor runs of b
// are effective; beta itself where there is none.
func reach(b batch, beta, floor float64) float64 {
	enough := func(p float64) bool {
		w, _, ok := relative(logWeights(b, p))
		return ok && effective(w) >= floor
	}
	if enough(1) {
		return 1
	}
	lo, hi := beta, 1.0
	for range 40 {
		mid := (lo + hi) / 2
		if lo < 1e-3 {
			mid = math.Sqrt(math.Max(lo, 1e-9) * hi)
		}
		if enough(mid) {
			lo = mid
		} else {
			hi = mid
		}
		if hi-lo < 1e-2*hi {
			break
		}
	}
	return lo
}
