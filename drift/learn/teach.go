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

// Teacher is an entry of a flight, or its find, that taught a factor.
type Teacher struct {
	Flight string  `json:"flight"`
	What   string  `json:"what"`  // landing time, bearing, find ...
	Share  float64 `json:"share"` // by which the factor's error would be greater without it, of its logarithm
}

// taught fills what taught each factor most.
func (p *Posterior) taught(factors []Factor) {
	for i := range p.cases {
		for _, e := range p.lessons(i) {
			for k := range p.problem.factors {
				f := &p.problem.factors[k]
				if f.scaleOnly || !p.problem.sites[i].has(k) {
					continue
				}
				with, _ := p.meanError(k, i, nil)
				without, sure := p.meanError(k, i, e.w)
				gain := math.Log(without / with)
				if !sure || !(gain > leastTaught) {
					continue
				}
				at := slices.IndexFunc(factors, func(g Factor) bool { return g.Name == f.Name })
				factors[at].Taught = append(factors[at].Taught, Teacher{p.cases[i].Flight, e.what, gain})
			}
		}
	}
	for i := range factors {
		slices.SortStableFunc(factors[i].Taught, func(a, b Teacher) int { return cmp.Compare(b.Share, a.Share) })
		factors[i].Taught = factors[i].Taught[:min(len(factors[i].Taught), mostTeachers)]
	}
}

// taughtWithout is something logged of a case, and the weights of the draws
// without it.
type taughtWithout struct {
	what string
	w    []float64
}

// lessons are the find and the entries of case i.
func (p *Posterior) lessons(i int) (out []taughtWithout) {
	c := &p.cases[i]
	if len(c.Entries) == 0 {
		return []taughtWithout{{"find", p.leaveOut(i)}}
	}
	if p.effective[i] == 0 {
		return nil // nothing explains it
	}
	var st state
	p.problem.makeRoom(&st)
	with := make([]float64, teachDraws)
	without := make([][]float64, len(c.Entries)+1)
	for d := range teachDraws {
		st.take(p.teachDraw(d))
		with[d] = p.problem.logRuns(&st, i, nil, true)
		for j := range c.Entries {
			without[j] = append(without[j], p.problem.logRuns(&st, i, func(f *flight, run int) float64 {
				return f.log[run*f.entries+j]
			}, true))
		}
		last := len(c.Entries)
		without[last] = append(without[last], p.problem.logRuns(&st, i, nil, false))
	}
	for j, logs := range without {
		what := "find"
		if j < len(c.Entries) {
			what = c.Entries[j].What
		} else if c.Lost {
			break
		}
		floats.Sub(logs, with)
		top := floats.Max(logs)
		for d, v := range logs {
			logs[d] = math.Exp(v - top)
		}
		out = append(out, taughtWithout{what, logs})
	}
	return out
}

// teachDraw is draw d of the few by which lessons are weighed.
func (p *Posterior) teachDraw(d int) *drawn { return &p.draws[d*len(p.draws)/teachDraws] }

// logRuns is the log of the likelihood of site i by its runs; find: the runs that
// land on it count too.
func (p *problem) logRuns(st *state, i int, without func(f *flight, run int) float64, find bool) float64 {
	s := &p.sites[i]
	w, top := p.runWeights(st, i, without)
	sum, at := 0.0, 0
	for k := range s.flown {
		for range s.flown[k].len() {
			if find || s.flown[k].lost {
				sum += w[at]
			}
			at++
		}
	}
	return top + math.Log(max(sum, 1e-300))
}

// meanError is the standard deviation of factor k's mean where case i has it, over
// draws weighted by w; nil: all alike. sure is false where too few of them count.
func (p *Posterior) meanError(k, i int, w []float64) (sd float64, sure bool) {
	s := &p.problem.sites[i]
	g := s.group[slices.Index(s.slots, k)]
	n := len(w)
	if n == 0 {
		n = len(p.draws)
	}
	var sum, mean, sq, squares float64
	for d := range n {
		dr, v := &p.draws[d*len(p.draws)/n], 1.0
		if w != nil {
			v = w[d]
		}
		x := dr.mu[k]
		if g >= 0 {
			x += dr.u[k][g]
		}
		sum, squares = sum+v, squares+v*v
		mean += v * x
		sq += v * x * x
	}
	mean /= sum
	return math.Sqrt(max(sq/sum-mean*mean, 1e-12)), sum*sum/squares > 8
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
		of := "as given"
		if f.Pool == "device" {
			of = "the catalogue's"
		}
		now = fmt.Sprintf("%.2f of %s (%.2f to %.2f)", f.Mean, of, f.Mean/e, f.Mean*e)
	}
	share, flights := map[string]float64{}, map[string][]string{}
	best := ""
	for _, t := range f.Taught {
		share[t.What] += t.Share
		if !slices.Contains(flights[t.What], t.Flight) {
			flights[t.What] = append(flights[t.What], t.Flight)
		}
		if best == "" || share[t.What] > share[best] {
			best = t.What
		}
	}
	if best == "" {
		return f.Name + ": " + now + ", nothing has taught much of it"
	}
	who := flights[best]
	slices.Sort(who)
	if len(who) == 1 {
		return fmt.Sprintf("%s: %s, mostly from the %s of %s", f.Name, now, best, who[0])
	}
	last := len(who) - 1
	return fmt.Sprintf("%s: %s, mostly from the %ss of %s and %s", f.Name, now, best, strings.Join(who[:last], ", "), who[last])
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
	now, best, say := area(f), 0.95, "what is known already is most of what can be: more flights help little now"
	for l, k := range s.slots {
		factor := &p.problem.factors[k]
		if factor.scaleOnly || p.withheld != nil && p.withheld[k] {
			continue
		}
		se, _ := p.meanError(k, last, nil)
		g := forecast{f.mean, append([]float64(nil), f.sd...), f.chance}
		run := math.Sqrt(max(f.sd[l]*f.sd[l]-se*se, 0))
		seen := math.Hypot(run, timedError) // what one more value tells of the mean
		g.sd[l] = math.Hypot(run, se*seen/math.Hypot(se, seen))
		if share := area(g) / now; share < best {
			best = share
			how := "find the next flight"
			if factor.Pool == "device" {
				how = "time one descent from opening to landing, or drop the " +
					strings.TrimSuffix(strings.TrimSuffix(factor.Name, dragSuffix), rateSuffix) + " by hand and time that"
			}
			say = fmt.Sprintf("%s: the map of a flight like %s would become %.0f %% of its area", how, c.Flight, 100*share)
		}
	}
	return "what would teach most next: " + say
}
