package sources

import (
	"fmt"
	"math"
	"sort"
	"time"

	"github.com/paulmach/orb"
	"github.com/tidwall/geodesic"
)

// sample is a level of a sounding; NaN is what it does not report.
type sample struct {
	line             int
	where            string  // place within the line, for JSON
	pressure         float64 // Pa
	elevation        float64 // m above mean sea level (geopotential)
	temperature, dew float64 // K
	from, speed      float64 // degrees, m/s
}

// ascent is one sounding as an archive has it.
type ascent struct {
	label    string
	nominal  time.Time // the archive's hour
	release  time.Time // zero: not reported
	at       orb.Point // NaN: not reported
	samples  []sample
	warnings []string
}

// started is the time that counts against the launch: the release where known.
func (a *ascent) started() time.Time {
	if a.release.IsZero() {
		return a.nominal
	}
	return a.release
}

// better tells whether ascent b suits the launch better than a: the latest that
// started at or before it, else the earliest after it; without a launch time
// the newest.
func better(a, b, when time.Time) bool {
	if when.IsZero() {
		return b.After(a)
	}
	beforeA, beforeB := !a.After(when), !b.After(when)
	switch {
	case beforeA != beforeB:
		return beforeB
	case beforeA:
		return b.After(a)
	}
	return b.Before(a)
}

// report turns an ascent into levels. n is the number of ascents in the file.
func (a *ascent) report(name string, n int, opt Options) (Report, error) {
	r := Report{Kind: Sounding, Source: a.label, Label: name, Valid: a.nominal, Warnings: a.warnings}
	if n > 1 {
		r.warn(fmt.Sprintf("%s: holds %d soundings; taken: %s", name, n, stamp(a.nominal)))
	}
	known, standard := fillElevations(a.samples, opt.Elevation)
	if standard {
		r.warn(name + ": no temperature is reported; heights that are missing follow from pressure in the standard " +
			"atmosphere")
	}
	if !known {
		r.warn(name + ": no height is reported at all; heights count from the lowest level, elevations are not known")
	}
	if err := a.check(name, &r); err != nil {
		return r, err
	}
	missing := 0
	for i := range a.samples {
		s := &a.samples[i]
		if s.speed == 0 && math.IsNaN(s.from) {
			s.from = 0
		}
		if math.IsNaN(s.speed) || math.IsNaN(s.from) {
			continue
		}
		if math.IsNaN(s.elevation) {
			missing++
			continue
		}
		r.Levels = append(r.Levels, Level{Elevation: s.elevation, FromDeg: s.from, Speed: s.speed})
	}
	if missing > 0 {
		r.warn(fmt.Sprintf("%s: %d levels with wind have neither height nor pressure and are left out", name, missing))
	}
	if len(r.Levels) == 0 {
		return r, at(name, a.line(), "the sounding of %s reports no wind with a height; give another source",
			stamp(a.nominal))
	}
	sort.SliceStable(r.Levels, func(i, j int) bool { return r.Levels[i].Elevation < r.Levels[j].Elevation })
	r.setHeights(opt.Elevation)
	if !known {
		for i := range r.Levels {
			r.Levels[i].Elevation = math.NaN()
		}
	}
	r.Made = a.started()
	if !math.IsNaN(a.at[0] + a.at[1]) {
		r.Place = &a.at
	}
	a.distance(name, &r, opt)
	r.age(name, a.started(), opt.When)
	return r, nil
}

func (a *ascent) line() int {
	if len(a.samples) == 0 {
		return 1
	}
	return a.samples[0].line
}

// setHeights fills Height from Elevation, above the pad or the lowest level.
func (r *Report) setHeights(pad *float64) {
	zero := r.Levels[0].Elevation
	r.FromLowest = pad == nil
	if pad != nil {
		zero = *pad
	}
	for i := range r.Levels {
		r.Levels[i].Height = r.Levels[i].Elevation - zero
	}
}

// check refuses impossible winds and heights and warns of heights that do not
// rise as pressure falls.
func (a *ascent) check(name string, r *Report) error {
	last, falls := -1, 0
	first := ""
	for i, s := range a.samples {
		if !math.IsNaN(s.speed) {
			from := s.from
			if math.IsNaN(from) {
				from = 0
			}
			if err := checkWind(from, s.speed); err != nil {
				return at(name, s.line, "%s%v, or take the level out", s.where, err)
			}
		}
		if s.elevation < minElevation || s.elevation > maxElevation {
			return at(name, s.line, "%sheight %.6g m is outside %g to %g m; correct it or take the level out", s.where,
				s.elevation, minElevation, maxElevation)
		}
		if math.IsNaN(s.pressure) || math.IsNaN(s.elevation) {
			continue
		}
		if last >= 0 {
			b := a.samples[last]
			if s.pressure < b.pressure && s.elevation < b.elevation {
				if falls++; falls == 1 {
					first = fmt.Sprintf("%s:%d: %sheights are out of order: %.0f m comes after %.0f m although the pressure "+
						"falls", name, s.line, s.where, s.elevation, b.elevation)
				}
			}
		}
		last = i
	}
	switch {
	case falls == 1:
		r.warn(first + "; sorted by height")
	case falls > 1:
		r.warn(fmt.Sprintf("%s, and %d more; sorted by height", first, falls-1))
	}
	return nil
}

// distance warns when the sounding was made far from the pad.
func (a *ascent) distance(name string, r *Report, opt Options) {
	if opt.Pad == nil || math.IsNaN(a.at[0]+a.at[1]) {
		return
	}
	var d float64
	geodesic.WGS84.Inverse(opt.Pad[1], opt.Pad[0], a.at[1], a.at[0], &d, nil, nil)
	if d > farAway {
		r.warn(fmt.Sprintf("%s: the sounding was made %.0f km from the pad", name, d/1000))
	}
}

const (
	farAway = 100e3         // m: a sounding beyond this is said to be of another place
	stale   = 3 * time.Hour // a sounding or report older than this is said to be old
)

// age warns when what was observed at t is old at launch, or of another year.
func (r *Report) age(name string, t, when time.Time) {
	if when.IsZero() || t.IsZero() {
		return
	}
	old := when.Sub(t)
	switch {
	case t.Year() != when.Year() && (old > 48*time.Hour || old < -48*time.Hour):
		r.warn(fmt.Sprintf("%s: the %s is of %d, the launch in %d: this is not the launch day's wind", name, r.Kind,
			t.Year(), when.Year()))
	case old < 0:
		r.warn(fmt.Sprintf("%s: the %s of %s is from after the launch (%s later)", name, r.Kind, stamp(t), span(-old)))
	case old > stale:
		r.warn(fmt.Sprintf("%s: the %s of %s is %s old at launch; the map is wider for it", name, r.Kind, stamp(t),
			span(old)))
	}
}

// stamp writes a time for messages.
func stamp(t time.Time) string { return t.UTC().Format("2006-01-02 15:04 UTC") }

// span writes a duration in the unit a reader thinks in.
func span(d time.Duration) string {
	switch {
	case d < 2*time.Hour:
		return fmt.Sprintf("%.0f min", d.Minutes())
	case d < 72*time.Hour:
		return fmt.Sprintf("%.0f h", d.Hours())
	}
	return fmt.Sprintf("%.0f days", d.Hours()/24)
}
