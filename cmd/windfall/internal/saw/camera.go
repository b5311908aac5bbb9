package saw

import (
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"windfall/cmd/windfall/internal/pictures"
	"windfall/cmd/windfall/internal/record"
	"windfall/drift/evidence"
	"windfall/geo"
	"windfall/geo/photo"
	"windfall/geo/place"
	"windfall/geo/quantity"
)

// Names of the words that say of a camera what its pictures do not, and of
// those that belong to one picture.
var (
	CameraWords = []string{"heading", "tilt", "field-of-view", "focal", "clock-offset"}
	PhotoWords  = []string{"photo", "at-pixel", "landmark", "landmark-pixel", "ignition-photo"}
)

// camera reads what was said of a camera and its place.
func (r *reader) camera(f *record.Flight) (g photo.Given, c pictures.Clock) {
	if r.w.has("from") {
		p := r.place("from")
		g.At = &orb.Point{p.Lon, p.Lat}
	}
	if r.w.has("heading") {
		var from *geo.Place
		if g.At != nil {
			from = &geo.Place{Lat: g.At.Lat(), Lon: g.At.Lon()}
		}
		deg, _, _, err := parseBearing(r.w["heading"], from, f.File)
		r.keep("heading", err)
		g.Heading = &deg
	}
	r.optional("tilt", quantity.Angle, &g.Pitch)
	if g.Pitch != nil && (*g.Pitch < -90 || *g.Pitch > 90) {
		r.keep("tilt", fmt.Errorf("%q is not possible; give degrees above the horizontal, -90 straight down", r.w["tilt"]))
	}
	if r.w.has("field-of-view") {
		g.FieldDeg = r.between("field-of-view", r.number("field-of-view", quantity.Angle), 1, 150, "degrees from 1 to 150")
	}
	if r.w.has("focal") {
		v, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(r.w["focal"], "mm")), 64)
		if err != nil {
			v = 0
		}
		g.Focal35 = r.between("focal", v, 5, 2000, "millimetres from 5 to 2000, such as 26")
	}
	if r.w.has("clock-offset") {
		d := r.signed("clock-offset")
		c.Ahead = &d
	}
	c.Ignition = r.w["ignition-photo"]
	return g, c
}

// between refuses a number outside its range.
func (r *reader) between(flag string, v, lo, hi float64, say string) float64 {
	if !(v >= lo && v <= hi) {
		r.keep(flag, fmt.Errorf("%q is not possible; give %s", r.w[flag], say))
	}
	return v
}

// signed reads a time that may be negative.
func (r *reader) signed(flag string) time.Duration {
	text, sign := strings.TrimSpace(r.w[flag]), 1.0
	if t, ok := strings.CutPrefix(text, "-"); ok {
		text, sign = t, -1
	}
	s, err := quantity.Parse(text, quantity.Time)
	r.keep(flag, err)
	return time.Duration(sign * s * float64(time.Second))
}

// pixel reads X,Y.
func (r *reader) pixel(flag, text string) (p [2]float64) {
	x, y, ok := strings.Cut(text, ",")
	u, err := strconv.ParseFloat(strings.TrimSpace(x), 64)
	v, also := strconv.ParseFloat(strings.TrimSpace(y), 64)
	if !ok || err != nil || also != nil {
		r.keep(flag, fmt.Errorf("%q is no pixel; write X,Y from the top left corner, such as 2016,1512", text))
	}
	return [2]float64{u, v}
}

// Photo turns a picture and the pixel marked in it into words that say the same
// where they were not given, and puts them with the others. nil: no picture.
func Photo(w Words, f *record.Flight) (*pictures.Witness, error) {
	if !w.has("photo") {
		for _, name := range append(PhotoWords, "horizon", "keep") {
			if w.has(name) {
				return nil, fmt.Errorf("--%s belongs to --photo: name the picture", name)
			}
		}
		return nil, nil
	}
	if !w.has("at-pixel") {
		return nil, errors.New("--photo needs --at-pixel X,Y: where in the picture it is seen, from the top left corner")
	}
	if w.has("landmark") != w.has("landmark-pixel") {
		return nil, errors.New("--landmark PLACE and --landmark-pixel X,Y go together")
	}
	r := &reader{w: w}
	g, clock := r.camera(f)
	at := r.pixel("at-pixel", w["at-pixel"])
	for _, text := range strings.Fields(w["horizon"]) {
		g.Horizon = append(g.Horizon, r.pixel("horizon", text))
	}
	if w.has("landmark") {
		p, err := place.Parse(w["landmark"])
		r.keep("landmark", err)
		g.Landmark = &photo.Landmark{At: p, Pixel: r.pixel("landmark-pixel", w["landmark-pixel"])}
	}
	if r.err != nil {
		return nil, r.err
	}
	in, err := pictures.See(w["photo"], [2]float64{at[0], at[1]}, g, pictures.SiteOf(f.Input), clock)
	if err != nil {
		return nil, err
	}
	w.fill(in)
	return &in, nil
}

// fill puts what a picture says where nothing was given.
func (w Words) fill(in pictures.Witness) {
	set := func(name, value string) {
		if !w.has(name) {
			w[name] = value
		}
	}
	set("from", fmt.Sprintf("%.7f,%.7f", in.Lat, in.Lon))
	if !w.has("bearing") {
		w["bearing"] = fmt.Sprintf("%.1f", in.Bearing)
		set("bearing-sd", fmt.Sprintf("%.1f", in.BearingSD))
	}
	if in.Tilted && !w.has("elevation") {
		w["elevation"] = fmt.Sprintf("%.1f", in.Elevation)
		set("elevation-sd", fmt.Sprintf("%.1f", in.ElevationSD))
	}
	if in.Aloft {
		set("eye", fmt.Sprintf("%.1f m", in.Up))
	}
	if in.After != nil && !w.has("after") && !w.has("before") {
		set("at", fmt.Sprintf("%.2f s", *in.After))
	}
}

// Picture is what a sighting keeps of the picture that it was taken from.
func Picture(in *pictures.Witness) *evidence.Picture {
	return &evidence.Picture{Name: in.Name, SHA256: in.SHA256, Pixel: in.Pixel}
}

// Cameras reads what was said of many pictures of the ground.
func Cameras(w Words, f *record.Flight) (*pictures.Settings, error) {
	r := &reader{w: w}
	s := &pictures.Settings{Site: pictures.SiteOf(f.Input), Launch: f.Input.Flight.When}
	var clock pictures.Clock
	s.Given, clock = r.camera(f)
	if clock.Ahead != nil {
		s.Ahead = *clock.Ahead
	}
	r.optional("above", quantity.Length, &s.Given.AboveGround)
	if w.has("every") != w.has("begins") {
		return nil, errors.New("frames of a film need --every, the time between them, and --begins, the time of the first; " +
			"give both, such as --every 1s --begins 2026-04-18T12:05:00+02:00")
	}
	if w.has("every") {
		v := r.number("every", quantity.Time)
		s.Every = time.Duration(r.between("every", v, 0.01, 3600, "a time such as 1s") * float64(time.Second))
		var err error
		if s.Begins, err = time.Parse(time.RFC3339, w["begins"]); err != nil {
			r.keep("begins", fmt.Errorf("%q is not a time; write one such as 2026-03-14T11:02:30+01:00", w["begins"]))
		}
	}
	if r.err != nil {
		return nil, r.err
	}
	var err error
	if w.has("path") {
		if s.Path, err = readPath(w["path"]); err != nil {
			return nil, fmt.Errorf("--path %s: %w", w["path"], err)
		}
	}
	s.Target(f.Input)
	return s, nil
}

func readPath(name string) (photo.Path, error) {
	file, err := os.Open(name)
	if err != nil {
		return nil, errors.New("cannot be read; name the drone's log, CSV or GPX")
	}
	defer file.Close()
	return photo.ReadPath(file)
}
