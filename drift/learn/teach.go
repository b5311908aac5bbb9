package learn

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats"

	"windfall/drift/internal/stream"
)

// teacher is an entry of a flight, or its find, that taught a factor.
type teacher struct {
	Flight string  `json:"flight"`
	What   string  `json:"what"`  // landing time, bearing, find ...
	Share  float64 `json:"share"` // by which the flight's value would be wider without it, of the logarithm
}

// taughtByAll is what all entries of a kind taught a factor together.
type taughtByAll struct {
	What    string  `json:"what"`
	Flights int     `json:"flights"`
	Share   float64 `json:"share"` // summed
}

// taught fills what taught each factor most: for every flight and entry, by how
// much wider the flight's own value of the factor would be without it, under the
// belief that its runs were drawn with.
func (p *Posterior) taught(factors []Factor) {
	for i := range p.cases {
		f := p.problem.sites[i].main()
		if f == nil {
			continue
		}
		for _, e := range p.lessons(i, f) {
			for l := range p.cases[i].Links {
				name := p.problem.factors[p.problem.sites[i].slots[l]].Name
				at := slices.IndexFunc(factors, func(g Factor) bool { return g.Name == name })
				if gain := math.Log(e.without[l] / e.with[l]); gain > leastTaught {
					factors[at].Taught = append(factors[at].Taught, teacher{p.cases[i].Flight, e.what, gain})
				}
			}
		}
	}
	for i := range factors {
		slices.SortStableFunc(factors[i].Taught, func(a, b teacher) int { return cmp.Compare(b.Share, a.Share) })
		factors[i].Kinds = kindsOf(factors[i].Taught)
		factors[i].Taught = factors[i].Taught[:min(len(factors[i].Taught), mostTeachers)]
	}
}

// main are the runs by which what was logged of a site most likely came about.
func (s *site) main() (best *flight) {
	top := math.Inf(-1)
	for k := range s.flown {
		f := &s.flown[k]
		if f.len() == 0 || f.lost && !s.c.Lost {
			continue
		}
		if v := floats.LogSumExp(f.logW) + math.Log(s.prior[f.outcome]); v > top {
			top, best = v, f
		}
	}
	return best
}

// lesson is something logged of a case, and the standard deviations of the case's
// values with and without it, by column.
type lesson struct {
	what          string
	with, without []float64
}

// lessons are the find and the entries of case i.
func (p *Posterior) lessons(i int, f *flight) (out []lesson) {
	c := &p.cases[i]
	with := f.spreads(f.logW)
	for j, e := range c.Entries {
		logs := slices.Clone(f.logW)
		for run := range logs {
			logs[run] -= f.log[run*f.entries+j]
		}
		out = append(out, lesson{e.What, with, f.spreads(logs)})
	}
	if c.Lost {
		return out
	}
	without := f.sd
	for k := range p.problem.sites[i].flown {
		if g := &p.problem.sites[i].flown[k]; g.lost && g.outcome == f.outcome && g.len() > 0 {
			without = g.spreads(g.logW)
		}
	}
	return append(out, lesson{"find", with, without})
}

// spreads are the standard deviations of the runs' values, weighted by the
// exponentials of logs.
func (r *runs) spreads(logs []float64) []float64 {
	whole := floats.LogSumExp(logs)
	w := make([]float64, len(logs))
	for i, v := range logs {
		w[i] = math.Exp(v - whole)
	}
	_, cov := r.moments(w)
	out := make([]float64, r.width)
	for l := range out {
		out[l] = math.Sqrt(cov.At(l, l))
	}
	return out
}

// TaughtSays tells what a factor is now and what taught it: "streamer drag: 1.38 of the
// catalogue's (1.25 to 1.52), mostly from the landing times of flights 3, 5 and 8".
func (f *Factor) TaughtSays() string {
	if IsShape(f.Name) {
		return ""
	}
	now := fmt.Sprintf("%+.1f deg (%+.1f to %+.1f)", f.Mean, f.Mean-1.645*f.MeanSE, f.Mean+1.645*f.MeanSE)
	if f.Log {
		e := math.Exp(1.645 * f.MeanSE)
		of := "what is given"
		if f.Pool == "device" {
			of = "the catalogue's"
		}
		now = fmt.Sprintf("%.2f of %s (%.2f to %.2f)", f.Mean, of, f.Mean/e, f.Mean*e)
	}
	from := f.teachers()
	switch {
	case f.measured() > 0 && from == "":
		return f.Name + ": " + now + ", from what was measured on the ground"
	case f.measured() > 0:
		now += ", from what was measured on the ground too"
	case from == "":
		return f.Name + ": " + now + ", nothing has taught much of it"
	}
	return f.Name + ": " + now + ", mostly from " + from
}

// measured is how many measurements on the ground are behind the factor.
func (f *Factor) measured() (n int) {
	for _, m := range f.Members {
		n += m.Measured
	}
	return n
}

// kindsOf sums teachers up by kind, most first.
func kindsOf(all []teacher) (kinds []taughtByAll) {
	seen := map[[2]string]bool{}
	for _, t := range all {
		k := slices.IndexFunc(kinds, func(k taughtByAll) bool { return k.What == t.What })
		if k < 0 {
			k = len(kinds)
			kinds = append(kinds, taughtByAll{What: t.What})
		}
		kinds[k].Share += t.Share
		if key := [2]string{t.What, t.Flight}; !seen[key] {
			seen[key] = true
			kinds[k].Flights++
		}
	}
	slices.SortStableFunc(kinds, func(a, b taughtByAll) int { return cmp.Compare(b.Share, a.Share) })
	return kinds
}

// teachers names the kinds of entries that taught most of the factor, and of which
// flights: "the finds of 3 and 5, and the landing time of 8".
func (f *Factor) teachers() string {
	total, sum := 0.0, 0.0
	for _, k := range f.Kinds {
		total += k.Share
	}
	var out []string
	for _, k := range f.Kinds {
		if sum >= mostOf*total {
			break
		}
		sum += k.Share
		out = append(out, f.of(k))
	}
	return strings.Join(out, ", and ")
}

// of names the entries of a kind: by flight where those are few.
func (f *Factor) of(k taughtByAll) string {
	var who []string
	for _, t := range f.Taught {
		if t.What == k.What && !slices.Contains(who, t.Flight) {
			who = append(who, t.Flight)
		}
	}
	slices.Sort(who)
	last := len(who) - 1
	switch {
	case k.Flights == 1 && last == 0:
		return "the " + k.What + " of " + who[0]
	case k.Flights > len(who):
		return fmt.Sprintf("the %ss of %d flights", k.What, k.Flights)
	}
	return "the " + k.What + "s of " + strings.Join(who[:last], ", ") + " and " + who[last]
}

// next says what would teach most: by how much the map of a flight like the last
// would shrink on average if one more descent were timed, or one more flight found.
func (p *Posterior) next() string {
	last := -1
	for i := range p.cases {
		if len(p.problem.sites[i].slots) > 0 {
			last = i
		}
	}
	if last < 0 {
		return ""
	}
	c, s := &p.cases[last], &p.problem.sites[last]
	w := make([]float64, len(p.draws))
	for d := range w {
		w[d] = 1
	}
	f := p.forecast(last, w)
	area := func(f forecast) float64 {
		g := f.fly(c, c.Fly(), stream.Scores.New(p.seed, uint64(last)))
		if g == nil {
			return math.NaN()
		}
		return g.Area(0.9)
	}
	now, best, how := area(f), math.Inf(1), ""
	for l, k := range s.slots {
		factor := &p.problem.factors[k]
		if factor.scaleOnly {
			continue
		}
		run := s.ratio[l] * p.runToRun(k)
		se := math.Sqrt(max(f.sd[l]*f.sd[l]-run*run, 0))
		seen := math.Hypot(run, timedError) // what one more value tells of the mean
		g := forecast{f.mean, append([]float64(nil), f.sd...), f.chance, f.fewer}
		g.sd[l] = math.Hypot(run, se*seen/math.Hypot(se, seen))
		if share := area(g) / now; share < best {
			best, how = share, "find the next flight"
			if factor.Pool == "device" {
				how = "time one descent from opening to landing, or drop the " +
					strings.TrimSuffix(strings.TrimSuffix(factor.Name, dragSuffix), rateSuffix) + " by hand and time that"
			}
		}
	}
	if math.IsInf(best, 1) {
		return ""
	}
	say := fmt.Sprintf("what would teach most next: %s: the map of a flight like %s would become %.0f %% of its area", how,
		c.Flight, 100*min(best, 1))
	if best > muchSmaller {
		say += "; no one thing more does much now"
	}
	return say
}

// runToRun is the spread of factor k from run to run, in default spreads.
func (p *Posterior) runToRun(k int) (mean float64) {
	for d := range p.draws {
		mean += p.draws[d].s[k] / float64(len(p.draws))
	}
	return mean
}
