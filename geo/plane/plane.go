// Package plane holds lines and areas of the plane: metres east and north in
// one local frame. It measures, tests and clips them; what is drawn in degrees
// is an orb type and comes in by FromLonLat alone. It knows no map, no
// projection but a geo.Frame, and no meaning of what is drawn.
//
// Clipping, simplifying, areas and unions are those of orb and simplefeatures;
// what runs for every point of a cloud is written out here and tested against
// them.
package plane

import (
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"github.com/paulmach/orb/simplify"

	"windfall/geo"
)

// Line is a way of straight pieces from point to point, m.
type Line []geo.XY

// Ring is the edge of an area, m; its last point is its first.
type Ring []geo.XY

// Polygon is an area: its outer ring, then its holes.
type Polygon []Ring

// Polygons is an area of several pieces; none is no area.
type Polygons []Polygon

// Length returns the length of the line in m.
func (l Line) Length() float64 {
	var sum float64
	for i := 1; i < len(l); i++ {
		sum += l[i].Sub(l[i-1]).Norm()
	}
	return sum
}

// Simplify returns the line without points that lie within tolerance (m) of
// the rest (Douglas and Peucker 1973).
func (l Line) Simplify(tolerance float64) Line {
	return lineOf(simplify.DouglasPeucker(tolerance).LineString(l.orb()))
}

// Area returns the ground inside the ring in m2: positive when the ring runs
// anticlockwise, negative when clockwise.
func (r Ring) Area() float64 { return planar.Area(orb.Ring(Line(r).orb())) }

// Area returns the ground inside, holes taken off, in m2.
func (ps Polygons) Area() float64 {
	out := make(orb.MultiPolygon, len(ps))
	for i, p := range ps {
		out[i] = p.orb()
	}
	return planar.Area(out)
}

// Lines returns the rings of all pieces.
func (ps Polygons) Lines() []Line {
	var out []Line
	for _, p := range ps {
		for _, r := range p {
			out = append(out, Line(r))
		}
	}
	return out
}

// Rectangle returns the area between two corners.
func Rectangle(west, south, east, north float64) Polygon {
	return Polygon{{{X: west, Y: south}, {X: east, Y: south}, {X: east, Y: north}, {X: west, Y: north},
		{X: west, Y: south}}}
}

// FromLonLat returns areas drawn in degrees in metres of the frame.
func FromLonLat(f geo.Frame, m orb.MultiPolygon) Polygons {
	out := make(Polygons, len(m))
	for i, p := range m {
		out[i] = make(Polygon, len(p))
		for j, r := range p {
			out[i][j] = make(Ring, len(r))
			for k, q := range r {
				out[i][j][k] = f.ToXY(q)
			}
		}
	}
	return out
}

// orb is the line for a library that takes plane points as orb's.
func (l Line) orb() orb.LineString {
	out := make(orb.LineString, len(l))
	for i, q := range l {
		out[i] = orb.Point{q.X, q.Y}
	}
	return out
}

func (p Polygon) orb() orb.Polygon {
	out := make(orb.Polygon, len(p))
	for i, r := range p {
		out[i] = orb.Ring(Line(r).orb())
	}
	return out
}

func lineOf(ps []orb.Point) Line {
	out := make(Line, len(ps))
	for i, p := range ps {
		out[i] = geo.XY{X: p[0], Y: p[1]}
	}
	return out
}
