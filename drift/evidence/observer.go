package evidence

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"windfall/drift"
	"windfall/geo"
)

const (
	eyeM     = 1.7  // m above the ground, a standing adult's eyes: common practice, no source
	farthest = 60e3 // m, an observer's distance from the pad
)

// Observer is where somebody stood; pointers are nil where nothing was said.
type Observer struct {
	From *geo.Place `json:"from,omitempty"`  // only lat and lon count
	EyeM *float64   `json:"eye_m,omitempty"` // m above the pad; nil: 1.7 m above the ground there
}

// Where is the observer itself, for the kinds that have one.
func (o Observer) Where() Observer { return o }

func (o Observer) limits() []limit {
	return []limit{
		{"eye", o.EyeM, -5000, 10e3, "metres above the pad"},
		latitude(o.From),
	}
}

func latitude(p *geo.Place) limit {
	l := limit{"from", nil, -90, 90, "a place with a latitude of at most 90 degrees"}
	if p != nil {
		l.v = &p.Lat
	}
	return l
}

// post is an observer in a model's frame; the zero post for nobody.
type post struct {
	from     geo.XY  // m
	eye      float64 // m above the pad
	cos, sin float64 // turn from the pad's frame into the observer's north
}

// standAt places the observer. A bearing is from true north where the observer
// stands; there the pad's frame is turned by the convergence, which is found
// from the geodesic to a point 1 km north of the observer. What is left of the
// frame's distortion is (r/R)^2/6 of an offset, under 1e-4 degrees at 10 km.
// The Earth's curvature and refraction lower a target by 0.07 m at 1 km and
// 1.7 m at 5 km, at most 0.02 degrees, and are left out.
func standAt(o Observer, m model) (p post, err error) {
	if o.From == nil {
		return p, nil
	}
	f, fl := m.Frame(), m.Flight()
	at := orb.Point{o.From.Lon, o.From.Lat}
	p.from = f.ToXY(at)
	if d := p.from.Norm(); d > farthest {
		return p, fmt.Errorf("from %.4f,%.4f is %.0f km from the pad; nobody sees a rocket from beyond %.0f km: check "+
			"the place", o.From.Lat, o.From.Lon, d/1000, farthest/1000)
	}
	north := f.ToXY(geo.Frame{Origin: at}.ToLonLat(geo.XY{Y: 1000})).Sub(p.from)
	l := north.Norm()
	p.cos, p.sin = north.Y/l, north.X/l
	p.eye = eyeHeight(o, p.from, &fl)
	return p, nil
}

// eyeHeight is the observer's eye, m above the pad.
func eyeHeight(o Observer, at geo.XY, f *drift.Flight) float64 {
	if o.EyeM != nil {
		return *o.EyeM
	}
	if f.Terrain != nil {
		if e, ok := f.Terrain.Elevation(at); ok {
			return e - f.Site.Elevation + eyeM
		}
	}
	return eyeM
}

// offset is how far east, north (the observer's own) and up of the eye m is, in m.
func (p *post) offset(m *moment) (e, n, up float64) {
	dx, dy := m.x-p.from.X, m.y-p.from.Y
	return dx*p.cos - dy*p.sin, dx*p.sin + dy*p.cos, m.z - p.eye
}

// direction is the true bearing and the elevation angle of m in degrees.
func (p *post) direction(m *moment) (bearing, elevation float64) {
	e, n, up := p.offset(m)
	return geo.NormDeg(math.Atan2(e, n) * 180 / math.Pi), math.Atan2(up, math.Hypot(e, n)) * 180 / math.Pi
}
