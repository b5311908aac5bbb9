package learn

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/floats"

	"windfall/drift/evidence"
)

// Observer is how a person's bearings, or times, were off on flights that were
// found, and how those of the next flight are taken: with the bias removed and the
// error scaled. It says something of eyes, watches and where people stand, not of
// them.
type Observer struct {
	By     string  `json:"by"`
	What   string  `json:"what"` // bearing or time
	N      int     `json:"sightings"`
	Bias   float64 `json:"bias"` // degrees clockwise, or s late
	BiasSE float64 `json:"bias_se"`
	Scale  float64 `json:"scale"` // of the error said or assumed, the bias' own included
}

// The habits of observers, choices of ours: a person's bias is normal about that of
// all, which is normal about none; their error is log-normal about what is said.
// Persons with fewer than enoughSightings are taken as anybody.
const (
	enoughSightings = 4
	bearingHabit    = 3.0 // degrees, sd of a person's bias and of that of all
	timeHabit       = 0.5 // s: reaction, and when a landing counts as one
	scaleHabit      = 0.4 // log sd of a person's error over what is said
)

// off is one sighting of a found flight: how far it was off, and how well that is
// known, both over the error that was said.
type off struct {
	by, what string
	mean, sd float64
}

// observers learns people's habits from what they said of flights that were found.
func (p *Posterior) observers() (out []Observer) {
	all := map[string][]off{}
	var keys []string
	for i := range p.cases {
		for _, o := range p.offs(i) {
			key := o.by + "\x00" + o.what
			if all[key] == nil {
				keys = append(keys, key)
			}
			all[key] = append(all[key], o)
		}
	}
	sort.Strings(keys)
	for what, habit := range map[string]float64{"bearing": bearingHabit, "time": timeHabit} {
		common := 0.0 // the bias of all: a few rounds of its conditional mean
		for range 10 {
			sum, n := 0.0, 0.0
			for _, key := range keys {
				if all[key][0].what == what {
					b, se, _ := habitOf(all[key], common, habit)
					w := 1 / (habit*habit + se*se)
					sum, n = sum+w*b, n+w
				}
			}
			common = sum / (n + 1/(habit*habit))
		}
		for _, key := range keys {
			o := all[key]
			if o[0].what != what || len(o) < enoughSightings {
				continue
			}
			bias, se, sd := habitOf(o, common, habit)
			out = append(out, Observer{o[0].by, what, len(o), bias, se, math.Hypot(sd, se) / said[what]})
		}
	}
	slices.SortFunc(out, func(a, b Observer) int {
		if a.By != b.By {
			return cmp.Compare(a.By, b.By)
		}
		return cmp.Compare(a.What, b.What)
	})
	return out
}

// said is the error assumed where nobody says: package evidence's.
var said = map[string]float64{"bearing": 3, "time": 1}

// habitOf is the posterior mean of a person's bias, its error, and the person's
// own error, over a grid of the latter; the bias is normal given that.
func habitOf(seen []off, common, habit float64) (bias, se, sd float64) {
	const steps = 31
	usual := said[seen[0].what]
	var logs, mean, variance, own []float64
	for i := range steps {
		z := 3 * (2*float64(i)/(steps-1) - 1)
		s := usual * math.Exp(scaleHabit*z)
		prec, sum, log := 1/(habit*habit), common/(habit*habit), -0.5*z*z
		for _, o := range seen {
			w := 1 / (s*s + o.sd*o.sd)
			prec, sum = prec+w, sum+w*o.mean
			log += 0.5*math.Log(w) - 0.5*w*o.mean*o.mean
		}
		log += 0.5*sum*sum/prec - 0.5*math.Log(prec)
		logs, mean = append(logs, log), append(mean, sum/prec)
		variance, own = append(variance, 1/prec), append(own, s)
	}
	whole := floats.LogSumExp(logs)
	square := 0.0
	for i, l := range logs {
		w := math.Exp(l - whole)
		bias += w * mean[i]
		square += w * (mean[i]*mean[i] + variance[i])
		sd += w * own[i]
	}
	return bias, math.Sqrt(max(square-bias*bias, 0)), sd
}

// offs are how far the bearings and times of a found flight were off, without what
// each itself says of the flight; mistakes are left out.
func (p *Posterior) offs(i int) (out []off) {
	c := &p.cases[i]
	f := p.problem.sites[i].main()
	if c.Lost || f == nil {
		return nil
	}
	now := p.forecastOf(i, p.leaveOut(i)) // what the others teach of it, not what was believed when its runs were drawn
	under := make([]float64, f.len())
	f.weigh(now.mean, now.sd, under)
	for j, e := range c.Entries {
		what := ""
		switch {
		case e.By == "":
		case e.What == "bearing":
			what = "bearing"
		case len(e.What) > 5 && e.What[len(e.What)-5:] == " time":
			what = "time"
		}
		if what == "" {
			continue
		}
		logs := slices.Clone(under)
		for run := range logs {
			logs[run] -= f.log[run*f.entries+j]
		}
		whole := floats.LogSumExp(logs)
		var mean, square float64
		for run, l := range logs {
			w, d := math.Exp(l-whole), f.off[run*f.entries+j]
			mean += w * d
			square += w * d * d
		}
		sd := math.Sqrt(max(square-mean*mean, 0))
		if math.IsNaN(mean) || math.Abs(mean) > 6*math.Hypot(sd, said[what]) {
			continue
		}
		out = append(out, off{e.By, what, mean, sd})
	}
	return out
}

// Correct puts what is known of their observers into sightings, and says for whom.
func (r *Result) Correct(seen []evidence.Sighting) (used []string) {
	for i := range seen {
		what := ""
		switch k := seen[i].Kind.(type) {
		case evidence.Bearing:
			if !k.Radio {
				what = "bearing"
			}
		case evidence.Timing:
			if k.Since == "" {
				what = "time"
			}
		}
		for _, o := range r.Observers {
			if o.By != seen[i].By || o.What != what {
				continue
			}
			seen[i].Habit = &evidence.Habit{Bias: o.Bias, Scale: o.Scale}
			if say := o.Says(); !slices.Contains(used, say) {
				used = append(used, say)
			}
		}
	}
	return used
}

// Says tells what is known of an observer in a sentence.
func (o *Observer) Says() string {
	amount, way := fmt.Sprintf("%.1f deg", math.Abs(o.Bias)), "to the right of"
	if o.Bias < 0 {
		way = "to the left of"
	}
	sd := fmt.Sprintf("%.1f deg", o.Scale*said[o.What])
	if o.What == "time" {
		amount, way, sd = fmt.Sprintf("%.1f s", math.Abs(o.Bias)), "after", fmt.Sprintf("%.1f s", o.Scale*said[o.What])
		if o.Bias < 0 {
			way = "before"
		}
	}
	return fmt.Sprintf("%ss by %s (%d of flights that were found): on average %s %s what was, allowed for; "+
		"good to %s", o.What, o.By, o.N, amount, way, sd)
}
