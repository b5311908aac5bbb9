package show

import (
	"fmt"
	"io"
	"math"

	"windfall/drift/wind/sources"
)

// shown is how far up the table on a screen goes; JSON has all levels.
const shown = 4000.0 // m

const knot = 1852.0 / 3600 // m/s

// Wind prints a reading of the wind and the files written.
func Wind(w io.Writer, r sources.Reading, files []string) error {
	p := To(w)
	p.F("%s", r.Source())
	above, valid := "the pad", ""
	if r.FromLowest() {
		above = "the lowest level reported"
	}
	if t := r.Valid(); !t.IsZero() {
		valid = "valid " + t.Format("2006-01-02 15:04 UTC") + ", "
	}
	p.F("%sheights above %s", valid, above)
	p.F("")
	p.F("%8s %10s %6s %7s %6s %9s", "height m", "elevation", "from", "m/s", "kn", "+- m/s")
	more := 0
	for _, l := range r.Levels() {
		if l.Height > shown {
			more++
			continue
		}
		elevation, from := "-", "VRB"
		if !math.IsNaN(l.Elevation) {
			elevation = fmt.Sprintf("%.0f", l.Elevation)
		}
		if !math.IsNaN(l.FromDeg) {
			from = fmt.Sprintf("%03.0f", l.FromDeg)
		}
		p.F("%8.0f %10s %6s %7.1f %6.1f %9.1f", l.Height, elevation, from, l.Speed, l.Speed/knot, l.SD)
	}
	if more > 0 {
		p.F("above %.0f m: %d more, which --json has", shown, more)
	}
	if n := len(r.Choices); n > 1 {
		p.F("")
		p.F("%d alternatives, of which each run draws one", n)
	}
	p.List("caution", r.Cautions)
	for _, s := range files {
		p.Hint("wrote %s", s)
	}
	return p.Err()
}
