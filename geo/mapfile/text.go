package mapfile

import (
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"windfall/geo"
	"windfall/geo/quantity"
)

// clean drops what XML 1.0 cannot hold and brings every space to a blank.
func clean(s string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		switch {
		case r == utf8.RuneError, r == 0xFFFE, r == 0xFFFF:
			return -1
		case unicode.IsSpace(r):
			return ' '
		case unicode.IsControl(r):
			return -1
		}
		return r
	}, s))
}

// percent writes a chance as a whole percentage; 0.996 is not yet 100 %.
func percent(p float64) string { return quantity.Chance(p, 0) }

// metres writes a distance with as much precision as legs are walked with.
func metres(m float64) string {
	if m >= 10e3 {
		return fmt.Sprintf("%.1f km", m/1000)
	}
	return fmt.Sprintf("%.0f m", m)
}

// bearing writes a direction in three figures.
func bearing(d float64) string { return fmt.Sprintf("%03d°", int(math.Round(geo.NormDeg(d)))%360) }

// area writes square metres as m2 or, from 10 000, as hectares.
func area(m2 float64) string {
	return strings.Replace(quantity.Hectares(m2), "m2", "m²", 1)
}

// minutes writes a time of the plan as m:ss.
func minutes(m float64) string {
	s := int(math.Round(m * 60))
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}

// Bearing returns the leg's bearing in degrees true and its length in m.
func (g Leg) Bearing() (deg, m float64) {
	d := g.To.Sub(g.From)
	return d.BearingDeg(), d.Norm()
}

// text is the leg in one line.
func (g Leg) text(l *Landing, r Route) string {
	deg, m := g.Bearing()
	if m == 0 {
		return fmt.Sprintf("%s, stay until %s", g.Kind, minutes(g.EndMin))
	}
	t := fmt.Sprintf("%s %s true", g.Kind, bearing(deg))
	if l.Declination != nil {
		t += fmt.Sprintf(", %s magnetic", bearing(deg-*l.Declination))
	}
	t += ", " + metres(m)
	if r.Pace > 0 {
		t += fmt.Sprintf(", %.0f paces", m/r.Pace)
	}
	t += fmt.Sprintf(", %s to %s min", minutes(g.StartMin), minutes(g.EndMin))
	if g.Kind == Search {
		t += fmt.Sprintf(", sweep width %s, POD %s", metres(g.SweepWidth), percent(g.POD))
	}
	return t
}

// should says on what the place of a part hangs.
func (p Part) should() string {
	if p.Chance > 0 {
		return fmt.Sprintf(", should it come off (%s)", percent(p.Chance))
	}
	return ", should it come off"
}

// summary is the route in one line.
func (r Route) summary() string {
	n, far := 0, 0.0
	for _, g := range r.Legs {
		if g.Kind == Search {
			n++
		}
		_, m := g.Bearing()
		far += m
	}
	what := fmt.Sprintf("%d legs (%d search)", len(r.Legs), n)
	if r.Blocks != nil {
		what = plural(len(r.Blocks), "block")
	}
	kind := r.Kind
	if len(r.Abreast) > 0 {
		kind += " side by side with " + strings.Join(r.Abreast, ", ")
	}
	t := fmt.Sprintf("%s, %s, %s, %.0f min", kind, what, metres(far), r.Minutes)
	if w := r.widths(); w != "" {
		t += ", sweep width " + w
	}
	if r.Height > 0 {
		t += fmt.Sprintf(", at %s above ground", metres(r.Height))
	}
	if r.Free {
		t += "; free after that: nothing worth the walk is left"
	}
	return t
}

func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
