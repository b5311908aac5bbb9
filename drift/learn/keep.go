package learn

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
)

// weighFactors decides factor by factor what is applied. Every flight is left out
// in turn; a factor under whose learning the logs of flights left out are less
// likely, by more than the scatter between them makes of itself, than with it as it
// was before, all others learned, is withheld; leastLoss is lost in the runs' own
// scatter.
func (p *Posterior) weighFactors(ctx context.Context, o Options, factors []Factor) error {
	gains := make([][]float64, len(p.cases)) // by case and factor
	err := each(ctx, len(p.cases), o.Workers, func(i int) error {
		gains[i] = p.gains(i)
		return nil
	}, func(int) {})
	if err != nil {
		return err
	}
	p.withheld = make([]bool, len(p.problem.factors))
	for k := range p.withheld {
		var g []float64
		for i := range gains {
			if p.problem.sites[i].has(k) {
				g = append(g, gains[i][k])
			}
		}
		if len(g) < 2 { // of one flight none is left to learn from
			continue
		}
		mean, sd := stat.MeanStdDev(g, nil)
		p.withheld[k] = mean+sd/math.Sqrt(float64(len(g))) < -leastLoss
		at := slices.IndexFunc(factors, func(f Factor) bool { return f.Name == p.problem.factors[k].Name })
		factors[at].Gain, factors[at].Withheld = mean, p.withheld[k]
	}
	return nil
}

// has tells whether factor k is one of the site's.
func (s *site) has(k int) bool {
	return slices.Contains(s.slots, k)
}

// gains are, by factor, how much the log density of what was logged of case i
// gains by what the others teach of it.
func (p *Posterior) gains(i int) []float64 {
	s := &p.problem.sites[i]
	out := make([]float64, len(p.problem.factors))
	f := p.forecastOf(i, p.leaveOut(i))
	was := p.untaught(s)
	base := p.problem.logUnder(s, f)
	for k := range out {
		if !s.has(k) {
			continue
		}
		g := forecast{append([]float64(nil), f.mean...), append([]float64(nil), f.sd...), f.chance, f.fewer}
		for l, slot := range s.slots {
			if slot == k {
				g.mean[l], g.sd[l] = was.mean[l], was.sd[l]
			}
		}
		out[k] = base - p.problem.logUnder(s, g)
	}
	return out
}

// logUnder is the log density of what was logged of a site under a forecast.
func (p *problem) logUnder(s *site, f forecast) float64 {
	st := state{wrong: wrongAlpha / (wrongAlpha + wrongBeta)}
	var logs []float64
	for k := range s.ways {
		w := &s.ways[k]
		v := w.logDensity(f.mean, f.sd) + math.Log(f.chance[w.outcome]) + p.rightness(&st, s, w.lost)
		logs = append(logs, v)
	}
	if !s.c.Lost && len(s.c.Entries) == 0 {
		logs = append(logs, p.rightness(&st, s, true))
	}
	if len(logs) == 0 {
		return 0
	}
	return floats.LogSumExp(logs)
}

// ownLearning is what the others teach of a flight that is still looked for: its map
// counts what was seen of it once, not in the learning as well.
type ownLearning struct {
	Flight  string             `json:"flight"`
	Factors []ownFactor        `json:"factors"`
	Odds    map[string]float64 `json:"odds"` // as Outcome's
}

// ownFactor is a factor of one flight, without what that flight teaches.
type ownFactor struct {
	Name   string  `json:"name"`
	Member string  `json:"member,omitempty"` // the vehicle or device
	Mean   float64 `json:"mean"`
	SD     float64 `json:"sd"` // of the flight, for the default's spread from run to run
}

// owns are those of all flights never found.
func (p *Posterior) owns() (out []ownLearning) {
	for i := range p.cases {
		c, s := &p.cases[i], &p.problem.sites[i]
		if !c.Lost {
			continue
		}
		w := p.leaveOut(i)
		own := ownLearning{Flight: c.Flight, Odds: map[string]float64{}}
		for l, k := range s.slots {
			if f := &p.problem.factors[k]; l <= len(c.Links) { // one of the shape's columns is enough
				m, sd := p.predict(k, s.group[l], 1, w)
				own.Factors = append(own.Factors, ownFactor{f.Name, member(c, l), f.value(m), sd * f.SD})
			}
		}
		chance := p.forecastOf(i, w).chance
		for j, n := range s.names {
			own.Odds[p.problem.names[n]] = chance[j] / max(s.prior[j], 1e-12)
		}
		out = append(out, own)
	}
	return out
}

// member is the group of a case's column l.
func member(c *Case, l int) string {
	if l < len(c.Links) {
		return c.Links[l].Group
	}
	return ""
}

// own returns what is known of a factor for a flight that was learned from and
// never found; nil for others.
func (r *Result) own(flight, factor, member string) *Member {
	for _, o := range r.Lost {
		for _, f := range o.Factors {
			if o.Flight == flight && f.Name == factor && f.Member == member {
				return &Member{Mean: f.Mean, SD: f.SD}
			}
		}
	}
	return nil
}

// withheldSays names the factors that are left as they were.
func (r *Result) withheldSays() (out []string) {
	var names, dropped []string
	for i := range r.Factors {
		f := &r.Factors[i]
		if !f.Withheld {
			continue
		}
		names = append(names, fmt.Sprintf("%s (by %.2f a flight)", f.Name, -f.Gain))
		if f.measured() > 0 {
			dropped = append(dropped, f.Name)
		}
	}
	if len(names) == 0 {
		return nil
	}
	out = append(out, "left as before learning, since flights left out are then more likely: "+strings.Join(names, ", "))
	if len(dropped) > 0 {
		out = append(out, "what was measured on the ground counts all the same: "+strings.Join(dropped, ", "))
	}
	return out
}
