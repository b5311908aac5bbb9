package evidence

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"

	"windfall/geo"
)

// Kind is what a sighting tells of.
type Kind string

// The kinds.
const (
	Bearing   Kind = "bearing"    // a direction from a place, with or without an elevation angle
	Timing    Kind = "timing"     // when something happened
	Height    Kind = "height"     // how high something happened
	NothingIn Kind = "nothing-in" // ground where the vehicle is not
	PartFound Kind = "part-found" // where a shed part was found
	Looks     Kind = "looks"      // how it came down: under an open canopy, or fast
)

// What it looked like, for Sighting.Looked.
const (
	Open = "open" // a canopy or streamer was seen out and working
	Fast = "fast" // it was seen coming down fast
)

// Sighting is one thing that somebody saw, heard or measured. Which fields
// count depends on Kind; pointers are nil where nothing was said. The JSON form
// is the body that the logbook keeps, whose entry has id, name and kind.
type Sighting struct {
	ID   int64  `json:"-"` // the logbook's number; 0 outside it
	By   string `json:"-"`
	Kind Kind   `json:"-"`

	// Bearing.
	From        *geo.Place `json:"from,omitempty"`             // the observer; only lat and lon count
	EyeM        *float64   `json:"eye_m,omitempty"`            // m above the pad; nil: 1.7 m above the ground there
	BearingDeg  *float64   `json:"bearing_deg,omitempty"`      // degrees true, where it was seen
	ElevDeg     *float64   `json:"elevation_deg,omitempty"`    // degrees above the horizontal
	BearingSD   float64    `json:"bearing_sd_deg,omitempty"`   // degrees; 0: 3, by radio 8
	ElevSD      float64    `json:"elevation_sd_deg,omitempty"` // degrees; 0: 3
	FartherThan *float64   `json:"farther_than_m,omitempty"`   // m from the observer, at least
	NearerThan  *float64   `json:"nearer_than_m,omitempty"`    // m from the observer, at most
	Radio       bool       `json:"radio,omitempty"`            // by a directional receiver

	// The moment: an event, a time, an interval, or nothing ("last seen": any time in the air).
	Event  string   `json:"event,omitempty"`     // burnout, apogee, ejection, opening, landing
	At     *float64 `json:"at_s,omitempty"`      // s after ignition, or after Since
	After  *float64 `json:"after_s,omitempty"`   // s, the same way: not before
	Before *float64 `json:"before_s,omitempty"`  // s, the same way: not later
	Since  string   `json:"since,omitempty"`     // the event that times count from; "": ignition
	TimeSD float64  `json:"time_sd_s,omitempty"` // s; 0: 1
	Heard  bool     `json:"heard,omitempty"`     // the time is of the sound, heard at From

	HeightM  *float64 `json:"height_m,omitempty"`    // m above the pad
	HeightSD float64  `json:"height_sd_m,omitempty"` // m; 0: 3 % of the height, at least 5 m

	Geometry *geojson.Geometry `json:"geometry,omitempty"` // nothing-in: Polygon or MultiPolygon, longitude and latitude
	Part     string            `json:"part,omitempty"`     // part-found: its name in the flight file
	Found    *geo.Place        `json:"found,omitempty"`    // part-found
	Looked   string            `json:"looked,omitempty"`   // looks: open or fast

	// Sure is the chance that the sighting is of this vehicle and not a
	// mistake, 0 to 1; nil: the default of its kind (docs/evidence.md).
	Sure *float64 `json:"sure,omitempty"`
	Said string   `json:"said,omitempty"` // the bearing as typed, where it was magnetic
	Note string   `json:"note,omitempty"`
}

// Events are the names a sighting may use for a moment of the flight.
// "opening" is the first device's; "opening 2" the second's, and so on.
var Events = [...]string{"burnout", "apogee", "ejection", "opening", "landing"}

// KnownEvent tells whether name is one a sighting may use.
func KnownEvent(name string) bool {
	if slices.Contains(Events[:], name) {
		return true
	}
	var n int
	_, err := fmt.Sscanf(name, "opening %d", &n)
	return err == nil && n >= 1 && n <= 9 && name == fmt.Sprintf("opening %d", n)
}

// Ready fills the defaults of s, so that what was assumed can be shown, and
// refuses what cannot be: the error names the field as the command's flag does.
func (s *Sighting) Ready() error {
	s.defaults()
	for _, f := range []struct {
		name   string
		v      *float64
		lo, hi float64
		say    string
	}{
		{"bearing", s.BearingDeg, 0, 360, "degrees clockwise from true north, 0 to 360"},
		{"elevation", s.ElevDeg, -30, 90, "degrees above the horizontal, at most 90, straight up"},
		{"farther-than", s.FartherThan, 0, 60e3, "metres from the observer, up to 60 km"},
		{"nearer-than", s.NearerThan, 0, 60e3, "metres from the observer, up to 60 km"},
		{"at", s.At, 0, 86400, "seconds after ignition, such as 31 s"},
		{"after", s.After, 0, 86400, "seconds after ignition, such as 31 s"},
		{"before", s.Before, 0, 86400, "seconds after ignition, such as 31 s"},
		{"height", s.HeightM, 0, 50e3, "metres above the pad, up to 50 km"},
		{"sure", s.Sure, 0, 1, "a chance from 0 to 1"},
		{"eye", s.EyeM, -5000, 10e3, "metres above the pad"},
		{"bearing-sd", &s.BearingSD, 0, 90, "degrees up to 90, such as 3 deg"},
		{"elevation-sd", &s.ElevSD, 0, 90, "degrees up to 90, such as 3 deg"},
		{"time-sd", &s.TimeSD, 0, 3600, "seconds, such as 2 s"},
		{"height-sd", &s.HeightSD, 0, 10e3, "metres, such as 10 m"},
		{"place's latitude", lat(s.From), -90, 90, "a place with a latitude of at most 90 degrees"},
		{"place's latitude", lat(s.Found), -90, 90, "a place with a latitude of at most 90 degrees"},
	} {
		if f.v != nil && !(*f.v >= f.lo && *f.v <= f.hi) {
			return fmt.Errorf("%s %g is not possible: give %s", f.name, *f.v, f.say)
		}
	}
	for _, e := range []string{s.Event, s.Since} {
		if e != "" && !KnownEvent(e) {
			return fmt.Errorf("event %q is not known: write one of %s", e, strings.Join(Events[:], ", "))
		}
	}
	return s.complete()
}

// complete checks that the fields which the kind needs are there.
func (s *Sighting) complete() error {
	switch {
	case s.After != nil && s.Before != nil && *s.After >= *s.Before:
		return fmt.Errorf("after %g s is not earlier than before %g s: swap them", *s.After, *s.Before)
	case s.FartherThan != nil && s.NearerThan != nil && *s.FartherThan >= *s.NearerThan:
		return fmt.Errorf("farther-than %g m is not less than nearer-than %g m: swap them", *s.FartherThan, *s.NearerThan)
	case s.At != nil && (s.After != nil || s.Before != nil):
		return fmt.Errorf("at %g s and an interval (after, before) cannot both be: give one of them", *s.At)
	case s.Since != "" && s.At == nil && s.After == nil && s.Before == nil:
		return fmt.Errorf("since %q needs a time that counts from it: at, after or before", s.Since)
	case s.Heard && s.From == nil:
		return fmt.Errorf("heard needs from, the place where it was heard: sound takes 3 s for a kilometre")
	}
	timed := s.At != nil || s.After != nil || s.Before != nil
	switch s.Kind {
	case Bearing:
		if s.From == nil || s.BearingDeg == nil {
			return fmt.Errorf("a bearing needs from (a place) and bearing (degrees)")
		}
		if s.Since != "" && s.Event != "" {
			return fmt.Errorf("since %q with event %q: log the time between them as a timing of its own", s.Since, s.Event)
		}
	case Timing:
		if s.Event == "" || !timed {
			return fmt.Errorf("a timing needs an event and a time: event landing, at 92 s (or after, before)")
		}
		if s.Event == s.Since {
			return fmt.Errorf("since %q is the event itself: give the earlier of the two", s.Since)
		}
	case Height:
		if s.HeightM == nil || (s.Event == "" && s.At == nil) {
			return fmt.Errorf("a height needs a moment: event apogee, or at 31 s")
		}
		if s.After != nil || s.Before != nil {
			return fmt.Errorf("a height needs one moment: give at or event in place of after and before")
		}
	case NothingIn:
		if len(s.Area()) == 0 {
			return fmt.Errorf("nothing-in needs an area: a GeoJSON file with at least one polygon")
		}
	case PartFound:
		if s.Part == "" || s.Found == nil {
			return fmt.Errorf("a found part needs its name in the flight file and the place")
		}
	case Looks:
		if s.Looked != Open && s.Looked != Fast {
			return fmt.Errorf("looked %q is not known: write open or fast", s.Looked)
		}
		if s.After != nil || s.Before != nil {
			return fmt.Errorf("looked %s needs one moment or none: give at or event in place of after and before", s.Looked)
		}
	default:
		return fmt.Errorf("kind %q is not known", s.Kind)
	}
	return nil
}

// defaults fills what was left out; the values stand in docs/evidence.md.
func (s *Sighting) defaults() {
	if s.BearingDeg != nil && *s.BearingDeg == 360 {
		zero := 0.0
		s.BearingDeg = &zero
	}
	or := func(v *float64, d float64, when bool) {
		if *v == 0 && when {
			*v = d
		}
	}
	or(&s.BearingSD, 8, s.BearingDeg != nil && s.Radio)
	or(&s.BearingSD, 3, s.BearingDeg != nil)
	or(&s.ElevSD, 3, s.ElevDeg != nil)
	timed := s.At != nil || s.After != nil || s.Before != nil
	or(&s.TimeSD, 1, timed && s.Kind != Height)
	if s.HeightM != nil {
		or(&s.HeightSD, math.Max(5, 0.03**s.HeightM), true)
	}
	if s.Sure == nil {
		d := 0.95
		switch {
		case s.Radio:
			d = 0.85
		case s.Kind == NothingIn:
			d = 0.8
		case s.Kind == PartFound:
			d = 0.98
		}
		s.Sure = &d
	}
}

// String says the sighting in one line.
func (s Sighting) String() string {
	var b strings.Builder
	if s.By != "" {
		fmt.Fprintf(&b, "%s: ", s.By)
	}
	switch s.Kind {
	case Bearing:
		how := ""
		if s.Radio {
			how = " by radio"
		}
		fmt.Fprintf(&b, "bearing %.4g deg%s", deref(s.BearingDeg), how)
		if s.ElevDeg != nil {
			fmt.Fprintf(&b, ", %.3g deg up", *s.ElevDeg)
		}
		if s.From != nil {
			fmt.Fprintf(&b, " from %.5f,%.5f", s.From.Lat, s.From.Lon)
		}
		if s.Event != "" {
			fmt.Fprintf(&b, " at %s", s.Event)
		} else if s.At == nil && s.After == nil && s.Before == nil {
			b.WriteString(", last seen in the air")
		}
	case Timing:
		b.WriteString(s.Event)
		if s.Heard {
			b.WriteString(" heard")
		}
	case Height:
		fmt.Fprintf(&b, "height %.4g m", deref(s.HeightM))
		if s.Event != "" {
			fmt.Fprintf(&b, " at %s", s.Event)
		}
	case NothingIn:
		fmt.Fprintf(&b, "nothing in %d area(s), sure %.2g", len(s.Area()), deref(s.Sure))
	case PartFound:
		fmt.Fprintf(&b, "%s found", s.Part)
		if s.Found != nil {
			fmt.Fprintf(&b, " at %.5f,%.5f", s.Found.Lat, s.Found.Lon)
		}
	case Looks:
		fmt.Fprintf(&b, "looked %s", s.Looked)
	}
	if s.At != nil {
		fmt.Fprintf(&b, " at %.4g s", *s.At)
	}
	if s.After != nil {
		fmt.Fprintf(&b, " after %.4g s", *s.After)
	}
	if s.Before != nil {
		fmt.Fprintf(&b, " before %.4g s", *s.Before)
	}
	if s.Since != "" {
		fmt.Fprintf(&b, " since %s", s.Since)
	}
	return b.String()
}

func lat(p *geo.Place) *float64 {
	if p == nil {
		return nil
	}
	return &p.Lat
}

func deref(p *float64) float64 {
	if p == nil {
		return math.NaN()
	}
	return *p
}

// Area returns the polygons of a nothing-in, longitude and latitude; nil
// without any.
func (s *Sighting) Area() orb.MultiPolygon {
	if s.Geometry == nil {
		return nil
	}
	switch g := s.Geometry.Geometry().(type) {
	case orb.Polygon:
		return orb.MultiPolygon{g}
	case orb.MultiPolygon:
		return g
	}
	return nil
}
