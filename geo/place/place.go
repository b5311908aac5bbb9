// Package place reads and writes places the way people give them: decimal
// degrees, degrees and minutes, degrees, minutes and seconds, UTM (with UPS
// near the poles), MGRS and the British National Grid. It is the one parser
// and the one formatter of the program.
//
// Inside, a place is an orb.Point: longitude, latitude in degrees on WGS 84.
// The projections agree with GeographicLib and PROJ to under 1 mm. The British
// National Grid is reached by the seven-parameter Helmert shift EPSG:1314
// without a grid file: its stated accuracy is 2 m, and the Ordnance Survey
// puts it at up to about 5 m against the official grid transformation.
//
// It knows no other national grid and no heights.
package place

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"
)

// Style is a way of writing a place.
type Style uint8

// The styles. Decimal, the zero value, writes 39.051200, -5.583100 (0.1 m);
// DegMin 39°03.0720'N 5°34.9860'W (0.2 m); DegMinSec 39°03'04.32"N
// 5°34'59.16"W (0.3 m); UTM 30N 276470 4325634, rounded to 1 m; MGRS
// 30STJ7647025634 and BNG SK 12345 67890, cut to 1 m as their rules ask.
const (
	Decimal Style = iota
	DegMin
	DegMinSec
	UTM
	MGRS
	BNG
)

var styleNames = [...]string{"decimal", "deg-min", "deg-min-sec", "utm", "mgrs", "bng"}

// String returns the style's name as flags spell it.
func (s Style) String() string {
	if int(s) < len(styleNames) {
		return styleNames[s]
	}
	return fmt.Sprintf("style %d", uint8(s))
}

// StyleOf returns the style of that name: decimal, deg-min, deg-min-sec, utm,
// mgrs or bng.
func StyleOf(name string) (Style, error) {
	for i, n := range styleNames {
		if n == name {
			return Style(i), nil
		}
	}
	return 0, fmt.Errorf("place style %q is not known; write decimal, deg-min, deg-min-sec, utm, mgrs or bng", name)
}

// Format writes p in the given style. Where the style has no name for p, it
// takes the nearest style that has: UTM gives UPS beyond 84 N and 80 S, and
// BNG gives UTM outside the grid's 700 km by 1300 km. A place that is not on
// the globe (NaN, latitude over 90) is written "no place".
func Format(p orb.Point, s Style) string {
	if !(math.Abs(p.Lat()) <= 90 && math.Abs(p.Lon()) <= 540) {
		return "no place"
	}
	p[0] = math.Remainder(p[0], 360)
	switch s {
	case DegMin:
		return sexagesimal(p.Lat(), 1, 4, "N", "S") + " " + sexagesimal(p.Lon(), 1, 4, "E", "W")
	case DegMinSec:
		return sexagesimal(p.Lat(), 2, 2, "N", "S") + " " + sexagesimal(p.Lon(), 2, 2, "E", "W")
	case UTM:
		return formatUTM(p)
	case MGRS:
		return formatMGRS(p)
	case BNG:
		if t, ok := formatBNG(p); ok {
			return t
		}
		return formatUTM(p)
	}
	return fmt.Sprintf("%.6f, %.6f", p.Lat()+0, p.Lon()+0)
}

// sexagesimal writes d in degrees and minutes (parts 1) or minutes and
// seconds too (parts 2), the last with the given decimals.
func sexagesimal(d float64, parts, decimals int, plus, minus string) string {
	letter := plus
	if d < 0 {
		letter, d = minus, -d
	}
	units := math.Pow(60, float64(parts)) * math.Pow10(decimals)
	n := int64(math.Round(d * units)) // carries 59.99999 up by itself
	scale := int64(math.Pow10(decimals))
	last := float64(n%(60*scale)) / float64(scale)
	n /= 60 * scale
	if parts == 1 {
		return fmt.Sprintf("%d°%0*.*f'%s", n, decimals+3, decimals, last, letter)
	}
	return fmt.Sprintf("%d°%02d'%0*.*f\"%s", n/60, n%60, decimals+3, decimals, last, letter)
}

// Local returns the grid that maps of the country around p carry: BNG in
// Great Britain and on the Isle of Man, MGRS elsewhere.
func Local(p orb.Point) Style {
	if inBritain(p) {
		return BNG
	}
	return MGRS
}

// britain is a coarse outline of Great Britain and the Isle of Man, drawn by
// hand through the seas around: longitude, latitude in degrees. It only
// decides which grid a sheet uses.
var britain = orb.Ring{
	{-7.0, 49.7}, {-2.8, 50.0}, {1.2, 50.6}, {1.6, 51.1}, {2.2, 52.3}, {1.8, 53.2},
	{-0.6, 55.2}, {-1.2, 57.6}, {-2.2, 58.6}, {-0.4, 60.2}, {-0.4, 61.1}, {-2.2, 61.0},
	{-4.8, 59.2}, {-8.8, 58.2}, {-7.8, 56.4}, {-6.1, 55.2}, {-5.3, 54.7}, {-5.2, 53.9},
	{-5.6, 52.6}, {-5.6, 51.6}, {-7.0, 50.4}, {-7.0, 49.7},
}

func inBritain(p orb.Point) bool {
	in := false
	for i := 1; i < len(britain); i++ {
		a, b := britain[i-1], britain[i]
		if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0]+(p[1]-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
			in = !in
		}
	}
	return in
}
