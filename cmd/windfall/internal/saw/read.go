// Package saw reads what somebody says they saw, in words by name, into a
// sighting: the flags of a command line, or the fields of a form.
package saw

import (
	"errors"
	"fmt"
	"math"
	"os"
	"strings"
	"time"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/drift/evidence"
	"windfall/geo"
	"windfall/geo/compass"
	"windfall/geo/magnetic"
	"windfall/geo/place"
	"windfall/geo/quantity"
)

// Words are what was said of a sighting, by the name of the flag or field that
// it was said with. Those not given are not there.
type Words map[string]string

func (w Words) has(name string) bool { _, ok := w[name]; return ok }
func (w Words) yes(name string) bool { return w[name] == "true" }

// Read puts the words into s and settles its kind; the kind it has, where it has
// one, is amended. nothing-in names a file, which it reads.
func Read(w Words, f *flightfile.File, s *evidence.Sighting) error {
	r := &reader{w: w}
	o, m := r.observer(f, s.Kind), r.moment(f.Flight.When, s.Kind)
	if w.has("note") {
		s.Note = w["note"]
	}
	if w.has("sure") {
		v, err := quantity.Parse(w["sure"], quantity.Ratio)
		r.keep("sure", err)
		s.Sure = &v
	}
	if r.err != nil {
		return r.err
	}
	kind, err := r.kind(s.Kind, m)
	if err != nil {
		return err
	}
	switch k := kind.(type) {
	case evidence.Bearing:
		k.Observer, k.Moment = o, m
		r.bearing(f, &k, s)
		s.Kind = k
	case evidence.Height:
		k.Observer, k.Moment = o, m
		r.optional("height", quantity.Length, &k.HeightM)
		r.positive("height-sd", quantity.Length, &k.HeightSD)
		s.Kind = k
	case evidence.NothingIn:
		k.Observer, k.Moment = o, m
		if w.has("nothing-in") {
			k.Geometry, err = readAreas(w["nothing-in"])
			r.keep("nothing-in", err)
		}
		s.Kind = k
	case evidence.Looks:
		k.Observer, k.Moment = o, m
		if w.has("looked") {
			k.Looked = r.word("looked")
		}
		s.Kind = k
	default:
		s.Kind = evidence.Timing{Observer: o, Moment: m}
	}
	return r.err
}

// ByFlag names the fields of an error about a sighting by the flags they were
// said with.
func ByFlag(err error) error {
	var f interface {
		Named(as func(string) string) string
	}
	if !errors.As(err, &f) {
		return err
	}
	return errors.New(f.Named(func(name string) string { return "--" + name }))
}

// kindFlags name the kinds that a flag of their own gives away, and the flags
// that no other kind has.
var kindFlags = []struct {
	flag string
	kind evidence.Kind
	own  []string
}{
	{"bearing", evidence.Bearing{}, []string{"elevation", "bearing-sd", "elevation-sd", "farther-than", "nearer-than",
		"radio"}},
	{"height", evidence.Height{}, []string{"height-sd"}},
	{"nothing-in", evidence.NothingIn{}, nil},
	{"looked", evidence.Looks{}, nil},
}

// kind says what the sighting is: what it was, or what its flags make it.
func (r *reader) kind(was evidence.Kind, m evidence.Moment) (evidence.Kind, error) {
	var is []string
	var kind evidence.Kind
	for _, k := range kindFlags {
		old := was != nil && was.Name() == k.kind.Name()
		if !old && !r.w.has(k.flag) {
			continue
		}
		if kind = k.kind; old {
			kind = was
		}
		is = append(is, "--"+k.flag)
	}
	switch {
	case len(is) > 1:
		return nil, fmt.Errorf("%s are sightings of their own: log them one at a time", strings.Join(is, " and "))
	case kind == nil && r.w.has("elevation"):
		return nil, errors.New("--elevation needs --from and --bearing with it")
	case kind == nil && m.Event == "" && m.At == nil && m.After == nil && m.Before == nil:
		return nil, errors.New("nothing to log; give --bearing with --from, --event with --at, --height with --event, " +
			"--nothing-in or --looked (or --list, --amend, --withdraw)")
	case kind == nil:
		kind = evidence.Timing{}
	}
	for _, k := range kindFlags {
		for _, flag := range k.own {
			if r.w.has(flag) && k.kind.Name() != kind.Name() {
				return nil, fmt.Errorf("--%s belongs to --%s: leave it out, or log that as a sighting of its own", flag, k.flag)
			}
		}
	}
	return kind, nil
}

// observer is where the sighting was made: what it had, and the flags over it.
func (r *reader) observer(f *flightfile.File, was evidence.Kind) (o evidence.Observer) {
	if was != nil {
		o = was.Where()
	}
	if r.w.has("from") {
		p := r.place("from")
		if r.err == nil {
			p = f.Frame.PlaceOf(orb.Point{p.Lon, p.Lat})
		}
		o.From = &p
	}
	r.optional("eye", quantity.Length, &o.EyeM)
	return o
}

// moment is when the sighting was made, the same way; clock times count from
// the ignition's.
func (r *reader) moment(ignition time.Time, was evidence.Kind) (m evidence.Moment) {
	if was != nil {
		m = was.When()
	}
	rough := r.time("at", ignition, &m.At)
	r.time("after", ignition, &m.After)
	r.time("before", ignition, &m.Before)
	if rough && !r.w.has("time-sd") {
		m.TimeSD = minuteSD
	}
	r.positive("time-sd", quantity.Time, &m.TimeSD)
	if r.w.has("event") {
		m.Event = r.word("event")
	}
	if r.w.has("since") {
		m.Since = r.word("since")
	}
	if r.w.has("heard") {
		m.Heard = r.w.yes("heard")
	}
	if r.w.has("at") {
		m.After, m.Before = nil, nil
	} else if r.w.has("after") || r.w.has("before") {
		m.At = nil
	}
	return m
}

const eyeSD = 3.0 // degrees, as a bearing's default

// bearing reads a bearing's own flags; it may be magnetic where the observer is.
func (r *reader) bearing(f *flightfile.File, b *evidence.Bearing, s *evidence.Sighting) {
	r.optional("elevation", quantity.Angle, &b.ElevDeg)
	r.optional("farther-than", quantity.Length, &b.FartherThan)
	r.optional("nearer-than", quantity.Length, &b.NearerThan)
	r.positive("bearing-sd", quantity.Angle, &b.BearingSD)
	r.positive("elevation-sd", quantity.Angle, &b.ElevSD)
	if r.w.has("radio") {
		b.Radio = r.w.yes("radio")
	}
	if r.w.has("bearing") && r.err == nil {
		deg, sd, said, err := parseBearing(r.w["bearing"], b.From, f)
		r.keep("bearing", err)
		b.BearingDeg, s.Said = &deg, said
		if sd > 0 && !r.w.has("bearing-sd") {
			b.BearingSD = math.Round(10*math.Hypot(sd, eyeSD)) / 10
		}
	}
}

// reader reads words and keeps the first error.
type reader struct {
	w   Words
	err error
}

func (r *reader) keep(flag string, err error) {
	if r.err == nil && err != nil {
		r.err = fmt.Errorf("--%s: %w", flag, err)
	}
}

// minuteSD is how far a clock read to the minute may be off, seconds: even
// over sixty.
const minuteSD = 17.0

// time reads a time of flight: a quantity, or a clock time such as 14:33:20 of
// the day of the ignition. A clock read to the minute is taken for its middle;
// rough says so.
func (r *reader) time(flag string, ignition time.Time, to **float64) (rough bool) {
	if !r.w.has(flag) || r.err != nil {
		return false
	}
	text := strings.TrimSpace(r.w[flag])
	if !strings.Contains(text, ":") {
		r.optional(flag, quantity.Time, to)
		return false
	}
	half := 0.0
	t, err := time.Parse("15:04:05", text)
	if err != nil {
		half = 30
		t, err = time.Parse("15:04", text)
	}
	if err != nil {
		r.keep(flag, fmt.Errorf("%.40q is not a time; write one after ignition such as 31 s, or by the clock such as "+
			"14:33:20", text))
		return false
	}
	if ignition.IsZero() {
		r.keep(flag, fmt.Errorf("%q is by the clock: the flight file must say when the ignition was, write when: "+
			"2026-03-14T10:30:00+01:00", text))
		return false
	}
	y, mo, d := ignition.Date()
	s := time.Date(y, mo, d, t.Hour(), t.Minute(), t.Second(), 0, ignition.Location()).Sub(ignition).Seconds() + half
	if s < -12*3600 { // past midnight
		s += 24 * 3600
	}
	if s <= 0 {
		r.keep(flag, fmt.Errorf("%q is before the ignition at %s; correct the time, or when: in the flight file", text,
			ignition.Format("15:04:05")))
		return false
	}
	*to = &s
	return half > 0
}

// number reads a quantity; angles may be bare numbers, in degrees.
func (r *reader) number(flag string, k quantity.Kind) float64 {
	s := strings.TrimSpace(r.w[flag])
	if k == quantity.Angle && strings.Trim(s, "0123456789.+-") == "" && s != "" {
		s += " deg"
	}
	v, err := quantity.Parse(s, k)
	r.keep(flag, err)
	return v
}

func (r *reader) optional(flag string, k quantity.Kind, to **float64) {
	if r.w.has(flag) {
		v := r.number(flag, k)
		*to = &v
	}
}

func (r *reader) positive(flag string, k quantity.Kind, to *float64) {
	if !r.w.has(flag) {
		return
	}
	if *to = r.number(flag, k); r.err == nil && !(*to > 0) {
		r.keep(flag, fmt.Errorf("%q is not above zero: nobody measures without error; give the standard deviation",
			r.w[flag]))
	}
}

func (r *reader) word(flag string) string {
	return strings.TrimSpace(strings.ToLower(r.w[flag]))
}

func (r *reader) place(flag string) geo.Place {
	p, err := place.Parse(r.w[flag])
	r.keep(flag, err)
	return geo.Place{Lat: p.Lat(), Lon: p.Lon()}
}

// parseBearing reads a direction into degrees true; said is the text where it
// was magnetic or a point of the compass, sd (degrees) what a point leaves open.
func parseBearing(text string, from *geo.Place, f *flightfile.File) (deg, sd float64, said string, err error) {
	d, err := compass.Parse(text)
	if err != nil || !d.Magnetic {
		if d.SD > 0 {
			said = strings.TrimSpace(text)
		}
		return d.Deg, d.SD, said, err
	}
	p := f.Flight.Site.Pad
	if from != nil {
		p = orb.Point{from.Lon, from.Lat}
	}
	east, err := magnetic.Declination(p, f.Flight.Site.Elevation, f.Flight.When)
	if err != nil {
		return 0, 0, "", err
	}
	return geo.NormDeg(d.Deg + east), 0, strings.TrimSpace(text), nil
}

const mostAreaBytes = 4 << 20

// readAreas reads the polygons of a GeoJSON file as one geometry.
func readAreas(path string) (*geojson.Geometry, error) {
	st, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("%s: cannot be read; give a GeoJSON file with polygons", path)
	}
	if st.Size() > mostAreaBytes {
		return nil, fmt.Errorf("%s: is larger than 4 MiB: not a hand-drawn area", path)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	var n evidence.NothingIn
	if err := n.Read(data); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return n.Geometry, nil
}
