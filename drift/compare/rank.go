package compare

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"windfall/geo/sun"
)

// Limits are speeds in m/s that the flight as designed must keep to; nil: no
// limit.
type Limits struct {
	Touchdown *float64 // over the ground, at most
	Ejection  *float64 // through the air when the first device is triggered, at most
	RailExit  *float64 // along the rail as it leaves it, at least
}

// String lists the limits for people; empty: none.
func (l Limits) String() string {
	var out []string
	add := func(v *float64, format string) {
		if v != nil {
			out = append(out, fmt.Sprintf(format, *v))
		}
	}
	add(l.Touchdown, "touchdown at most %.3g m/s")
	add(l.Ejection, "first device at most %.3g m/s through the air")
	add(l.RailExit, "off the rail at least %.3g m/s")
	return strings.Join(out, ", ")
}

// Check is one limit held against the flight as designed.
type Check struct {
	Name   string   `json:"name"`
	Value  *float64 `json:"value"` // null: it does not happen
	Limit  float64  `json:"limit"`
	Within bool     `json:"within"`
}

var limitNames = map[string]string{
	"touchdown_mps": "touchdown", "ejection_mps": "first device", "rail_exit_mps": "off the rail",
}

// Broken names the limits that the row does not keep; empty: none.
func (r *Row) Broken() string {
	var out []string
	for _, c := range r.Limits {
		switch {
		case c.Within:
		case c.Value == nil:
			out = append(out, limitNames[c.Name]+" never")
		default:
			out = append(out, fmt.Sprintf("%s %.1f m/s", limitNames[c.Name], *c.Value))
		}
	}
	return strings.Join(out, ", ")
}

// judge holds the flight as designed against the limits, and its hour against
// the sun. What never happens keeps no limit.
func (r *Row) judge(l Limits) {
	n := r.Model.Nominal()
	r.Limits, r.Within = []Check{}, true
	add := func(name string, value float64, limit *float64, keeps func(value, limit float64) bool) {
		if limit == nil {
			return
		}
		c := Check{Name: name, Limit: *limit, Within: keeps(value, *limit)}
		if !math.IsNaN(value) {
			c.Value = &value
		}
		r.Limits = append(r.Limits, c)
		r.Within = r.Within && c.Within
	}
	atMost := func(v, limit float64) bool { return v <= limit } // false for NaN, as is the next
	atLeast := func(v, limit float64) bool { return v >= limit }
	add("touchdown_mps", n.LandingMps, l.Touchdown, atMost)
	add("ejection_mps", n.EjectionMps, l.Ejection, atMost)
	add("rail_exit_mps", n.RailExitMps, l.RailExit, atLeast)
	if when := r.Model.Flight().When; !when.IsZero() {
		r.Within = r.lit(when, time.Duration(n.LandingS*float64(time.Second))) && r.Within
	}
}

// lit fills the light of a flight that goes up at when and lasts so long, and
// says whether it both goes up and comes down by day.
func (r *Row) lit(when time.Time, lasts time.Duration) bool {
	down, pad := when.Add(lasts), r.Model.Frame().Origin
	r.Light, r.LightLeft = sun.LightAt(down, pad), nil
	if dusk := sun.NextDusk(down, pad); !dusk.IsZero() && r.Light != sun.Dark {
		left := math.Round(dusk.Sub(down).Minutes())
		r.LightLeft = &left
	}
	return r.Light == sun.Daylight && sun.LightAt(when, pad) == sun.Daylight
}

// sortRows puts rows best first: those within the limits in daylight, by score;
// ties by the smaller 90 % area where it is known, then as asked for.
func sortRows(rows []*Row) {
	slices.SortStableFunc(rows, func(a, b *Row) int {
		switch {
		case a.Within != b.Within:
			if a.Within {
				return -1
			}
			return 1
		case a.score != b.score:
			return cmp.Compare(b.score, a.score)
		case a.Area != b.Area && !math.IsNaN(a.Area) && !math.IsNaN(b.Area):
			return cmp.Compare(a.Area, b.Area)
		}
		return a.order - b.order
	})
}
