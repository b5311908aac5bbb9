package learn

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"windfall/drift/internal/stream"
)

// watch counts the effective runs of every case under the posterior, and how
// likely each outcome is, and returns how many cases must be drawn anew.
func (p *Posterior) watch() (few int) {
	var st state
	p.problem.makeRoom(&st)
	for i := range p.cases {
		p.effective[i] = 0
		p.likely[i] = make([]float64, len(p.cases[i].Chances))
		for k := range watchDraws {
			st.take(&p.draws[k*len(p.draws)/watchDraws])
			p.count(&st, i)
		}
		if p.few(i) && len(p.problem.sites[i].ways) > 0 { // one that nothing explains would never end it
			few++
		}
	}
	return few
}

// count adds one draw's share to the effective number of runs (Kish 1965) behind
// the likelihood of case i, and to the chances of its outcomes.
func (p *Posterior) count(st *state, i int) {
	w := p.problem.runWeights(st, i)
	sum := floats.Sum(w)
	if !(sum > 0) {
		return
	}
	p.effective[i] += sum * sum / floats.Dot(w, w) / watchDraws
	at := 0
	for k := range p.problem.sites[i].flown {
		f := &p.problem.sites[i].flown[k]
		p.likely[i][f.outcome] += floats.Sum(w[at:at+f.len()]) / sum / watchDraws
		at += f.len()
	}
}

// few tells whether case i has too few effective runs, or too few runs of an
// outcome that it turned out to be likely of.
func (p *Posterior) few(i int) bool {
	if p.likely[i] != nil {
		for _, f := range p.problem.sites[i].flown {
			if f.rare && p.likely[i][f.outcome] > likelyNow {
				return true
			}
		}
	}
	return p.effective[i] < min(leastEffective, float64(runsOf(len(p.cases)))/10)
}

// runsOf is how many runs of a likely outcome each of so many cases gets.
func runsOf(cases int) int { return min(max(allRuns/cases, leastRuns), mostRuns) }

// rareRunsOf is the least number of runs that any other gets.
func rareRunsOf(cases int) int {
	if cases > manyCases {
		return leastRare / 2
	}
	return leastRare
}

// pointsOf is how many points they become.
func pointsOf(cases int) int { return min(max(allPoints/cases, leastPoints), mostPoints) }

// runWeights are the weights of all runs of site i, those of each flown in turn,
// over the greatest.
func (p *problem) runWeights(st *state, i int) []float64 {
	s := &p.sites[i]
	mean, sd := p.columns(st, s)
	st.chance = p.chances(st, s, st.chance)
	var logs []float64
	for k := range s.flown {
		f := &s.flown[k]
		out := make([]float64, f.len())
		f.weigh(mean, sd, out)
		for j := range out {
			out[j] += math.Log(st.chance[f.outcome]) + p.rightness(st, s, f.lost)
		}
		logs = append(logs, out...)
	}
	if len(logs) == 0 {
		return nil
	}
	top := floats.Max(logs)
	for j := range logs {
		logs[j] = math.Exp(logs[j] - top)
	}
	return logs
}

// look draws the runs of every case that has too few effective ones around what
// the last look has learned.
func (p *Posterior) look(ctx context.Context, look int, o Options) error {
	var stale []int
	for i := range p.cases {
		if p.few(i) {
			stale = append(stale, i)
		}
	}
	p.problem.within = farthest
	return each(ctx, len(stale), o.Workers, func(k int) error {
		i := stale[k]
		p.fly(i, look, o.Seed)
		return nil
	}, func(done int) {
		if o.Progress != nil {
			o.Progress(fmt.Sprintf("flying what was logged, look %d", look+1), done, len(stale))
		}
	})
}

// fly draws the runs of every way in which what was logged of case i may have
// come about, and makes its points of them.
func (p *Posterior) fly(i, look int, seed uint64) {
	c, s := &p.cases[i], &p.problem.sites[i]
	s.ways, s.flown, s.few = nil, nil, nil
	q := p.belief(i, c)
	n := runsOf(len(p.cases))
	for o, ch := range c.Chances {
		if ch.P <= 0 || c.Outcome >= 0 && c.Outcome != o {
			continue
		}
		likely := ch.P >= likelyChance || c.Outcome == o || p.likely[i] != nil && p.likely[i][o] > likelyNow
		if likely {
			p.shape[i][o] = nil // anew where the factors now are
		}
		h, ok := newAim(c, o, q, &p.shape[i][o])
		if !ok {
			continue
		}
		count, few := n, pointsOf(len(p.cases))
		if !likely {
			count, few = max(n/rareShare, rareRunsOf(len(p.cases))), few/2
		}
		add := func(lost bool, kind uint64, count int) {
			r := stream.Tangents.New(seed, uint64(look)<<48|kind<<47|uint64(o)<<40|uint64(i))
			s.flown = append(s.flown, flight{h.runs(count, !lost, r), o, lost, !likely})
			s.few = append(s.few, few)
		}
		switch {
		case c.Lost:
			add(true, 1, count)
			continue
		case len(c.Entries) > 0: // should the find be wrong
			add(true, 1, max(count/2, rareRunsOf(len(p.cases))))
		}
		add(false, 0, count)
	}
	p.problem.smooth(s)
}

// smooth makes the ways of a site of its runs; those of next to no weight are
// left out.
func (p *problem) smooth(s *site) {
	weight := make([]float64, len(s.flown))
	top := math.Inf(-1)
	for k := range s.flown {
		f := &s.flown[k]
		weight[k] = math.Inf(-1)
		if f.len() == 0 {
			continue
		}
		weight[k] = floats.LogSumExp(f.logW) + math.Log(s.prior[f.outcome])
		if f.lost && !s.c.Lost {
			weight[k] += s.wrong + math.Log(wrongAlpha/(wrongAlpha+wrongBeta))
		}
		top = max(top, weight[k])
	}
	for k := range s.flown {
		if f := &s.flown[k]; weight[k] > top-wayLeast {
			for _, pts := range f.smoothed(s.few[k]) {
				s.ways = append(s.ways, way{pts, f.outcome, f.lost})
			}
		}
	}
}

// belief is what is thought of case i's inputs so far: before the first look,
// the prior; a little wider than that, so that no factor under trial goes beyond
// the runs drawn with it.
func (p *Posterior) belief(i int, c *Case) belief {
	q := belief{mean: make([]float64, c.Dim), sd: make([]float64, c.Dim)}
	for j := range q.sd {
		q.sd[j] = 1
	}
	s := &p.problem.sites[i]
	for l, link := range c.Links {
		f := &p.problem.factors[s.slots[l]]
		mean, sd := 0.0, f.priorSD(link.ratio())
		if len(p.draws) > 0 {
			mean, sd = p.predictive(i, l, nil)
		}
		q.mean[link.Coord], q.sd[link.Coord] = mean/link.ratio(), beliefWiden*sd/link.ratio()
	}
	return q
}

// predictive returns mean and standard deviation of the value of column l of
// case i in a new flight like it, over the draws weighted by w (nil: equal).
func (p *Posterior) predictive(i, l int, w []float64) (mean, sd float64) {
	s := &p.problem.sites[i]
	return p.predict(s.slots[l], s.group[l], s.ratio[l], w)
}

// predict is the predictive of factor k in a group (-1: one never seen) for a
// flight whose own spread is ratio times the default's: the normal distribution
// that has its 5 % and 95 % points. Its tails may be too heavy for moments.
func (p *Posterior) predict(k, group int, ratio float64, w []float64) (mean, sd float64) {
	type value struct{ x, w float64 }
	all := make([]value, 0, 2*len(p.draws))
	r := stream.Forecasts.New(p.seed, uint64(k))
	tot := 0.0
	for d := range p.draws {
		dr := &p.draws[d]
		wt := 1.0
		if w != nil {
			wt = w[d]
		}
		x, v := dr.mu[k], dr.s[k]*dr.s[k]*ratio*ratio
		if group >= 0 {
			x += dr.u[k][group]
		} else if !p.problem.factors[k].scaleOnly {
			v += dr.tau[k] * dr.tau[k]
		}
		e := math.Sqrt(v) * r.NormFloat64()
		all = append(all, value{x - e, wt}, value{x + e, wt})
		tot += 2 * wt
	}
	slices.SortFunc(all, func(a, b value) int { return cmp.Compare(a.x, b.x) })
	var low, high, sum float64
	for i, v := range all {
		before := sum / tot
		sum += v.w
		if before < 0.05 {
			low = v.x
		}
		if before < 0.95 {
			high = all[i].x
		}
	}
	const z95 = 1.6448536269514722 // standard normal quantile of 0.95
	return (low + high) / 2, (high - low) / (2 * z95)
}
