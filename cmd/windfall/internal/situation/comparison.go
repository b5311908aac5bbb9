package situation

import (
	"time"

	"windfall/drift/compare"
	"windfall/drift/rules"
	"windfall/geo/chance"
	"windfall/geo/sun"
)

// Comparison is the JSON document of a comparison, rows best first.
type Comparison struct {
	Flight    string          `json:"flight"`
	Seed      uint64          `json:"seed"`
	Runs      int             `json:"runs"`
	RankedBy  string          `json:"ranked_by"` // field, or area: the smallest 90 % area
	Rows      []comparisonRow `json:"rows"`
	Best      *int            `json:"best"` // index in rows; null: none within the limits in daylight
	Reason    []string        `json:"reason"`
	Dropped   compare.Dropped `json:"dropped"` // rows of a large grid that a search gave up
	Sun       *sunTimes       `json:"sun"`     // null without a time
	Rules     []rules.Finding `json:"rules"`   // of the best row
	RulesNote string          `json:"rules_note"`

	Assumptions []string `json:"assumptions"` // of the best row
	Cautions    []string `json:"cautions"`    // of the best row
	Files       []string `json:"files"`
}

type comparisonRow struct {
	Set        map[string]string   `json:"set"`
	Hour       string              `json:"hour,omitempty"` // UTC
	Places     []chance.Chance     `json:"places"`
	Difference *compare.Difference `json:"difference"` // from the best row; null without a field
	Landing    landing             `json:"landing"`
	Centre     fromPad             `json:"centre"`
	Nominal    nominal             `json:"nominal"`
	Wind       compare.Winds       `json:"wind"`
	// what the flight as designed breaks, such as "lands hard"
	Marks     []string        `json:"marks"`
	Light     sun.Light       `json:"light,omitempty"`          // when it lands; left out without a time
	LightLeft *float64        `json:"light_left_min,omitempty"` // minutes from landing to the end of civil twilight
	Limits    []compare.Check `json:"limits"`
	Within    bool            `json:"within_limits"`
}

type fromPad struct {
	Distance float64 `json:"distance_m"`
	Bearing  float64 `json:"bearing_deg"`
}

// Compared is the document of a table made with o.
func Compared(t *compare.Table, o compare.Options) *Comparison {
	r := &Comparison{Flight: t.Title, Seed: o.Seed, Runs: o.Runs, RankedBy: "area",
		Dropped: t.Dropped, Files: []string{}}
	if t.ByField {
		r.RankedBy = "field"
	}
	for _, v := range t.Rows {
		row := comparisonRow{Set: v.Set, Places: v.Places, Difference: v.Difference,
			Landing: landingOf(v.Model.Frame(), v.Moments, v.Map),
			Centre:  fromPad{v.Moments.Mean.Norm(), v.Moments.Mean.BearingDeg()},
			Nominal: nominalOf(v.Model), Wind: v.Wind, Light: v.Light, LightLeft: v.LightLeft,
			Limits: v.Limits, Within: v.Within, Marks: append([]string{}, v.Marks...)}
		if !v.Hour.IsZero() {
			row.Hour = v.Hour.UTC().Format(time.RFC3339)
		}
		r.Rows = append(r.Rows, row)
	}
	r.Best, r.Reason = t.Verdict().Best, t.Reason()
	best := t.Rows[0]
	r.Sun = sunOf(best.Model.Flight().When, best.Model.Frame())
	r.Rules, r.RulesNote = rulesOf(Input{Model: best.Model, Field: best.Field, Ground: best.Ground}, best.Light)
	r.Assumptions = append(append([]string{}, best.Assumed...), best.Model.Assumptions()...)
	r.Cautions = append(append([]string{}, best.Warnings...), best.Model.Cautions()...)
	return r
}
