package learn

import (
	"math"
	"math/rand/v2"
)

// factor is a factor being learned; all values in default spreads.
type factor struct {
	Spec
	groups    []string // names of the pool's members
	slots     []slot   // every value of it in any hit
	scaleOnly bool     // the wind's shape: no bias
}

// slot is one factor value of one case.
type slot struct {
	site, col int // which site, which column of its hits
	group     int // into factor.groups; -1: none
	ratio     float64
}

// site is one case ready for sampling: its hits of every outcome.
type site struct {
	c     *Case
	hits  []hits
	names []int     // outcome of hits[i] as a number in problem.names
	prior []float64 // its chance before learning, normed over the case's own
	wrong float64   // log density as a wrong entry
	slots []int     // factor index of each column
	group []int     // group of each column
	ratio []float64
	known bool // its outcome was given
}

// problem is everything the sampler needs; it does not change.
type problem struct {
	factors []factor
	sites   []site
	names   []string  // outcomes
	shape   []float64 // Gamma shape and rate of each outcome's odds before learning
	rate    []float64
}

// state is one point of the posterior.
type state struct {
	mu, tau, s, lambda []float64   // by factor
	u                  [][]float64 // by factor, by group
	odds               []float64   // by outcome name: multiplies its chance before learning
	wrong              float64     // chance of a wrong entry

	logp  []float64 // by site: log density of its find (wrong entries included)
	bad   []bool    // by site: taken as wrong in this draw
	which []int     // by site: outcome name in this draw
	val   [][]float64
}

func (p *problem) start(r *rand.Rand) *state {
	n := len(p.factors)
	st := &state{mu: make([]float64, n), tau: make([]float64, n), s: make([]float64, n), lambda: make([]float64, n), u: make([][]float64, n),
		odds: make([]float64, len(p.names)), wrong: wrongAlpha / (wrongAlpha + wrongBeta),
		logp: make([]float64, len(p.sites)), bad: make([]bool, len(p.sites)), which: make([]int, len(p.sites)), val: make([][]float64, len(p.sites))}
	for k, f := range p.factors {
		st.tau[k], st.s[k], st.lambda[k] = poolMedian, spreadMedian*math.Exp(spreadLogSD*r.NormFloat64()), 1
		st.u[k] = make([]float64, len(f.groups))
		if f.scaleOnly {
			st.s[k] = 1
		}
	}
	for i := range st.odds {
		st.odds[i] = 1
	}
	for i := range st.val {
		st.val[i] = make([]float64, len(p.sites[i].slots))
	}
	return st
}

// sweep makes one Gibbs step of everything in turn.
func (p *problem) sweep(st *state, r *rand.Rand) {
	for i := range p.sites {
		p.pick(st, i, r)
	}
	for k := range p.factors {
		p.stepFactor(st, k, r)
	}
	p.stepOutcomes(st, r)
	bad := 0.0
	for _, b := range st.bad {
		if b {
			bad++
		}
	}
	st.wrong = beta(r, wrongAlpha+bad, wrongBeta+float64(len(st.bad))-bad)
}

// chances returns the site's outcome chances under the state's odds.
func (p *problem) chances(st *state, s *site, out []float64) []float64 {
	out = out[:0]
	sum := 0.0
	for i, n := range s.names {
		v := s.prior[i] * st.odds[n]
		out = append(out, v)
		sum += v
	}
	for i := range out {
		out[i] /= sum
	}
	return out
}

// pick draws how the find of site i came about: which hit, or a wrong entry.
// It also sets logp, the density of the find with all of that summed out.
func (p *problem) pick(st *state, i int, r *rand.Rand) {
	s := &p.sites[i]
	chance := p.chances(st, s, make([]float64, 0, 8))
	cols := len(s.slots)
	mean, inv, norm := make([]float64, cols), make([]float64, cols), 0.0
	for c, k := range s.slots {
		mean[c] = st.mu[k]
		if g := s.group[c]; g >= 0 {
			mean[c] += st.u[k][g]
		}
		sd := s.ratio[c] * st.s[k]
		inv[c] = 1 / sd
		norm -= math.Log(sd)
	}
	best := math.Log(st.wrong) + s.wrong
	logs := make([]float64, 0, 512)
	for o, h := range s.hits {
		base := norm + math.Log1p(-st.wrong) + math.Log(chance[o]/float64(h.n))
		for j, lw := range h.logw {
			row := h.x[j*cols : (j+1)*cols]
			q := 0.0
			for c, x := range row {
				d := (x - mean[c]) * inv[c]
				q += d * d
			}
			v := base + lw - 0.5*q
			logs = append(logs, v)
			best = max(best, v)
		}
	}
	bad := math.Exp(math.Log(st.wrong) + s.wrong - best)
	sum := bad
	for j, v := range logs {
		logs[j] = math.Exp(v - best)
		sum += logs[j]
	}
	st.logp[i] = best + math.Log(sum)
	at := r.Float64()*sum - bad
	if st.bad[i] = at < 0; st.bad[i] {
		return
	}
	j := 0
	for o, h := range s.hits {
		for row := range h.logw {
			if at -= logs[j]; at < 0 || j == len(logs)-1 {
				copy(st.val[i], h.x[row*cols:(row+1)*cols])
				st.which[i] = s.names[o]
				return
			}
			j++
		}
	}
	st.bad[i] = true // no hit at all: rounding
}

// stepFactor draws mu, u, tau, s and lambda of factor k given the values drawn.
func (p *problem) stepFactor(st *state, k int, r *rand.Rand) {
	f := &p.factors[k]
	g := len(f.groups)
	s2, t2 := st.s[k]*st.s[k], st.tau[k]*st.tau[k]
	prec, sum := make([]float64, g+1), make([]float64, g+1) // by group; the last: no group
	for _, sl := range f.slots {
		if st.bad[sl.site] {
			continue
		}
		i := sl.group
		if i < 0 {
			i = g
		}
		w := 1 / (sl.ratio * sl.ratio * s2)
		prec[i] += w
		sum[i] += w * st.val[sl.site][sl.col]
	}
	if !f.scaleOnly {
		// mu with u summed out, then u given mu.
		a, b := st.lambda[k]/(biasScale*biasScale)+prec[g], sum[g]
		for i := range g {
			w := prec[i] / (1 + prec[i]*t2)
			a += w
			if prec[i] > 0 {
				b += w * sum[i] / prec[i]
			}
		}
		st.mu[k] = b/a + r.NormFloat64()/math.Sqrt(a)
		for i := range g {
			a := 1/t2 + prec[i]
			st.u[k][i] = (sum[i]-prec[i]*st.mu[k])/a + r.NormFloat64()/math.Sqrt(a)
		}
		m := st.mu[k] / biasScale
		st.lambda[k] = gamma(r, (biasDegrees+1)/2) / ((biasDegrees + m*m) / 2)
		ss := 0.0
		for _, u := range st.u[k] {
			ss += u * u
		}
		st.tau[k] = scaleGiven(st.tau[k], ss, g, poolMedian, poolLogSD, r)
	}
	ss, n := 0.0, 0
	for _, sl := range f.slots {
		if st.bad[sl.site] {
			continue
		}
		d := st.val[sl.site][sl.col] - st.mu[k]
		if sl.group >= 0 {
			d -= st.u[k][sl.group]
		}
		ss += d * d / (sl.ratio * sl.ratio)
		n++
	}
	median := spreadMedian
	if f.scaleOnly {
		median = 1
	}
	st.s[k] = scaleGiven(st.s[k], ss, n, median, spreadLogSD, r)
}

// scaleGiven draws a standard deviation with a log-normal prior, given the sum
// of squares of n values it made, by slice sampling (Neal 2003, Annals of
// Statistics 31) of its logarithm, starting from its present value.
func scaleGiven(now, ss float64, n int, median, logSD float64, r *rand.Rand) float64 {
	f := func(l float64) float64 {
		d := (l - math.Log(median)) / logSD
		return -float64(n)*l - 0.5*ss*math.Exp(-2*l) - 0.5*d*d
	}
	x := math.Log(now)
	y := f(x) - r.ExpFloat64()
	const w = 0.6
	lo := x - w*r.Float64()
	hi := lo + w
	for f(lo) > y {
		lo -= w
	}
	for f(hi) > y {
		hi += w
	}
	for {
		z := lo + (hi-lo)*r.Float64()
		if f(z) >= y {
			return math.Exp(z)
		}
		if z < x {
			lo = z
		} else {
			hi = z
		}
	}
}

// stepOutcomes draws the odds of each outcome: Gamma distributed, which for
// flights that share their outcomes makes the chances Dirichlet exactly.
func (p *problem) stepOutcomes(st *state, r *rand.Rand) {
	count := make([]float64, len(p.names))
	expected := make([]float64, len(p.names))
	for i := range p.sites {
		s := &p.sites[i]
		if st.bad[i] {
			continue
		}
		count[st.which[i]]++
		for j, n := range s.names {
			expected[n] += s.prior[j]
		}
	}
	for n := range st.odds {
		st.odds[n] = gamma(r, p.shape[n]+count[n]) / (p.rate[n] + expected[n])
	}
}

// gamma draws from a Gamma distribution of that shape and rate 1 (Marsaglia and
// Tsang 2000, ACM TOMS 26), boosted below shape 1.
func gamma(r *rand.Rand, shape float64) float64 {
	if shape < 1 {
		return gamma(r, shape+1) * math.Pow(r.Float64(), 1/shape)
	}
	d := shape - 1.0/3
	c := 1 / math.Sqrt(9*d)
	for {
		x := r.NormFloat64()
		v := 1 + c*x
		if v <= 0 {
			continue
		}
		v = v * v * v
		if math.Log(r.Float64()) < 0.5*x*x+d-d*v+d*math.Log(v) {
			return d * v
		}
	}
}

func beta(r *rand.Rand, a, b float64) float64 {
	x := gamma(r, a)
	return x / (x + gamma(r, b))
}
