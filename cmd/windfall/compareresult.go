package main

import (
	"fmt"
	"math"
	"strings"
	"time"

	"windfall/drift"
	"windfall/drift/rules"
	"windfall/geo"
	"windfall/geo/chance"
	"windfall/geo/grid"
	"windfall/geo/sun"
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

type sunResult struct {
	CivilDawn *time.Time `json:"civil_dawn"`
	Sunrise   *time.Time `json:"sunrise"`
	Sunset    *time.Time `json:"sunset"`
	CivilDusk *time.Time `json:"civil_dusk"`
}

func sunOf(when time.Time, f geo.Frame) *sunResult {
	if when.IsZero() {
		return nil
	}
	d := sun.On(when, f.Origin)
	or := func(t time.Time) *time.Time {
		if t.IsZero() {
			return nil
		}
		return &t
	}
	return &sunResult{or(d.CivilDawn), or(d.Sunrise), or(d.Sunset), or(d.CivilDusk)}
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
	r.Rules = rulesOf(best)
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
	v.Wind = windResult{v.windAt(padWindHeight), v.windAt(v.Nominal.Apogee)}
	return nil
}

// padWindHeight is where weather services measure surface wind (WMO-No. 8).
const padWindHeight = 10.0 // m

// windAt returns the wind of the likeliest choice at a height above the pad.
func (v *variant) windAt(z float64) windAt {
	choices := v.model.Flight().Wind
	best := 0
	for i, c := range choices {
		if c.Weight > choices[best].Weight {
			best = i
		}
	}
	u, w := choices[best].Profile.At(z)
	from := geo.XY{X: -u, Y: -w}
	return windAt{Height: z, FromDeg: from.BearingDeg(), Speed: from.Norm()}
}

// rulesOf compares a row with the published figures.
func rulesOf(v *variant) []rules.Finding {
	f := v.model.Flight()
	w := v.windAt(padWindHeight)
	facts := rules.Facts{
		Impulse: impulseOf(f.Motor), Mass: f.Vehicle.Mass, LeanDeg: f.Rail.LeanDeg,
		WindMps: w.Speed, WindAtM: w.Height, ApogeeM: v.model.Nominal().ApogeeM,
		Dark: v.Light != "" && v.Light != sun.Daylight,
	}
	if p := f.Motor.Propellant; p != nil {
		facts.Propellant = *p
	}
	if v.file.Field != nil {
		_, facts.SiteM = chance.Widest(v.file.Field)
	}
	if g := v.file.Ground; g != nil {
		for _, p := range g.Places {
			if strings.Contains(strings.ToLower(p.Name), crowdName) {
				d := chance.Distance(p.Area, geo.XY{})
				if facts.CrowdM == 0 || d < facts.CrowdM {
					facts.CrowdM = math.Max(d, 0.1)
				}
			}
		}
	}
	return rules.Compare(facts)
}

// crowdName marks the places of the ground file where the crowd stands.
const crowdName = "crowd"

// impulseOf returns the most total impulse that the motor may have, N s; 0: not
// known.
func impulseOf(m drift.Motor) float64 {
	if len(m.Thrust) > 1 {
		sum := 0.0
		for i := 1; i < len(m.Thrust); i++ {
			sum += (m.Thrust[i].T - m.Thrust[i-1].T) * (m.Thrust[i].N + m.Thrust[i-1].N) / 2
		}
		return sum
	}
	if m.Impulse != nil {
		return *m.Impulse
	}
	if c, ok := drift.ReadCode(m.Designation); ok {
		return c.ImpulseMax
	}
	return 0
}

// reason says why the first row is first, a sentence each.
func (k *comparison) reason() []string {
	best, name := k.rows[0], k.rows[0].label(k)
	var out []string
	add := func(format string, a ...any) { out = append(out, fmt.Sprintf(format, a...)) }
	if !best.Within {
		add("no row is within the limits in daylight (%s); this one comes nearest", k.limitText())
	}
	if best.in == nil {
		add("%s has the smallest ground to search, %s for 90 %%; draw a field for the chance of staying in it", name, hectares(best.area))
		return out
	}
	add("%s: %s of its runs come down in the field", name, percentShort(best.Places[0].Probability, best.Places[0].SE))
	if len(k.rows) == 1 {
		return out
	}
	next, last := k.rows[1], k.rows[len(k.rows)-1]
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
		return fmt.Sprintf("%s landings centre %.0f m from the pad, 90 %% in %s, wind %.1f m/s at the pad and %.1f m/s at apogee", v.label(k),
			v.Centre.Distance, hectares(v.area), v.Wind.Pad.Speed, v.Wind.Apogee.Speed)
	}
	add("%s", why(best))
	add("%s; %s in the field: the last row", why(last), percentShort(last.Places[0].Probability, last.Places[0].SE))
	return out
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
