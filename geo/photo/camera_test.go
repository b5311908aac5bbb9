package photo_test

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/spatial/r3"
	"pgregory.net/rapid"

	"windfall/geo"
	"windfall/geo/photo"
)

// A camera held level looking north, and one looking straight down.
func TestSight(t *testing.T) {
	c := photo.Camera{Focal: 1000, Width: 2000, Height: 1000}
	for _, r := range []struct{ x, y, bearing, elevation float64 }{
		{1000, 500, 0, 0},
		{2000, 500, 45, 0}, // a thousand pixels to the right of a focal length of a thousand
		{0, 500, 315, 0},
		{1000, 0, 0, math.Atan(0.5) * 180 / math.Pi},
	} {
		b, e := c.Sight(r.x, r.y)
		require.InDelta(t, r.bearing, b, 1e-9)
		require.InDelta(t, r.elevation, e, 1e-9)
	}
	c.Pitch, c.Heading, c.Up = -90, 90, 50
	h, ok := c.Hit(1000, 0, nil, 500) // the top of the picture lies toward the heading
	require.True(t, ok)
	require.InDelta(t, 25, h.At.X, 1e-2)
	require.InDelta(t, 0, h.At.Y, 1e-2)
	require.InDelta(t, 0.05, h.Pixel, 1e-4, "50 m over a thousand pixels")
	ring := c.Footprint(nil, 500)
	require.InDelta(t, 100*50, math.Abs(ring[0].Area()), 1)
}

// The rotation is that of gonum's spatial/r3: about the vertical by the
// heading, then about the camera's right by the pitch, then about its axis.
func TestRayAgainstRotations(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		angle := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
		c := photo.Camera{Heading: angle("heading", 0, 360), Pitch: angle("pitch", -89, 89), Roll: angle("roll", -180, 180),
			Focal: 900, Width: 1600, Height: 1200}
		x, y := angle("x", 1, 1599), angle("y", 1, 1199)
		v := r3.Unit(r3.Vec{X: (x - 800) / 900, Y: 1, Z: -(y - 600) / 900})
		rad := math.Pi / 180
		v = r3.NewRotation(c.Roll*rad, r3.Vec{Y: 1}).Rotate(v)
		v = r3.NewRotation(c.Pitch*rad, r3.Vec{X: 1}).Rotate(v)
		v = r3.NewRotation(-c.Heading*rad, r3.Vec{Z: 1}).Rotate(v)
		d := c.Ray(x, y)
		if r3.Norm(r3.Sub(v, r3.Vec{X: d[0], Y: d[1], Z: d[2]})) > 1e-9 {
			t.Fatalf("%v and %v", v, d)
		}
		q := geo.XY{X: 200 * d[0], Y: 200 * d[1]}
		gx, gy, ok := c.Pixel(q, 200*d[2])
		if !ok || math.Hypot(gx-x, gy-y) > 1e-6 {
			t.Fatalf("pixel %g,%g came back as %g,%g", x, y, gx, gy)
		}
	})
}

// A horizon seen by a tilted, rolled camera gives its tilt and roll back.
func TestLevel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := photo.Camera{Heading: 30, Pitch: rapid.Float64Range(-15, 15).Draw(t, "pitch"),
			Roll: rapid.Float64Range(-20, 20).Draw(t, "roll"), Focal: 1500, Width: 2000, Height: 1500}
		at := func(bearing float64) [2]float64 {
			x, y, _ := c.Pixel(geo.Polar(1e6, bearing), 0)
			return [2]float64{x, y}
		}
		a, b := at(15), at(50)
		got := photo.Camera{Heading: 30, Focal: 1500, Width: 2000, Height: 1500}.Level(a[0], a[1], &b)
		if math.Abs(got.Pitch-c.Pitch) > 1e-6 || math.Abs(got.Roll-c.Roll) > 1e-6 {
			t.Fatalf("pitch %g and roll %g, not %g and %g", got.Pitch, got.Roll, c.Pitch, c.Roll)
		}
		turned := got.Turned(b[0], b[1], 80)
		if bearing, _ := turned.Sight(b[0], b[1]); math.Abs(bearing-80) > 1e-6 {
			t.Fatalf("bearing %g", bearing)
		}
	})
}

// On a slope of one in ten the ray meets the ground where the two planes say.
func TestHitOnASlope(t *testing.T) {
	g := photo.Ground(func(q geo.XY) float64 { return q.Y / 10 })
	c := photo.Camera{Up: 50, Pitch: -45, Focal: 1000, Width: 1000, Height: 1000}
	h, ok := c.Hit(500, 500, g, 1000)
	require.True(t, ok)
	require.InDelta(t, 50/1.1, h.At.Y, 1e-2) // 50 - y = y/10
	_, ok = photo.Camera{Up: 50, Pitch: 30, Focal: 1000, Width: 1000, Height: 1000}.Hit(500, 500, g, 1000)
	require.False(t, ok, "the sky")
	require.Nil(t, photo.Camera{Up: 5, Pitch: 60, Focal: 1000, Width: 100, Height: 100}.Footprint(nil, 500))
	under := photo.Camera{Up: -5, Pitch: -45, Focal: 1000, Width: 100, Height: 100}
	_, ok = under.Hit(50, 50, nil, 500)
	require.False(t, ok, "a camera under the ground sees none")
}

// The error of a place is what the spreads do to it: straight down from h, a
// tilt of s moves it by h tan s.
func TestPlaceError(t *testing.T) {
	c := photo.Camera{Up: 100, Pitch: -90, Focal: 1000, Width: 1000, Height: 1000}
	s := photo.Spread{At: 3, Pitch: 1, Roll: 1}
	d := 100 * math.Tan(math.Pi/180)
	require.InDelta(t, math.Sqrt(9+d*d), c.PlaceError(500, 500, nil, 500, s), 0.01)
}

var pad = orb.Point{-5.5831, 39.0512}

func site() photo.Site {
	return photo.Site{Frame: geo.Frame{Origin: pad}, PadUp: 412, When: time.Date(2026, 3, 14, 9, 30, 0, 0, time.UTC)}
}

func TestView(t *testing.T) {
	m := photo.Meta{Width: 4000, Height: 3000, At: &pad, Direction: ptr(40), Focal35: 26}
	v, err := m.View(photo.Given{}, site())
	require.NoError(t, err)
	require.False(t, v.Tilted)
	require.InDelta(t, 26/math.Hypot(36, 24)*5000, v.Camera.Focal, 1e-9)
	sd, _ := v.SightSpread(2000, 1500)
	require.InDelta(t, 10, sd, 0.5, "a phone's compass")

	// 60 degrees across is a focal length of w/2 / tan 30
	v, err = m.View(photo.Given{FieldDeg: 60, Horizon: [][2]float64{{2000, 1500}}}, site())
	require.NoError(t, err)
	require.True(t, v.Tilted)
	require.InDelta(t, 2000/math.Tan(math.Pi/6), v.Camera.Focal, 1e-6)
	require.InDelta(t, 0, v.Camera.Pitch, 1e-9)

	// a landmark due east at its pixel replaces the compass
	east := site().Frame.ToLonLat(geo.XY{X: 800})
	v, err = m.View(photo.Given{Landmark: &photo.Landmark{At: east, Pixel: [2]float64{3000, 1500}}}, site())
	require.NoError(t, err)
	b, _ := v.Camera.Sight(3000, 1500)
	require.InDelta(t, 90, b, 1e-6)
	sd, _ = v.SightSpread(3000, 1500)
	require.Less(t, sd, 3.0)

	// magnetic directions are turned by the declination, a degree or so west there
	m.Magnetic = true
	v, err = m.View(photo.Given{}, site())
	require.NoError(t, err)
	require.InDelta(t, 39.4, v.Camera.Heading, 1)
	require.NotEqual(t, 40.0, v.Camera.Heading)
}

func TestViewAsksForWhatIsMissing(t *testing.T) {
	full := photo.Meta{Width: 4000, Height: 3000, At: &pad, Direction: ptr(40), Focal35: 26}
	for what, change := range map[string]func(*photo.Meta){
		"position":  func(m *photo.Meta) { m.At = nil },
		"direction": func(m *photo.Meta) { m.Direction = nil },
		"lens":      func(m *photo.Meta) { m.Focal35 = 0 },
	} {
		m := full
		change(&m)
		_, err := m.View(photo.Given{}, site())
		var missing *photo.Missing
		require.ErrorAs(t, err, &missing)
		require.Equal(t, what, missing.What)
		require.Contains(t, err.Error(), "--")
	}
	near := site().Frame.ToLonLat(geo.XY{X: 5})
	_, err := full.View(photo.Given{Landmark: &photo.Landmark{At: near}}, site())
	require.ErrorContains(t, err, "farther away")
}

func TestViewOfADrone(t *testing.T) {
	m := photo.Meta{Width: 4000, Height: 3000, At: &pad, Direction: ptr(40), Pitch: ptr(-90), AboveStart: ptr(60), Altitude: ptr(500), Focal35: 24}
	v, err := m.View(photo.Given{}, site())
	require.NoError(t, err)
	require.Equal(t, 60.0, v.Camera.Up)
	v, err = m.View(photo.Given{AboveGround: ptr(35), Heading: ptr(10), Pitch: ptr(-60), Roll: ptr(2)}, site())
	require.NoError(t, err)
	require.Equal(t, photo.Camera{Up: 35, Heading: 10, Pitch: -60, Roll: 2, Focal: v.Camera.Focal, Width: 4000, Height: 3000}, v.Camera)
	m.AboveStart = nil
	v, err = m.View(photo.Given{}, site())
	require.NoError(t, err)
	require.Equal(t, 88.0, v.Camera.Up, "500 m above the sea over a pad at 412")
}

const track = `time,latitude,longitude,height,heading,pitch
2026-03-14T10:00:00Z,39.0500,-5.5800,60,350,-90
2026-03-14T10:00:02Z,39.0502,-5.5800,62,10,-80
2026-03-14T10:01:00Z,39.0600,-5.5800,60,10,-80
`

func TestPath(t *testing.T) {
	p, err := photo.ReadPath(strings.NewReader(track))
	require.NoError(t, err)
	f, ok := p.At(time.Date(2026, 3, 14, 10, 0, 1, 0, time.UTC))
	require.True(t, ok)
	require.InDelta(t, 39.0501, f.At.Lat(), 1e-9)
	require.InDelta(t, 61, *f.Above, 1e-9)
	require.InDelta(t, 0, math.Remainder(*f.Heading, 360), 1e-9, "through north, not through south")
	require.InDelta(t, -85, *f.Pitch, 1e-9)
	for _, s := range []int{-1, 20, 61} {
		_, ok = p.At(time.Date(2026, 3, 14, 10, 0, s, 0, time.UTC))
		require.False(t, ok, "before, in the gap, after: %d s", s)
	}
	m := photo.Meta{Time: time.Date(2026, 3, 14, 10, 0, 1, 0, time.UTC), Pitch: ptr(-45)}
	m.Fill(p)
	require.InDelta(t, -45, *m.Pitch, 1e-9, "the picture's own word goes first")
	require.InDelta(t, 61, *m.AboveStart, 1e-9)

	p, err = photo.ReadPath(strings.NewReader(`<gpx version="1.1" creator="x"><trk><trkseg>
<trkpt lat="1" lon="2"><time>2026-03-14T10:00:00Z</time></trkpt><trkpt lat="1.1" lon="2"><time>2026-03-14T10:00:04Z</time></trkpt></trkseg></trk></gpx>`))
	require.NoError(t, err)
	require.Len(t, p, 2)
	p, err = photo.ReadPath(strings.NewReader("time,lat,lon\n1773482400,1,2\n1773482401.5,1,2\n"))
	require.NoError(t, err)
	require.Equal(t, time.Date(2026, 3, 14, 10, 0, 1, 5e8, time.UTC), p[1].Time)
}

func TestPathRefusals(t *testing.T) {
	for text, want := range map[string]string{
		"":                                   "no CSV",
		"a,b\n1,2\n":                         `line 1: has no column "time"; its columns are a, b`,
		"time,lat,lon\nnoon,1,2\n":           `line 2: time "noon"; write one such as`,
		"time,lat,lon\n1773482400,91,2\n":    "line 2: latitude \"91\" is not a number up to 90",
		"time,lat,lon\n1773482400,,2\n":      "line 2: latitude or longitude is empty",
		"time,lat,lon\n1773482400,1,2\n":     "fewer than two",
		"<gpx><trk>":                         "no GPX",
		"time,lat,lon\n\"1773482400,1,2\n\n": "line 2",
	} {
		_, err := photo.ReadPath(strings.NewReader(text))
		require.ErrorContains(t, err, want, "%q", text)
	}
}

func FuzzReadPath(f *testing.F) {
	f.Add([]byte(track))
	f.Add([]byte("<gpx/>"))
	f.Fuzz(func(t *testing.T, b []byte) {
		p, err := photo.ReadPath(bytes.NewReader(b))
		if err == nil && len(p) > 1 {
			if f, ok := p.At(p[0].Time); ok && math.Abs(f.At.Lat()) > 90 {
				t.Fatalf("%v", f)
			}
		}
	})
}
