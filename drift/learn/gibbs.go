package learn

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/distuv"
)

// holds tells whether factor k's mean lies where the points are believed.
func (p *problem) holds(k int, mu float64) bool {
	return p.within == 0 || math.Abs(mu-p.centre[k]) <= p.within
}

// widest is the greatest spread of factor k that the points are believed for. With
// one far greater than that of the runs behind them the few farthest runs decide,
// and what they say by chance adds up over a logbook.
func (p *problem) widest(k int) float64 {
	switch {
	case p.within == 0:
		return math.Inf(1)
	case len(p.sites) > manyCases: // they know it well, and may go on from look to look
		return widerMany * p.spread[k]
	}
	return wider * p.spread[k]
}

// state is one point of the posterior.
type state struct {
	mu, tau, s, lambda []float64   // by factor
	u                  [][]float64 // by factor, by group
	odds               []float64   // by outcome name: multiplies its chance before learning
	own                [][]float64 // by vehicle, by outcome name: multiplies it once more; nil: does not
	wrong              float64     // chance of a wrong entry

	bad   []bool      // by site: its find is taken as wrong in this draw
	told  []bool      // by site: val and which are drawn
	which []int       // by site: outcome name in this draw
	val   [][]float64 // by site: its factors' values in this draw
	gauge []float64   // by gauge: the value it measured

	now, next        []weighing // by site
	mean, sd, chance []float64  // scratch
}

func (p *problem) start(r *rand.Rand) *state {
	n := len(p.factors)
	st := &state{mu: make([]float64, n), tau: make([]float64, n), s: make([]float64, n), lambda: make([]float64, n),
		u:    make([][]float64, n),
		odds: make([]float64, len(p.names)), wrong: wrongAlpha / (wrongAlpha + wrongBeta),
		bad: make([]bool, len(p.sites)), told: make([]bool, len(p.sites)),
		which: make([]int, len(p.sites)), val: make([][]float64, len(p.sites)), gauge: make([]float64, len(p.gauges))}
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
	p.makeRoom(st)
	return st
}

// weighing is what a state makes of the log of one site.
type weighing struct {
	log    float64   // of its density, wrong finds included
	ways   []float64 // log of each way's part; then that of a wrong find of which nothing else is told
	points []float64 // weights of the points of each way in turn
	pulls  []pull    // of each way
}

// makeRoom makes the state's scratch.
func (p *problem) makeRoom(st *state) {
	width := 0
	st.now, st.next = make([]weighing, len(p.sites)), make([]weighing, len(p.sites))
	for i := range p.sites {
		s, n := &p.sites[i], 0
		for _, w := range s.ways {
			n += w.len()
		}
		if st.val != nil {
			st.val[i] = make([]float64, len(s.slots))
		}
		width = max(width, len(s.slots))
		for _, w := range [2]*weighing{&st.now[i], &st.next[i]} {
			w.points, w.pulls = make([]float64, n), make([]pull, len(s.ways))
		}
	}
	st.mean, st.sd = make([]float64, width), make([]float64, width)
}

// take puts a draw into the state, for weighing.
func (st *state) take(d *drawn) {
	st.mu, st.s, st.u, st.odds, st.own, st.wrong = d.mu, d.s, d.u, d.odds, d.own, d.wrong
}

// sweep makes one step of everything in turn: a joint one of all means and
// spreads with the flights' own values summed out, then Gibbs steps given them.
func (p *problem) sweep(st *state, m *mover, r *rand.Rand) {
	for i := range p.sites {
		p.weigh(st, i, &st.now[i])
	}
	m.step(p, st, r)
	for i := range p.sites {
		p.pick(st, i, r)
	}
	p.readGauges(st, r)
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

// weigh fills w with what the state makes of the log of site i.
func (p *problem) weigh(st *state, i int, w *weighing) {
	s := &p.sites[i]
	mean, sd := p.columns(st, s)
	st.chance = p.chances(st, s, st.chance)
	w.ways = w.ways[:0]
	at := 0
	for k := range s.ways {
		way := &s.ways[k]
		v := way.weigh(mean, sd, &w.pulls[k], w.points[at:at+way.len()])
		w.ways = append(w.ways, v+math.Log(st.chance[way.outcome])+p.rightness(st, s, way.lost))
		at += way.len()
	}
	if !s.c.Lost && len(s.c.Entries) == 0 {
		w.ways = append(w.ways, p.rightness(st, s, true))
	}
	w.log = 0
	if len(w.ways) > 0 {
		w.log = floats.LogSumExp(w.ways)
	}
}

// rightness is the log of the chance that the find is right, or of the density
// that it has as a wrong one.
func (p *problem) rightness(st *state, s *site, lost bool) float64 {
	switch {
	case s.c.Lost:
		return 0
	case lost:
		return math.Log(st.wrong) + s.wrong
	}
	return math.Log1p(-st.wrong)
}

// pick draws how what was logged at site i came about: which outcome with which
// values of the factors, the find right or wrong.
func (p *problem) pick(st *state, i int, r *rand.Rand) {
	s, now := &p.sites[i], &st.now[i]
	st.told[i], st.bad[i] = false, !s.c.Lost
	u := r.Float64()
	at := 0
	for k := range s.ways {
		way := &s.ways[k]
		weights := now.points[at : at+way.len()]
		at += way.len()
		if u -= math.Exp(now.ways[k] - now.log); u < 0 {
			st.told[i], st.bad[i] = true, way.lost && !s.c.Lost
			st.which[i] = s.names[way.outcome]
			way.draw(choose(weights, r), &now.pulls[k], st.val[i], r)
			return
		}
	}
}

// choose draws an index by weight.
func choose(weights []float64, r *rand.Rand) int {
	u := r.Float64() * floats.Sum(weights)
	last := 0
	for i, w := range weights {
		if w == 0 {
			continue
		}
		last = i
		if u -= w; u < 0 {
			break
		}
	}
	return last
}

// readGauges draws the values that were measured without a flight.
func (p *problem) readGauges(st *state, r *rand.Rand) {
	for i, g := range p.gauges {
		mean, sd := p.centreOf(st, g.factor, g.group), st.s[g.factor]
		prec := 1/(sd*sd) + 1/(g.sd*g.sd)
		st.gauge[i] = (mean/(sd*sd)+g.value/(g.sd*g.sd))/prec + r.NormFloat64()/math.Sqrt(prec)
	}
}

// centreOf is the mean of factor k in a group; -1: none.
func (p *problem) centreOf(st *state, k, group int) float64 {
	if group < 0 {
		return st.mu[k]
	}
	return st.mu[k] + st.u[k][group]
}

// logGauges is the log density of what was measured without a flight.
func (p *problem) logGauges(st *state) (sum float64) {
	for _, g := range p.gauges {
		sd := math.Hypot(g.sd, st.s[g.factor])
		d := (g.value - p.centreOf(st, g.factor, g.group)) / sd
		sum -= 0.5*d*d + math.Log(sd)
	}
	return sum
}

// stepMean draws mu, u, lambda and tau of factor k given the values drawn and
// the spread.
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
	add := func(group int, value, sd float64) {
		i := group
		if i < 0 {
			i = n - 1
		}
		prec[i] += 1 / (sd * sd)
		sum[i] += value / (sd * sd)
	}
	for _, sl := range f.slots {
		if st.told[sl.site] {
			add(sl.group, st.val[sl.site][sl.col], sl.ratio*st.s[k])
		}
	}
	for i, g := range p.gauges {
		if g.factor == k {
			add(g.group, st.gauge[i], st.s[k])
		}
	}
	return prec, sum
}

// stepSpread draws s of factor k given the values drawn and their mean.
func (p *problem) stepSpread(st *state, k int, r *rand.Rand) {
	f := &p.factors[k]
	d := scale{now: st.s[k], median: f.spreadMedian(), logSD: spreadLogSD, most: p.widest(k)}
	add := func(group int, value, ratio float64) {
		e := (value - p.centreOf(st, k, group)) / ratio
		d.squares += e * e
		d.n++
	}
	for _, sl := range f.slots {
		if st.told[sl.site] {
			add(sl.group, st.val[sl.site][sl.col], sl.ratio)
		}
	}
	for i, g := range p.gauges {
		if g.factor == k {
			add(g.group, st.gauge[i], 1)
		}
	}
	st.s[k] = d.draw(r)
}

// scale is a standard deviation with a log-normal prior, given the sum of
// squares of n values it made.
type scale struct {
	now           float64 // its present value
	squares       float64
	n             int
	median, logSD float64
	most          float64 // it has no more; 0: any
}

// logDensity is that of the logarithm of the scale, but for a constant.
func (s *scale) logDensity(l float64) float64 {
	if s.most > 0 && l > math.Log(s.most) {
		return math.Inf(-1)
	}
	d := (l - math.Log(s.median)) / s.logSD
	return -float64(s.n)*l - 0.5*s.squares*math.Exp(-2*l) - 0.5*d*d
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
