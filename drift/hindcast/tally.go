package hindcast

import (
	"fmt"
	"math"
)

// Tally counts how maps of one kind of wind did.
type Tally struct {
	flown, old []Flown
	groups     []string
}

// Add counts a case; old is the same flown with the old spreads.
func (t *Tally) Add(c *Case, f, old Flown) {
	t.flown, t.old, t.groups = append(t.flown, f), append(t.old, old), append(t.groups, c.Group)
}

// N is how many cases and how many dates were counted.
func (t *Tally) N() (cases, dates int) {
	seen := map[string]bool{}
	for _, g := range t.groups {
		seen[g] = true
	}
	return len(t.groups), len(seen)
}

// Inside is the share of landings inside the areas of probability p, and its
// standard error: dates are drawn, not cases, since those of one date share
// their weather.
func (t *Tally) Inside(p float64) (share, se float64) { return inside(t.flown, t.groups, p) }

// OldInside is Inside with the old spreads.
func (t *Tally) OldInside(p float64) (share, se float64) { return inside(t.old, t.groups, p) }

func inside(flown []Flown, groups []string, p float64) (share, se float64) {
	n := float64(len(flown))
	in := func(f Flown) float64 {
		if f.Level < p {
			return 1
		}
		return 0
	}
	for _, f := range flown {
		share += in(f) / n
	}
	off := map[string]float64{}
	for i, f := range flown {
		off[groups[i]] += in(f) - share
	}
	v := 0.0
	for _, x := range off {
		v += x * x
	}
	k := float64(len(off))
	if k < 2 {
		return share, 0.5
	}
	return share, max(math.Sqrt(v*k/(k-1))/n, math.Sqrt(p*(1-p)/k)/2) // all in or all out has an error too
}

// Heading stands over lines of Row.
const Heading = "kind                           n dates |  in 50 %    75      90      95   | 90 % area  50 % area " +
	"| old in 50, 90, area | score gained"

// Row is one line of a table: coverage with its standard error in per cent,
// median areas, the same with the old spreads, and the mean log score gained.
func (t *Tally) Row(kind string) string {
	n, dates := t.N()
	s := fmt.Sprintf("%-28s %4d %4d  |", kind, n, dates)
	for _, p := range []float64{0.5, 0.75, 0.9, 0.95} {
		share, se := t.Inside(p)
		s += fmt.Sprintf(" %3.0f+-%-2.0f", 100*share, 100*se)
	}
	a90, a50, old, gain := 0.0, 0.0, 0.0, 0.0
	for i := range t.flown {
		a90 += math.Log(t.flown[i].Area90) / float64(n)
		a50 += math.Log(t.flown[i].Area50) / float64(n)
		old += math.Log(t.old[i].Area90) / float64(n)
		gain += (t.flown[i].LogScore - t.old[i].LogScore) / float64(n)
	}
	o50, _ := t.OldInside(0.5)
	o90, _ := t.OldInside(0.9)
	return s + fmt.Sprintf(" | %6.1f ha  %6.1f ha | %3.0f %3.0f %6.1f ha | %+.2f",
		math.Exp(a90)/1e4, math.Exp(a50)/1e4, 100*o50, 100*o90, math.Exp(old)/1e4, gain)
}
