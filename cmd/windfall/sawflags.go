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

// readSighting puts the flags that are set into s and settles its kind.
func readSighting(c *cli.Context, f *flightfile.File, s *evidence.Sighting) error {
	r := &sightingFlags{c: c}
	if c.IsSet("from") {
		p := r.place("from")
		s.From = &p
		s.From.East, s.From.North = 0, 0
		if r.err == nil {
			*s.From = f.Frame.Place(f.Frame.ToXY(orb.Point{p.Lon, p.Lat}))
			s.From.Lat, s.From.Lon = p.Lat, p.Lon
		}
	}
	r.optional("elevation", quantity.Angle, &s.ElevDeg)
	r.optional("at", quantity.Time, &s.At)
	r.optional("after", quantity.Time, &s.After)
	r.optional("before", quantity.Time, &s.Before)
	r.optional("height", quantity.Length, &s.HeightM)
	r.optional("farther-than", quantity.Length, &s.FartherThan)
	r.optional("nearer-than", quantity.Length, &s.NearerThan)
	r.optional("eye", quantity.Length, &s.EyeM)
	r.positive("bearing-sd", quantity.Angle, &s.BearingSD)
	r.positive("elevation-sd", quantity.Angle, &s.ElevSD)
	r.positive("time-sd", quantity.Time, &s.TimeSD)
	r.positive("height-sd", quantity.Length, &s.HeightSD)
	for name, to := range map[string]*string{"event": &s.Event, "since": &s.Since, "looked": &s.Looked, "note": &s.Note} {
		if c.IsSet(name) {
			*to = strings.TrimSpace(strings.ToLower(c.String(name)))
		}
	}
	if c.IsSet("note") {
		s.Note = c.String("note")
	}
	if c.IsSet("radio") {
		s.Radio = c.Bool("radio")
	}
	if c.IsSet("heard") {
		s.Heard = c.Bool("heard")
	}
	if c.IsSet("sure") {
		v, err := quantity.Parse(c.String("sure"), quantity.Ratio)
		r.keep("sure", err)
		s.Sure = &v
	}
	if c.IsSet("at") {
		s.After, s.Before = nil, nil
	} else if c.IsSet("after") || c.IsSet("before") {
		s.At = nil
	}
	r.direction(f, s)
	if r.err != nil {
		return r.err
	}
	return settleKind(s)
}

// direction reads the bearing, which may be magnetic where the observer is,
// and the area of nothing-in.
func (r *sightingFlags) direction(f *flightfile.File, s *evidence.Sighting) {
	c := r.c
	if c.IsSet("bearing") && r.err == nil {
		s.BearingDeg, s.Said = nil, ""
		b, said, err := parseBearing(c.String("bearing"), s.From, f)
		r.keep("bearing", err)
		s.BearingDeg, s.Said = &b, said
	}
	if c.IsSet("nothing-in") && r.err == nil {
		g, err := readAreas(c.String("nothing-in"))
		r.keep("nothing-in", err)
		s.Geometry = g
	}
}

// settleKind says what the sighting is from what it has.
func settleKind(s *evidence.Sighting) error {
	var is []string
	for _, k := range []struct {
		has  bool
		flag string
		kind evidence.Kind
	}{
		{s.BearingDeg != nil, "--bearing", evidence.Bearing},
		{s.HeightM != nil, "--height", evidence.Height},
		{s.Geometry != nil, "--nothing-in", evidence.NothingIn},
		{s.Looked != "", "--looked", evidence.Looks},
	} {
		if k.has {
			is = append(is, k.flag)
			s.Kind = k.kind
		}
	}
	switch {
	case len(is) > 1:
		return fmt.Errorf("%s are sightings of their own: log them one at a time", strings.Join(is, " and "))
	case len(is) == 1:
		return nil
	case s.ElevDeg != nil:
		return errors.New("--elevation needs --from and --bearing with it")
	case s.Event != "" || s.At != nil || s.After != nil || s.Before != nil:
		s.Kind = evidence.Timing
		return nil
	}
	return errors.New("nothing to log; give --bearing with --from, --event with --at, --height with --event, --nothing-in or --looked (or --list, --amend, --withdraw)")
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
