package main

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/drift/evidence"
	"windfall/geo"
	"windfall/geo/magnetic"
	"windfall/geo/place"
	"windfall/geo/quantity"
)

// readSighting puts the flags that are set into s and settles its kind; the
// kind it has, where it has one, is amended.
func readSighting(c *cli.Context, f *flightfile.File, s *evidence.Sighting) error {
	r := &sightingFlags{c: c}
	o, m := r.observer(f, s.Kind), r.moment(s.Kind)
	if c.IsSet("note") {
		s.Note = c.String("note")
	}
	if c.IsSet("sure") {
		v, err := quantity.Parse(c.String("sure"), quantity.Ratio)
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
		if c.IsSet("nothing-in") {
			k.Geometry, err = readAreas(c.String("nothing-in"))
			r.keep("nothing-in", err)
		}
		s.Kind = k
	case evidence.Looks:
		k.Observer, k.Moment = o, m
		if c.IsSet("looked") {
			k.Looked = r.word("looked")
		}
		s.Kind = k
	default:
		s.Kind = evidence.Timing{Observer: o, Moment: m}
	}
	return r.err
}

// kindFlags name the kinds that a flag of their own gives away, and the flags
// that no other kind has.
var kindFlags = []struct {
	flag string
	kind evidence.Kind
	own  []string
}{
	{"bearing", evidence.Bearing{}, []string{"elevation", "bearing-sd", "elevation-sd", "farther-than", "nearer-than", "radio"}},
	{"height", evidence.Height{}, []string{"height-sd"}},
	{"nothing-in", evidence.NothingIn{}, nil},
	{"looked", evidence.Looks{}, nil},
}

// kind says what the sighting is: what it was, or what its flags make it.
func (r *sightingFlags) kind(was evidence.Kind, m evidence.Moment) (evidence.Kind, error) {
	var is []string
	var kind evidence.Kind
	for _, k := range kindFlags {
		old := was != nil && was.Name() == k.kind.Name()
		if !old && !r.c.IsSet(k.flag) {
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
	case kind == nil && r.c.IsSet("elevation"):
		return nil, errors.New("--elevation needs --from and --bearing with it")
	case kind == nil && m.Event == "" && m.At == nil && m.After == nil && m.Before == nil:
		return nil, errors.New("nothing to log; give --bearing with --from, --event with --at, --height with --event, --nothing-in or --looked (or --list, --amend, --withdraw)")
	case kind == nil:
		kind = evidence.Timing{}
	}
	for _, k := range kindFlags {
		for _, flag := range k.own {
			if r.c.IsSet(flag) && k.kind.Name() != kind.Name() {
				return nil, fmt.Errorf("--%s belongs to --%s: leave it out, or log that as a sighting of its own", flag, k.flag)
			}
		}
	}
	return kind, nil
}

// observer is where the sighting was made: what it had, and the flags over it.
func (r *sightingFlags) observer(f *flightfile.File, was evidence.Kind) (o evidence.Observer) {
	if was != nil {
		o = was.Where()
	}
	if r.c.IsSet("from") {
		p := r.place("from")
		if r.err == nil {
			p = f.Frame.Place(f.Frame.ToXY(orb.Point{p.Lon, p.Lat}))
		}
		o.From = &p
	}
	r.optional("eye", quantity.Length, &o.EyeM)
	return o
}

// moment is when the sighting was made, the same way.
func (r *sightingFlags) moment(was evidence.Kind) (m evidence.Moment) {
	if was != nil {
		m = was.When()
	}
	r.optional("at", quantity.Time, &m.At)
	r.optional("after", quantity.Time, &m.After)
	r.optional("before", quantity.Time, &m.Before)
	r.positive("time-sd", quantity.Time, &m.TimeSD)
	if r.c.IsSet("event") {
		m.Event = r.word("event")
	}
	if r.c.IsSet("since") {
		m.Since = r.word("since")
	}
	if r.c.IsSet("heard") {
		m.Heard = r.c.Bool("heard")
	}
	if r.c.IsSet("at") {
		m.After, m.Before = nil, nil
	} else if r.c.IsSet("after") || r.c.IsSet("before") {
		m.At = nil
	}
	return m
}

// bearing reads a bearing's own flags; it may be magnetic where the observer is.
func (r *sightingFlags) bearing(f *flightfile.File, b *evidence.Bearing, s *evidence.Sighting) {
	r.optional("elevation", quantity.Angle, &b.ElevDeg)
	r.optional("farther-than", quantity.Length, &b.FartherThan)
	r.optional("nearer-than", quantity.Length, &b.NearerThan)
	r.positive("bearing-sd", quantity.Angle, &b.BearingSD)
	r.positive("elevation-sd", quantity.Angle, &b.ElevSD)
	if r.c.IsSet("radio") {
		b.Radio = r.c.Bool("radio")
	}
	if r.c.IsSet("bearing") && r.err == nil {
		deg, said, err := parseBearing(r.c.String("bearing"), b.From, f)
		r.keep("bearing", err)
		b.BearingDeg, s.Said = &deg, said
	}
}

// sightingFlags reads flags and keeps the first error.
type sightingFlags struct {
	c   *cli.Context
	err error
}

func (r *sightingFlags) keep(flag string, err error) {
	if r.err == nil && err != nil {
		r.err = fmt.Errorf("--%s: %w", flag, err)
	}
}

// number reads a quantity; angles may be bare numbers, in degrees.
func (r *sightingFlags) number(flag string, k quantity.Kind) float64 {
	s := strings.TrimSpace(r.c.String(flag))
	if k == quantity.Angle && strings.Trim(s, "0123456789.+-") == "" && s != "" {
		s += " deg"
	}
	v, err := quantity.Parse(s, k)
	r.keep(flag, err)
	return v
}

func (r *sightingFlags) optional(flag string, k quantity.Kind, to **float64) {
	if r.c.IsSet(flag) {
		v := r.number(flag, k)
		*to = &v
	}
}

func (r *sightingFlags) positive(flag string, k quantity.Kind, to *float64) {
	if !r.c.IsSet(flag) {
		return
	}
	if *to = r.number(flag, k); r.err == nil && !(*to > 0) {
		r.keep(flag, fmt.Errorf("%q is not above zero: nobody measures without error; give the standard deviation", r.c.String(flag)))
	}
}

func (r *sightingFlags) word(flag string) string {
	return strings.TrimSpace(strings.ToLower(r.c.String(flag)))
}

func (r *sightingFlags) place(flag string) geo.Place {
	p, err := place.Parse(r.c.String(flag))
	r.keep(flag, err)
	return geo.Place{Lat: p.Lat(), Lon: p.Lon()}
}

// parseBearing reads "047", "047 deg" or "047 mag" into degrees true; said is
// the text where it was magnetic.
func parseBearing(text string, from *geo.Place, f *flightfile.File) (deg float64, said string, err error) {
	s := strings.ToLower(strings.TrimSpace(text))
	mag := false
	for _, w := range []string{"magnetic", "mag", "true"} {
		if t, ok := strings.CutSuffix(s, w); ok {
			s, mag = strings.TrimSpace(t), w != "true"
			break
		}
	}
	if strings.Trim(s, "0123456789.+-") == "" && s != "" {
		s += " deg"
	}
	if deg, err = quantity.Parse(s, quantity.Angle); err != nil {
		return 0, "", err
	}
	if deg < 0 || deg > 360 {
		return 0, "", fmt.Errorf("%q is not a bearing: give degrees clockwise from north, 0 to 360", text)
	}
	if !mag {
		return deg, "", nil
	}
	p := f.Flight.Site.Pad
	if from != nil {
		p = orb.Point{from.Lon, from.Lat}
	}
	d, err := magnetic.Declination(p, f.Flight.Site.Elevation, f.Flight.When)
	if err != nil {
		return 0, "", err
	}
	return geo.NormDeg(deg + d), strings.TrimSpace(text), nil
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
	area, err := evidence.ReadAreas(data)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return geojson.NewGeometry(area), nil
}
