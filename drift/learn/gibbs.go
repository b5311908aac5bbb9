package learn

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/distuv"
)

// factor is a factor being learned; all values in default spreads.
type factor struct {
	Spec
	groups    []string // names of the pool's members
	slots     []slot   // every value of it
	scaleOnly bool     // the wind's shape: no bias
}

// slot is one factor value of one case.
type slot struct {
	site, col int // which site, which of its columns
	group     int // into factor.groups; -1: none
	ratio     float64
}

// site is one case ready for sampling.
type site struct {
	c     *Case
	at    []tangent // by outcome
	names []int     // outcomes as numbers in problem.names
	prior []float64 // their chances before learning
	wrong float64   // log density as a wrong entry
	slots []int     // factor index of each column
	group []int     // group of each column
	ratio []float64

	vehicle int // into problem.vehicles; -1: it shares its outcomes with none
}

// problem is everything the sampler needs; it does not change.
type problem struct {
	factors []factor
	sites   []site
	names   []string  // outcomes
	shape   []float64 // Gamma shape and rate of each outcome's odds before learning
	rate    []float64

	vehicles []string

	centre []float64 // by factor: the mean around which the tangents hold
	within float64   // how far from it, in default spreads, they are believed; 0: anywhere
}

// holds tells whether factor k's mean lies where the tangents are believed.
func (p *problem) holds(k int, mu float64) bool {
	return p.within == 0 || math.Abs(mu-p.centre[k]) <= p.within
}

// state is one point of the posterior.
type state struct {
	mu, tau, s, lambda []float64   // by factor
	u                  [][]float64 // by factor, by group
	odds               []float64   // by outcome name: multiplies its chance before learning
	own                [][]float64 // by vehicle, by outcome name: multiplies it once more; nil: does not
	wrong              float64     // chance of a wrong entry

	logp  []float64   // by site: log density of its find (wrong entries included)
	bad   []bool      // by site: taken as wrong in this draw
	which []int       // by site: outcome name in this draw
	by    []*tangent  // by site: the tangent its values were drawn with
	val   [][]float64 // by site: its factors' values in this draw

	mean, sd, logs, chance []float64 // scratch
}

func (p *problem) start(r *rand.Rand) *state {
	n := len(p.factors)
	st := &state{mu: make([]float64, n), tau: make([]float64, n), s: make([]float64, n), lambda: make([]float64, n),
		u:    make([][]float64, n),
		odds: make([]float64, len(p.names)), wrong: wrongAlpha / (wrongAlpha + wrongBeta),
		logp: make([]float64, len(p.sites)), bad: make([]bool, len(p.sites)), which: make([]int, len(p.sites)),
		by: make([]*tangent, len(p.sites)), val: make([][]float64, len(p.sites))}
	for k, f := range p.factors {
		st.tau[k], st.s[k], st.lambda[k] = poolMedian, spreadMedian*math.Exp(spreadLogSD*r.NormFloat64()), 1
		st.u[k] = make([]float64, len(f.groups))
		if f.scaleOnly {
			st.s[k] = 1
		} else if p.within > 0 {
			st.mu[k] = p.centre[k]
		}
	}
	for i := range st.odds {
		st.odds[i] = 1
	}
	for range p.vehicles {
		st.own = append(st.own, slices.Repeat([]float64{1}, len(p.names)))
	}
	most := 0
	for i := range st.val {
		st.val[i] = make([]float64, len(p.sites[i].slots))
		most = max(most, len(st.val[i]))
	}
	st.mean, st.sd = make([]float64, most), make([]float64, most)
	return st
}

// sweep makes one step of everything in turn: a joint one of all means and
// spreads with the flights' own values summed out, then Gibbs steps given them.
func (p *problem) sweep(st *state, m *mover, r *rand.Rand) {
	m.step(p, st, r)
	for i := range p.sites {
		p.pick(st, i, r)
	}
	for k := range p.factors {
		if !p.factors[k].scaleOnly {
			p.stepMean(st, k, r)
		}
		p.stepSpread(st, k, r)
	}
	p.stepOutcomes(st, r)
	bad := 0.0
	for _, b := range st.bad {
		if b {
			bad++
		}
	}
	st.wrong = distuv.Beta{Alpha: wrongAlpha + bad, Beta: wrongBeta + float64(len(st.bad)) - bad, Src: r}.Rand()
}

// chances returns the site's outcome chances under the state's odds.
func (p *problem) chances(st *state, s *site, out []float64) []float64 {
	out = out[:0]
	sum := 0.0
	for i, n := range s.names {
		v := s.prior[i] * st.odds[n]
		if s.vehicle >= 0 && st.own != nil {
			v *= st.own[s.vehicle][n]
		}
		out = append(out, v)
		sum += v
	}
	for i := range out {
		out[i] /= sum
	}
	return out
}

// columns fills the state's means and standard deviations of a site's columns.
func (p *problem) columns(st *state, s *site) (mean, sd []float64) {
	mean, sd = st.mean[:len(s.slots)], st.sd[:len(s.slots)]
	for c, k := range s.slots {
		mean[c], sd[c] = st.mu[k], s.ratio[c]*st.s[k]
		if g := s.group[c]; g >= 0 {
			mean[c] += st.u[k][g]
		}
	}
	return mean, sd
}

// weigh returns the log of the find's density at site i, wrong entries
// included, and in st.logs its parts: each outcome, then the wrong entry.
func (p *problem) weigh(st *state, i int) float64 {
	s := &p.sites[i]
	mean, sd := p.columns(st, s)
	st.chance = p.chances(st, s, st.chance)
	st.logs = st.logs[:0]
	for o := range s.at {
		v := math.Inf(-1)
		if s.at[o].ok {
			v = math.Log1p(-st.wrong) + math.Log(st.chance[o]) + s.at[o].logDensity(mean, sd)
		}
		st.logs = append(st.logs, v)
	}
	st.logs = append(st.logs, math.Log(st.wrong)+s.wrong)
	return floats.LogSumExp(st.logs)
}

// pick draws how the find of site i came about: which outcome with which
// values of the factors, or a wrong entry.
func (p *problem) pick(st *state, i int, r *rand.Rand) {
	s := &p.sites[i]
	st.logp[i] = p.weigh(st, i)
	u := r.Float64()
	for o, v := range st.logs[:len(s.at)] {
		if u -= math.Exp(v - st.logp[i]); u < 0 {
			mean, sd := p.columns(st, s)
			s.at[o].draw(mean, sd, st.val[i], r)
			st.bad[i], st.which[i], st.by[i] = false, s.names[o], &s.at[o]
			return
		}
	}
	st.bad[i] = true
}

// stepMean draws mu, u, lambda and tau of factor k given the values drawn and
// the spread. The tangents' slopes are densities of the means beside those that
// the values give.
func (p *problem) stepMean(st *state, k int, r *rand.Rand) {
	f := &p.factors[k]
	g := len(f.groups)
	t2 := st.tau[k] * st.tau[k]
	prec, sum := p.pulls(st, k)
	// mu with u summed out, then u given mu.
	a, b := st.lambda[k]/(f.biasScale()*f.biasScale())+prec[g], sum[g]
	for i := range g {
		w := prec[i] / (1 + prec[i]*t2)
		a += w
		if prec[i] > 0 {
			b += w * sum[i] / prec[i]
		}
	}
	if mu := b/a + r.NormFloat64()/math.Sqrt(a); p.holds(k, mu) {
		st.mu[k] = mu // else it stays: Metropolis's rule for a bound
	}
	for i := range g {
		a := 1/t2 + prec[i]
		if u := (sum[i]-prec[i]*st.mu[k])/a + r.NormFloat64()/math.Sqrt(a); p.holds(k, st.mu[k]+u) {
			st.u[k][i] = u
		}
	}
	m := st.mu[k] / f.biasScale()
	st.lambda[k] = distuv.Gamma{Alpha: (biasDegrees + 1) / 2, Beta: (biasDegrees + m*m) / 2, Src: r}.Rand()
	ss := floats.Dot(st.u[k], st.u[k])
	st.tau[k] = scale{now: st.tau[k], squares: ss, n: g, median: poolMedian, logSD: poolLogSD}.draw(r)
}

// pulls are the precision with which the values of factor k tell the mean of
// each of its groups (the last: of no group), and the sum of them so weighted.
func (p *problem) pulls(st *state, k int) (prec, sum []float64) {
	f := &p.factors[k]
	n := len(f.groups) + 1
	prec, sum = make([]float64, n), make([]float64, n)
	s2 := st.s[k] * st.s[k]
	for _, sl := range f.slots {
		if st.bad[sl.site] {
			continue
		}
		i := sl.group
		if i < 0 {
			i = n - 1
		}
		w := 1 / (sl.ratio * sl.ratio * s2)
		prec[i] += w
		sum[i] += w*st.val[sl.site][sl.col] + st.by[sl.site].slopeByMean(sl.col)
	}
	return prec, sum
}

// stepSpread draws s of factor k given the values drawn and their mean.
func (p *problem) stepSpread(st *state, k int, r *rand.Rand) {
	f := &p.factors[k]
	d := scale{now: st.s[k], median: f.spreadMedian(), logSD: spreadLogSD}
	for _, sl := range f.slots {
		if st.bad[sl.site] {
			continue
		}
		e := st.val[sl.site][sl.col] - st.mu[k]
		if sl.group >= 0 {
			e -= st.u[k][sl.group]
		}
		d.squares += e * e / (sl.ratio * sl.ratio)
		d.n++
	}
	d.more = func(logS float64) float64 {
		t := 0.0
		for _, sl := range f.slots {
			if !st.bad[sl.site] {
				t += st.by[sl.site].bendBySD(sl.col, logS+math.Log(sl.ratio))
			}
		}
		return t
	}
	st.s[k] = d.draw(r)
}

// scale is a standard deviation with a log-normal prior, given the sum of
// squares of n values it made and more of its log density by its logarithm.
type scale struct {
	now           float64 // its present value
	squares       float64
	n             int
	median, logSD float64
	more          func(logScale float64) float64 // nil: none
}

// logDensity is that of the logarithm of the scale, but for a constant.
func (s *scale) logDensity(l float64) float64 {
	d := (l - math.Log(s.median)) / s.logSD
	v := -float64(s.n)*l - 0.5*s.squares*math.Exp(-2*l) - 0.5*d*d
	if s.more != nil {
		v += s.more(l)
	}
	return v
}

// draw is slice sampling (Neal 2003, Annals of Statistics 31) of the logarithm
// of the scale, starting from its present value.
func (s scale) draw(r *rand.Rand) float64 {
	x := math.Log(s.now)
	y := s.logDensity(x) - r.ExpFloat64()
	lo := x - sliceWidth*r.Float64()
	hi := lo + sliceWidth
	for s.logDensity(lo) > y {
		lo -= sliceWidth
	}
	for s.logDensity(hi) > y {
		hi += sliceWidth
	}
	for {
		z := lo + (hi-lo)*r.Float64()
		if s.logDensity(z) >= y {
			return math.Exp(z)
		}
		if z < x {
			lo = z
		} else {
			hi = z
		}
	}
}
