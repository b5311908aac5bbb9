package photo

import (
	"math"

	"windfall/geo"
	"windfall/geo/plane"
)

// Ground gives the height of the ground in metres above the pad; nil is level
// ground at the pad's height.
type Ground func(geo.XY) float64

func (g Ground) at(q geo.XY) float64 {
	if g == nil {
		return 0
	}
	return g(q)
}

// Hit is where a pixel's ray meets the ground.
type Hit struct {
	At       geo.XY
	Up       float64 // m above the pad
	Distance float64 // m from the camera
	Pixel    float64 // m that a pixel spans there, across the ray
}

// Hit follows a pixel's ray to the ground, up to farthest metres away: in steps
// of a fiftieth of its length from the camera, at least 2 m, then halved. ok is
// false where it meets none.
func (c Camera) Hit(x, y float64, g Ground, farthest float64) (h Hit, ok bool) {
	d := c.Ray(x, y)
	at := func(s float64) (geo.XY, float64) {
		return geo.XY{X: c.At.X + s*d[0], Y: c.At.Y + s*d[1]}, c.Up + s*d[2]
	}
	above := func(s float64) float64 { q, up := at(s); return up - g.at(q) }
	if above(0) <= 0 {
		return h, false
	}
	lo, hi := 0.0, 0.0
	for hi < farthest {
		lo, hi = hi, math.Min(farthest, hi+math.Max(2, hi/50))
		if above(hi) <= 0 {
			ok = true
			break
		}
	}
	if !ok {
		return h, false
	}
	for hi-lo > 1e-3 {
		if mid := (lo + hi) / 2; above(mid) > 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	h.At, h.Up = at(hi)
	h.Distance = hi
	u, v := (x-float64(c.Width)/2)/c.Focal, (y-float64(c.Height)/2)/c.Focal
	h.Pixel = hi / (c.Focal * math.Sqrt(1+u*u+v*v))
	return h, true
}

// sides is how many points of each side of a picture a footprint is made of.
const sides = 8

// Footprint returns the ground that the picture shows up to farthest metres
// from the camera, as a ring; nil where it shows none. Rays that meet no ground
// end at that distance on the ground below them.
func (c Camera) Footprint(g Ground, farthest float64) plane.Polygon {
	var ring []geo.XY
	w, h := float64(c.Width), float64(c.Height)
	seen := false
	for _, e := range [4][4]float64{{0, 0, w, 0}, {w, 0, w, h}, {w, h, 0, h}, {0, h, 0, 0}} {
		for k := range sides {
			t := float64(k) / sides
			x, y := e[0]+t*(e[2]-e[0]), e[1]+t*(e[3]-e[1])
			hit, ok := c.Hit(x, y, g, farthest)
			if !ok {
				b, _ := c.Sight(x, y)
				hit.At = c.At.Add(geo.Polar(farthest, b))
			}
			seen = seen || ok
			ring = append(ring, hit.At)
		}
	}
	if _, ok := c.Hit(w/2, h/2, g, farthest); !ok && !seen {
		return nil
	}
	return plane.Polygon{append(ring, ring[0])}
}

// PlaceError returns one standard deviation (m, each way) of the place that a
// pixel is taken to: each thing the spread knows of moves the ray by itself, and
// what they move the place by adds in squares.
func (c Camera) PlaceError(x, y float64, g Ground, farthest float64, s Spread) float64 {
	h, ok := c.Hit(x, y, g, farthest)
	if !ok {
		return math.Inf(1)
	}
	sum := 2 * s.At * s.At
	add := func(c Camera, x float64) bool {
		m, ok := c.Hit(x, y, g, 2*farthest)
		d := m.At.Sub(h.At).Norm()
		sum += d * d
		return ok
	}
	// A camera that looks down and leans sideways sees what a pixel farther to
	// the side would: at that tilt the roll only turns it about its own axis.
	ok = add(c, x+c.Focal*math.Tan(s.Pitch*degree))
	for _, moved := range []Camera{
		c.with(func(c *Camera) { c.Up += s.Up }),
		c.with(func(c *Camera) { c.Heading += s.Heading }),
		c.with(func(c *Camera) { c.Pitch += s.Pitch }),
		c.with(func(c *Camera) { c.Roll += s.Roll }),
		c.with(func(c *Camera) { c.Focal *= 1 + s.Focal }),
	} {
		ok = add(moved, x) && ok
	}
	if !ok {
		return farthest
	}
	return math.Sqrt(sum / 2)
}

func (c Camera) with(change func(*Camera)) Camera {
	change(&c)
	return c
}
