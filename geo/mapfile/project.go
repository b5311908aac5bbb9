package mapfile

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"windfall/geo"
	"windfall/geo/plane"
)

// round8 keeps 8 decimals of a degree, 1.1 mm.
func round8(d float64) float64 { return math.Round(d*1e8)/1e8 + 0 }

// lonLat returns q in degrees, rounded.
func lonLat(f geo.Frame, q geo.XY) orb.Point {
	p := f.ToLonLat(q)
	return orb.Point{round8(p[0]), round8(p[1])}
}

// polygons returns a shape of local metres in degrees: closed rings, outer
// ones counterclockwise and holes clockwise (RFC 7946, 3.1.6), cut where it
// crosses the antimeridian (3.1.9). Rings of less than three corners go.
func polygons(f geo.Frame, shape plane.Polygons) orb.MultiPolygon {
	var out orb.MultiPolygon
	for _, pg := range shape {
		var rings []orb.Ring
		for _, r := range pg {
			if q := shut(r); len(q) >= 4 && q.Area() != 0 {
				rings = append(rings, project(f, q))
			} else if len(rings) == 0 {
				break // no outer ring, no holes
			}
		}
		if len(rings) > 0 {
			out = append(out, cut(rings)...)
		}
	}
	return tidied(out)
}

// tidied rounds corners and turns rings the right way; what rounding leaves no
// area goes.
func tidied(shape orb.MultiPolygon) orb.MultiPolygon {
	var out orb.MultiPolygon
	for _, pg := range shape {
		var keep orb.Polygon
		for i, r := range pg {
			for j := range r {
				r[j] = orb.Point{round8(r[j][0]), round8(r[j][1])}
			}
			if r = closed(r); r == nil && i == 0 {
				break
			} else if r == nil {
				continue
			}
			if outer := i == 0; (r.Orientation() == orb.CCW) != outer {
				r.Reverse()
			}
			keep = append(keep, r)
		}
		if len(keep) > 0 {
			out = append(out, keep)
		}
	}
	return out
}

// closed drops repeated points and closes the ring; nil is a ring without area.
func closed(r orb.Ring) orb.Ring {
	if r = shut(r); len(r) < 4 || planar.Area(r) == 0 {
		return nil
	}
	return r
}

// shut drops repeated points and closes the ring.
func shut[P comparable, R ~[]P](r R) R {
	var q R
	for _, p := range r {
		if len(q) == 0 || p != q[len(q)-1] {
			q = append(q, p)
		}
	}
	if len(q) > 1 && q[0] != q[len(q)-1] {
		q = append(q, q[0])
	}
	return q
}

// project brings a ring to degrees without a jump: longitudes run on past 180.
// A ring around a pole is led along the pole's parallel, so that it closes.
func project(f geo.Frame, r plane.Ring) orb.Ring {
	out := orb.Ring(unrolled(f, r))
	if turn := out[len(out)-1][0] - out[0][0]; math.Abs(turn) > 180 {
		pole := math.Copysign(90, out[0][1])
		last := out[len(out)-1]
		out = append(out, orb.Point{last[0], pole}, orb.Point{out[0][0], pole}, out[0])
	} else {
		out[len(out)-1] = out[0]
	}
	return out
}

// bow is how far in m a line that is straight in degrees may stray from the
// straight line of the frame; longer edges get points between.
const bow = 0.05

// unrolled returns a path in degrees whose longitudes do not jump. A point on
// a pole takes the longitude of its neighbours.
func unrolled(f geo.Frame, path []geo.XY) []orb.Point {
	u := unroller{f, make([]orb.Point, 0, len(path)+2)}
	for i, q := range path {
		at := node{q, f.ToLonLat(q)}
		if i > 0 {
			u.halve(node{path[i-1], u.out[len(u.out)-1]}, at, 0)
		}
		u.add(at)
	}
	return u.out
}

// unroller is a path in the making.
type unroller struct {
	f   geo.Frame
	out []orb.Point
}

// node is a point in both forms.
type node struct {
	q geo.XY
	g orb.Point
}

// add appends a point at the longitude nearest to the one before.
func (u *unroller) add(at node) {
	g := at.g
	if n := len(u.out); n > 0 {
		g[0] += 360 * math.Round((u.out[n-1][0]-g[0])/360)
	}
	u.out = append(u.out, g)
}

// halve adds the points that an edge from a to b needs to be straight: its
// halves again until each bows little. The bow of an edge of length d at
// latitude phi is d^2 tan(phi) / 8R.
func (u *unroller) halve(a, b node, depth int) {
	const earth = 6371e3 // m, mean radius
	way := b.q.Sub(a.q)
	d := way.Norm()
	lat := math.Min(math.Max(math.Abs(a.g[1]), math.Abs(b.g[1]))+d/2/111e3, 90)
	if d*d*math.Tan(lat*math.Pi/180)/8/earth < bow || depth == 12 || d < 1 {
		return
	}
	q := a.q.Add(way.Scale(0.5))
	mid := node{q, u.f.ToLonLat(q)}
	u.halve(a, mid, depth+1)
	u.add(mid)
	u.halve(mid, b, depth+1)
}

// line returns a path in degrees, cut where it crosses the antimeridian.
func line(f geo.Frame, path []geo.XY) orb.MultiLineString {
	var out orb.MultiLineString
	var run orb.LineString
	for i, p := range unrolled(f, path) {
		p = orb.Point{round8(math.Remainder(p[0], 360)), round8(p[1])}
		if i > 0 && math.Abs(p[0]-run[len(run)-1][0]) > 180 {
			a := run[len(run)-1]
			side := math.Copysign(180, a[0])
			lat := a[1]
			if b := p[0] + 2*side; b != a[0] {
				lat = round8(a[1] + (p[1]-a[1])*(side-a[0])/(b-a[0]))
			}
			if a[0] != side {
				run = append(run, orb.Point{side, lat})
			}
			if len(run) > 1 {
				out = append(out, run)
			}
			run = orb.LineString{{-side, lat}}
			if p == run[0] {
				continue
			}
		}
		run = append(run, p)
	}
	if len(run) > 1 {
		out = append(out, run)
	}
	return out
}

// ellipse returns the ground inside one of the ellipses, its outline in 96
// steps; none without a Mean.
func (l *Landing) ellipse(i int) plane.Polygon {
	const steps = 96
	if l.Mean == nil {
		return nil
	}
	e := l.Ellipses[i]
	r := make(plane.Ring, 0, steps+1)
	along, across := geo.Polar(1, e.AzimuthDeg), geo.Polar(1, e.AzimuthDeg-90)
	for k := range steps {
		s, c := math.Sincos(2 * math.Pi * float64(k) / steps)
		r = append(r, l.Mean.Add(along.Scale(e.SemiMajor*c)).Add(across.Scale(e.SemiMinor*s)))
	}
	return plane.Polygon{append(r, r[0])}
}

// length returns the ray's length in m, up to reach where none is given.
func (r Ray) length(reach float64) float64 {
	if r.Length > 0 {
		return r.Length
	}
	return reach
}

// wedge returns the ground within two standard deviations of the bearing.
func (r Ray) wedge(reach float64) plane.Ring {
	d, half := r.length(reach), math.Min(2*r.SpreadDeg, 180)
	out := plane.Ring{r.From}
	steps := 2 + int(half/2)
	for i := -steps; i <= steps; i++ {
		out = append(out, r.From.Add(geo.Polar(d, r.BearingDeg+half*float64(i)/float64(steps))))
	}
	out = append(out, out[0])
	slices.Reverse(out) // bearings run clockwise
	return out
}

// swath returns the ground within half the strip's width of its path, taken
// straight between points a meter or a tenth of the width off it.
func (s Strip) swath() plane.Polygons {
	if s.Width <= 0 || len(s.Path) < 2 {
		return nil
	}
	ls := plane.Line(s.Path).Simplify(math.Min(1, s.Width/10))
	var out plane.Polygons
	for i := 1; i < len(ls); i++ {
		a, b := ls[i-1], ls[i]
		d := b.Sub(a)
		if d.Norm() == 0 {
			continue
		}
		n := geo.XY{X: -d.Y, Y: d.X}.Scale(s.Width / 2 / d.Norm())
		out = append(out, plane.Polygon{{a.Sub(n), b.Sub(n), b.Add(n), a.Add(n), a.Sub(n)}})
	}
	return out.Union()
}
