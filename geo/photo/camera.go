package photo

import (
	"math"

	"windfall/geo"
)

// Camera is a pinhole camera over a frame.
type Camera struct {
	At            geo.XY
	Up            float64 // m above the pad
	Heading       float64 // degrees true, of the middle of the picture
	Pitch         float64 // degrees above the horizontal; -90: straight down
	Roll          float64 // degrees, clockwise as the camera sees it
	Focal         float64 // pixels
	Width, Height int     // pixels
}

// Spread is one standard deviation of what is known of a camera.
type Spread struct {
	At, Up               float64 // m, of each coordinate and of the height
	Heading, Pitch, Roll float64 // degrees
	Focal                float64 // share of itself
}

const degree = math.Pi / 180

// axes returns the camera's right, down and forward as east, north and up.
func (c Camera) axes() (right, down, ahead [3]float64) {
	sh, ch := math.Sincos(c.Heading * degree)
	sp, cp := math.Sincos(c.Pitch * degree)
	sr, cr := math.Sincos(c.Roll * degree)
	ahead = [3]float64{sh * cp, ch * cp, sp}
	level := [3]float64{ch, -sh, 0}
	under := [3]float64{sh * sp, ch * sp, -cp}
	for k := range 3 {
		right[k] = cr*level[k] + sr*under[k]
		down[k] = cr*under[k] - sr*level[k]
	}
	return right, down, ahead
}

// Ray returns the direction of a pixel as a unit vector east, north and up.
func (c Camera) Ray(x, y float64) [3]float64 {
	right, down, ahead := c.axes()
	u, v := (x-float64(c.Width)/2)/c.Focal, (y-float64(c.Height)/2)/c.Focal
	n := math.Sqrt(1 + u*u + v*v)
	var d [3]float64
	for k := range d {
		d[k] = (ahead[k] + u*right[k] + v*down[k]) / n
	}
	return d
}

// Sight returns the bearing (degrees true) and the elevation angle (degrees) of
// a pixel.
func (c Camera) Sight(x, y float64) (bearing, elevation float64) {
	d := c.Ray(x, y)
	return geo.NormDeg(math.Atan2(d[0], d[1]) / degree), math.Asin(math.Max(-1, math.Min(1, d[2]))) / degree
}

// Pixel returns where the camera sees a place at a height (m above the pad); ok
// is false for what lies behind it or outside its picture.
func (c Camera) Pixel(q geo.XY, up float64) (x, y float64, ok bool) {
	right, down, ahead := c.axes()
	d := [3]float64{q.X - c.At.X, q.Y - c.At.Y, up - c.Up}
	dot := func(a [3]float64) float64 { return a[0]*d[0] + a[1]*d[1] + a[2]*d[2] }
	far := dot(ahead)
	if far <= 0 {
		return 0, 0, false
	}
	x = float64(c.Width)/2 + c.Focal*dot(right)/far
	y = float64(c.Height)/2 + c.Focal*dot(down)/far
	return x, y, x >= 0 && y >= 0 && x <= float64(c.Width) && y <= float64(c.Height)
}

// Level returns the camera with the pitch at which a pixel lies on the horizon
// of level ground: with a second pixel of the horizon far from the first, the
// roll too. The horizon's dip, 0.04 degrees from eye height, is left out.
func (c Camera) Level(x, y float64, second *[2]float64) Camera {
	if second != nil && math.Hypot(second[0]-x, second[1]-y) > float64(c.Width)/10 {
		dx, dy := second[0]-x, second[1]-y
		if dx < 0 {
			dx, dy = -dx, -dy
		}
		c.Roll = -math.Atan2(dy, dx) / degree
	}
	s, cs := math.Sincos(c.Roll * degree)
	u, v := x-float64(c.Width)/2, y-float64(c.Height)/2
	c.Pitch = math.Atan2(u*s+v*cs, c.Focal) / degree
	return c
}

// Turned returns the camera with the heading at which a pixel has the bearing.
func (c Camera) Turned(x, y, bearing float64) Camera {
	b, _ := c.Sight(x, y)
	c.Heading = geo.NormDeg(c.Heading + bearing - b)
	return c
}
