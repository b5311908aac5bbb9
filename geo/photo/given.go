package photo

import (
	"fmt"
	"math"
	"time"

	"github.com/paulmach/orb"

	"windfall/geo"
	"windfall/geo/magnetic"
)

// Given is what was said of a picture beside its file; it goes before what the
// file says. Pointers are nil where nothing was said.
type Given struct {
	At          *orb.Point // longitude, latitude
	AboveGround *float64   // m, at the camera's place
	Heading     *float64   // degrees true
	Pitch       *float64   // degrees above the horizontal
	Roll        *float64   // degrees
	FieldDeg    float64    // degrees across the width of the picture
	SensorWidth float64    // mm, of the longer side
	Focal35     float64    // mm

	Horizon  [][2]float64 // one or two pixels of the horizon
	Landmark *Landmark    // in place of the compass
}

// Landmark is a known place and the pixel that shows it.
type Landmark struct {
	At    orb.Point // longitude, latitude
	Pixel [2]float64
}

// Site is what a camera stands over.
type Site struct {
	Frame  geo.Frame
	PadUp  float64 // m above the sea
	Ground Ground
	When   time.Time // for the compass, where the picture has no time
}

// Spreads where nothing better is known: choices of ours. Phone compasses are
// 5 to 15 degrees out, gimbals about one (makers' words and experience, no
// source); EXIF's positions are given to the spread that satellite positions
// have in the open.
const (
	defaultAt       = 4.0  // m
	defaultPhone    = 10.0 // degrees, of a phone's compass
	defaultGimbal   = 3.0  // degrees, of a drone's heading
	defaultTilt     = 1.0  // degrees, of a gimbal's pitch and roll, and of a horizon marked
	defaultLevel    = 4.0  // degrees, of a roll that nobody measured
	defaultAbove    = 2.0  // m, of a barometer's height since take-off
	defaultAltitude = 10.0 // m, of a satellite's height
	defaultFocal    = 0.03 // of a focal length from the file
	landmarkDeg     = 0.5  // degrees, of marking a pixel and of the lens
	eyeHeight       = 1.6  // m, of a phone held up
)

// Missing is the error of a picture that does not say enough.
type Missing struct {
	What string // position, direction or lens
	Say  string // what to give
}

func (e *Missing) Error() string {
	return fmt.Sprintf("the picture does not say its %s; give %s", e.What, e.Say)
}

// View is a camera made of a picture, with what it rests on.
type View struct {
	Camera Camera
	Spread Spread
	Tilted bool     // the pitch is known, so elevation angles mean something
	Rests  []string // what the numbers come from, in words
}

// View makes a camera of what the picture says and what was given. What is
// missing is an error of type *Missing.
func (m *Meta) View(g Given, s Site) (View, error) {
	v := View{Camera: Camera{Width: m.Width, Height: m.Height}, Spread: Spread{Roll: defaultTilt, Focal: defaultFocal}}
	for _, step := range []func(*Meta, Given, Site) error{v.lens, v.stand, v.tilt, v.turn} {
		if err := step(m, g, s); err != nil {
			return v, err
		}
	}
	return v, nil
}

func (v *View) rest(format string, args ...any) {
	v.Rests = append(v.Rests, fmt.Sprintf(format, args...))
}

// filmDiagonal is that of 35 mm film, 36 mm by 24 mm: focal lengths "in 35 mm
// film" give the same view along the diagonal (CIPA DC-008, FocalLengthIn35mmFilm).
var filmDiagonal = math.Hypot(36, 24)

func (v *View) lens(m *Meta, g Given, _ Site) error {
	w, h := float64(m.Width), float64(m.Height)
	if m.Width <= 0 || m.Height <= 0 {
		return fmt.Errorf("the picture does not say how many pixels it has; save it anew as JPEG")
	}
	long := math.Max(w, h)
	switch {
	case g.FieldDeg > 0:
		v.Camera.Focal = w / 2 / math.Tan(g.FieldDeg/2*degree)
	case g.Focal35 > 0:
		v.Camera.Focal = g.Focal35 / filmDiagonal * math.Hypot(w, h)
	case g.SensorWidth > 0 && m.Focal > 0:
		v.Camera.Focal = m.Focal / g.SensorWidth * long
	case m.Focal35 > 0:
		v.Camera.Focal = m.Focal35 / filmDiagonal * math.Hypot(w, h)
	case m.Focal > 0 && m.SensorWidth > 0:
		v.Camera.Focal = m.Focal / m.SensorWidth * long
	default:
		return &Missing{"lens", "--field-of-view, the degrees across its width, or --focal"}
	}
	v.rest("lens: %.0f degrees across", 2*math.Atan(w/2/v.Camera.Focal)/degree)
	return nil
}

func (v *View) stand(m *Meta, g Given, s Site) error {
	at := m.At
	v.Spread.At = defaultAt
	if m.AtError > 0 {
		v.Spread.At = m.AtError
	}
	if g.At != nil {
		at, v.Spread.At = g.At, defaultAt
	}
	if at == nil {
		return &Missing{"position", "--from PLACE"}
	}
	c := &v.Camera
	c.At = s.Frame.ToXY(*at)
	ground := s.Ground.at(c.At)
	switch {
	case g.AboveGround != nil:
		c.Up, v.Spread.Up = ground+*g.AboveGround, defaultAbove
		v.rest("height: %.0f m above ground, as given", *g.AboveGround)
	case m.AboveStart != nil:
		c.Up, v.Spread.Up = *m.AboveStart, defaultAbove
		v.rest("height: %.0f m above take-off, taken to be at the pad's height", *m.AboveStart)
	case m.Altitude != nil && *m.Altitude-s.PadUp-ground > 15:
		c.Up, v.Spread.Up = *m.Altitude-s.PadUp, defaultAltitude
		v.rest("height: %.0f m above the sea, by satellite", *m.Altitude)
	default:
		c.Up, v.Spread.Up = ground+eyeHeight, 0.3
		v.rest("height: held at eye height")
	}
	return nil
}

func (v *View) tilt(m *Meta, g Given, _ Site) error {
	c := &v.Camera
	if r := first(g.Roll, m.Roll); r != nil {
		c.Roll = *r
	} else {
		v.Spread.Roll = defaultLevel
	}
	v.Spread.Pitch = defaultTilt
	switch p := first(g.Pitch, m.Pitch); {
	case len(g.Horizon) > 0:
		var second *[2]float64
		if len(g.Horizon) > 1 {
			second = &g.Horizon[1]
			v.Spread.Roll = defaultTilt
		}
		*c = c.Level(g.Horizon[0][0], g.Horizon[0][1], second)
		v.Tilted = true
		v.rest("tilt: %+.0f degrees, by the horizon marked", c.Pitch)
	case p != nil:
		c.Pitch, v.Tilted = *p, true
		v.rest("tilt: %+.0f degrees", c.Pitch)
	default:
		v.Spread.Pitch = 15
		v.rest("tilt: not known, taken as level; no elevation angle")
	}
	return nil
}

func (v *View) turn(m *Meta, g Given, s Site) error {
	c := &v.Camera
	switch {
	case g.Landmark != nil:
		d := s.Frame.ToXY(g.Landmark.At).Sub(c.At)
		if d.Norm() < 5*v.Spread.At {
			return fmt.Errorf("the landmark is %.0f m from the camera, too near for a direction: choose one farther away",
				d.Norm())
		}
		*c = c.Turned(g.Landmark.Pixel[0], g.Landmark.Pixel[1], d.BearingDeg())
		v.Spread.Heading = math.Hypot(landmarkDeg, v.Spread.At/d.Norm()/degree)
		v.rest("direction: %03.0f degrees, by the landmark at %.0f m", c.Heading, d.Norm())
	case g.Heading != nil:
		c.Heading, v.Spread.Heading = *g.Heading, defaultGimbal
		v.rest("direction: %03.0f degrees, as given", c.Heading)
	case m.Direction == nil:
		return &Missing{"direction", "--heading DEGREES, or --landmark PLACE with --landmark-pixel X,Y"}
	default:
		c.Heading, v.Spread.Heading = *m.Direction, defaultPhone
		if m.Pitch != nil {
			v.Spread.Heading = defaultGimbal
		}
		said := "true"
		if m.Magnetic {
			when := m.Time
			if when.IsZero() {
				when = s.When
			}
			dec, err := magnetic.Declination(s.Frame.ToLonLat(c.At), s.PadUp, when)
			if err != nil {
				return err
			}
			c.Heading = geo.NormDeg(c.Heading + dec)
			said = "after its compass"
		}
		v.rest("direction: %03.0f degrees %s", c.Heading, said)
	}
	return nil
}

func first(a, b *float64) *float64 {
	if a != nil {
		return a
	}
	return b
}

// SightSpread returns one standard deviation of the bearing and the elevation
// angle of a pixel, in degrees: what the pixel's direction moves by when each
// thing in the spread moves by its own.
func (v View) SightSpread(x, y float64) (bearing, elevation float64) {
	b0, e0 := v.Camera.Sight(x, y)
	sb, se := v.Spread.Heading*v.Spread.Heading, 0.0
	for _, c := range []Camera{
		v.Camera.with(func(c *Camera) { c.Pitch += v.Spread.Pitch }),
		v.Camera.with(func(c *Camera) { c.Roll += v.Spread.Roll }),
		v.Camera.with(func(c *Camera) { c.Focal *= 1 + v.Spread.Focal }),
	} {
		b, e := c.Sight(x, y)
		db := math.Remainder(b-b0, 360)
		sb, se = sb+db*db, se+(e-e0)*(e-e0)
	}
	return math.Max(math.Sqrt(sb), landmarkDeg), math.Max(math.Sqrt(se), landmarkDeg)
}
