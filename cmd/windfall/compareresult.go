package main

import (
	"fmt"
	"math"
	"strings"

	"windfall/drift/rules"
	"windfall/geo/chance"
	"windfall/geo/grid"
)

// compareResult is the JSON of compare, rows best first.
type compareResult struct {
	Flight    string          `json:"flight"`
	Seed      uint64          `json:"seed"`
	Runs      int             `json:"runs"`
	RankedBy  string          `json:"ranked_by"` // field, or area: the smallest 90 % area
	Rows      []*variant      `json:"rows"`
	Best      *int            `json:"best"` // index in rows; null: none within the limits in daylight
	Reason    []string        `json:"reason"`
	Dropped   dropped         `json:"dropped"` // rows of a large grid that a search gave up
	Sun       *sunResult      `json:"sun"`     // null without a time
	Rules     []rules.Finding `json:"rules"`   // of the best row
	RulesNote string          `json:"rules_note"`
	Cautions  []string        `json:"cautions"`
	Files     []string        `json:"files"`
}

// result works out what the rows say.
func (k *comparison) result() *compareResult {
	r := &compareResult{Flight: k.file.Flight.ID, Seed: k.seed, Runs: k.runs, RankedBy: "area", Rows: k.rows,
		Dropped: k.dropped, RulesNote: rules.Deference, Files: []string{}}
	if k.rows[0].in != nil {
		r.RankedBy = "field"
	}
	for _, v := range k.rows {
		if v.in != nil && k.rows[0].in != nil {
			p, se := chance.Difference(v.in, k.rows[0].in)
			v.Difference = &difference{"field", p, se}
		}
	}
	best := k.rows[0]
	if best.Within {
		r.Best = new(int)
	}
	r.Reason = k.reason()
	r.Sun = sunOf(best.file.Flight.When, best.model.Frame())
	r.Rules = rulesOf(best.file, best.model, best.Light)
	r.Cautions = append(append([]string{}, best.file.Warnings...), best.model.Cautions()...)
	return r
}

// summarise fills what a row shows.
func (v *variant) summarise() error {
	if v.chances == nil || math.IsNaN(v.area) {
		if err := v.mapLandings(); err != nil {
			return err
		}
	}
	f := v.model.Frame()
	cloud := chance.Cloud{At: v.points(), Outcome: make([]int, len(v.landings))}
	for i, l := range v.landings {
		cloud.Outcome[i] = l.Outcome
	}
	for _, o := range v.model.Outcomes() {
		cloud.Names = append(cloud.Names, o.Name)
	}
	mom, err := grid.Measure(cloud.At, nil)
	if err != nil {
		return err
	}
	v.Places = []chance.Chance{}
	for _, z := range chance.Zones(v.file.Field, v.file.Ground) {
		v.Places = append(v.Places, cloud.Of(z))
	}
	if c := v.file.Flight.Site.Ceiling; c != nil {
		v.Places = append(v.Places, cloud.Event("above ceiling", chance.Ceiling, func(i int) bool { return v.landings[i].ApogeeM > *c }))
	}
	v.Landing = landingOf(f, mom, v.chances)
	v.Centre = polarResult{mom.Mean.Norm(), mom.Mean.BearingDeg()}
	v.Nominal = nominalOf(v.model)
	v.Wind = windResult{windOver(v.model, padWindHeight), windOver(v.model, v.Nominal.Apogee)}
	return nil
}

// reason says why the first row is first, a sentence each.
func (k *comparison) reason() []string {
	best, name := k.rows[0], k.rows[0].label(k)
	var out []string
	add := func(format string, a ...any) { out = append(out, fmt.Sprintf(format, a...)) }
	if !best.Within {
		add("no row is within the limits in daylight (%s); of those outside, the one with the best chance:", k.limitText())
	}
	if best.in == nil {
		add("%s has the smallest ground to search, %s for 90 %%; draw a field for the chance of staying in it", name, hectares(best.area))
		return out
	}
	add("%s: %s of its runs come down in the field", name, percentShort(best.Places[0].Probability, best.Places[0].SE))
	if len(k.rows) == 1 {
		return out
	}
	next, worst := k.rows[1], k.worst()
	equal := k.equals()
	switch {
	case next.Within != best.Within:
		add("no other row is within the limits in daylight")
	case equal == 0:
		add("%s more than the next, %s", percentShort(-next.Difference.Probability, next.Difference.SE), next.label(k))
	case equal == 1:
		add("the next, %s, is no worse beyond twice the error of the difference: take either", next.label(k))
	default:
		add("the next %d rows are no worse beyond twice the error of the difference: take any of them", equal)
	}
	why := func(v *variant) string {
		return fmt.Sprintf("%s: landings centre %.0f m from the pad, 90 %% in %s, wind %.1f m/s at the pad and %.1f m/s at apogee", v.label(k),
			v.Centre.Distance, hectares(v.area), v.Wind.Pad.Speed, v.Wind.Apogee.Speed)
	}
	add("%s", why(best))
	if worst != best {
		add("the worst, %s; %s in the field", why(worst), percentShort(worst.Places[0].Probability, worst.Places[0].SE))
	}
	return out
}

// worst is the last row that the limits and the light treat as they do the first.
func (k *comparison) worst() *variant {
	for i := len(k.rows) - 1; i > 0; i-- {
		if k.rows[i].Within == k.rows[0].Within {
			return k.rows[i]
		}
	}
	return k.rows[0]
}

// equals returns how many rows after the first are as good as far as the runs
// can tell: not worse by twice the error of the paired difference.
func (k *comparison) equals() int {
	n := 0
	for _, v := range k.rows[1:] {
		if v.Within == k.rows[0].Within && -v.Difference.Probability <= 2*v.Difference.SE {
			n++
		}
	}
	return n
}

func (k *comparison) limitText() string {
	if s := k.limit.String(); s != "" {
		return s
	}
	return "no speed limits given"
}

// percentShort is percent without padding.
func percentShort(p, se float64) string { return strings.TrimSpace(percent(p, se)) }
