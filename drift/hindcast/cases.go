package hindcast

import (
	"fmt"
	"math"
	"sort"
	"strings"
	"time"

	"windfall/drift/wind"
	"windfall/drift/wind/spread"
)

// Case is a wind that a flier would have had, and the one that the air then had.
type Case struct {
	Kind  string // what the flier has: "surface", "report 1 h", "profile 12 h"
	Had   Profile
	Given spread.Source
	Truth *Profile
	At    *spread.Measurement // a reading at the pad on top; nil: none
	Group string              // cases of one group share their weather
}

// Ages are the hours by which winds are aged.
var Ages = []float64{0.5, 1, 2, 3, 6, 12}

// ageSlack is by how much, h, an age may differ from its name.
func ageSlack(age float64) float64 { return min(0.3, 0.25*age) + 0.05*age }

// Group is the place and the date by which cases are counted for significance:
// neighbouring hours share their weather, and so do all stations of one day.
func group(p *Profile) string { return p.Time.Add(-12 * time.Hour).Format("2006-01-02") }

// Pairs makes the cases of all profiles: each profile's own lowest level alone,
// and each earlier wind of the same station, or of a report of the same place,
// by its age. What has one level is a report and never the truth.
func Pairs(all []Profile) []Case {
	var out []Case
	byPlace := map[string][]*Profile{}
	for i := range all {
		p := &all[i]
		key := fmt.Sprintf("%.1f %.1f", p.Place[0], p.Place[1])
		byPlace[key] = append(byPlace[key], p)
		if len(p.Levels) > 1 {
			out = append(out, Case{Kind: "surface", Had: reading(p), Given: spread.Source{Sun: p.SunDeg()}, Truth: p,
				Group: group(p)})
		}
	}
	keys := make([]string, 0, len(byPlace))
	for k := range byPlace {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	for _, k := range keys {
		ps := byPlace[k]
		sort.SliceStable(ps, func(i, j int) bool { return ps[i].Time.Before(ps[j].Time) })
		for j, truth := range ps {
			if len(truth.Levels) == 1 {
				continue
			}
			for i := j - 1; i >= 0; i-- {
				old := truth.Time.Sub(ps[i].Time).Hours()
				if old > 13 {
					break
				}
				out = append(out, agedCases(ps[i], truth, old)...)
			}
		}
	}
	return out
}

// agedCases are what an earlier wind is worth: all of it, and its lowest level.
func agedCases(old, truth *Profile, hours float64) (out []Case) {
	for _, a := range Ages {
		if math.Abs(hours-a) > ageSlack(a) {
			continue
		}
		c := Case{Given: spread.Source{Age: hours, Sun: truth.SunDeg()}, Truth: truth, Group: group(truth)}
		if len(old.Levels) > 1 {
			c.Kind, c.Had = fmt.Sprintf("profile %g h", a), *old
			out = append(out, c)
			at := truth.Levels[0]
			c.Kind, c.At = fmt.Sprintf("profile %g h, measured", a), &spread.Measurement{Height: at.Height, Speed: at.Speed,
				FromDeg: at.FromDeg}
			out = append(out, c)
			c.At = nil
		}
		c.Kind, c.Had = fmt.Sprintf("report %g h", a), reading(old)
		out = append(out, c)
	}
	return out
}

// reading is the lowest level alone.
func reading(p *Profile) Profile {
	out := *p
	out.Levels = p.Levels[:1]
	return out
}

// Held tells whether a case belongs to the part that is kept out of the fit:
// one span of eight days of three.
func (c *Case) Held() bool { return c.Truth.Time.Unix()/(8*86400)%3 == 2 }

// Spread is what the model makes of what the flier had.
func (c *Case) Spread(m *spread.Model) (wind.Profile, *wind.Spread) {
	p := c.Had.Profile
	s := m.Of(p, c.Given)
	if c.At != nil {
		s = m.Measured(p, s, *c.At)
	}
	return p, s
}

// Lone tells whether the flier has one reading alone.
func (c *Case) Lone() bool { return len(c.Had.Levels) == 1 }

// Fresh tells whether it is of the hour.
func (c *Case) Fresh() bool { return !strings.Contains(c.Kind, " h") }
