package plane

import (
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"

	"windfall/geo"
)

// Box is a rectangle along the axes, m. Its zero value is the origin alone.
type Box struct{ Min, Max geo.XY }

// Empty is the box that holds nothing, to Extend from.
func Empty() Box {
	inf := math.Inf(1)
	return Box{Min: geo.XY{X: inf, Y: inf}, Max: geo.XY{X: -inf, Y: -inf}}
}

// Extend returns the least box that holds b and q.
func (b Box) Extend(q geo.XY) Box { return b.Union(Box{q, q}) }

// Union returns the least box that holds both.
func (b Box) Union(c Box) Box {
	return Box{
		Min: geo.XY{X: math.Min(b.Min.X, c.Min.X), Y: math.Min(b.Min.Y, c.Min.Y)},
		Max: geo.XY{X: math.Max(b.Max.X, c.Max.X), Y: math.Max(b.Max.Y, c.Max.Y)},
	}
}

// Pad returns the box grown by d (m) on every side.
func (b Box) Pad(d float64) Box {
	return Box{b.Min.Sub(geo.XY{X: d, Y: d}), b.Max.Add(geo.XY{X: d, Y: d})}
}

// Size returns the width and the height of the box in m.
func (b Box) Size() geo.XY { return b.Max.Sub(b.Min) }

// Center returns the middle of the box.
func (b Box) Center() geo.XY { return geo.XY{X: (b.Min.X + b.Max.X) / 2, Y: (b.Min.Y + b.Max.Y) / 2} }

// Contains reports whether q lies in the box or on its edge.
func (b Box) Contains(q geo.XY) bool {
	return q.X >= b.Min.X && q.X <= b.Max.X && q.Y >= b.Min.Y && q.Y <= b.Max.Y
}

// Intersects reports whether the boxes share a point.
func (b Box) Intersects(c Box) bool {
	return b.Min.X <= c.Max.X && c.Min.X <= b.Max.X && b.Min.Y <= c.Max.Y && c.Min.Y <= b.Max.Y
}

// Bound returns the box of the line; Empty for no points.
func (l Line) Bound() Box {
	b := Empty()
	for _, q := range l {
		b = b.Extend(q)
	}
	return b
}

// Bound returns the box of the outer ring; Empty for no ring.
func (p Polygon) Bound() Box {
	if len(p) == 0 {
		return Empty()
	}
	return Line(p[0]).Bound()
}

// Bound returns the box of all pieces; Empty for none.
func (ps Polygons) Bound() Box {
	b := Empty()
	for _, p := range ps {
		b = b.Union(p.Bound())
	}
	return b
}

// ClipLine returns the pieces of the line inside the box.
func (b Box) ClipLine(l Line) []Line {
	var out []Line
	for _, piece := range clip.LineString(b.orb(), l.orb()) {
		out = append(out, lineOf(piece))
	}
	return out
}

// ClipPolygon returns the part of the area inside the box; nil for none. Its
// pieces stay joined along the edge.
func (b Box) ClipPolygon(p Polygon) Polygon {
	var out Polygon
	for _, r := range clip.Polygon(b.orb(), p.orb()) {
		out = append(out, Ring(lineOf(r)))
	}
	return out
}

func (b Box) orb() orb.Bound {
	return orb.Bound{Min: orb.Point{b.Min.X, b.Min.Y}, Max: orb.Point{b.Max.X, b.Max.Y}}
}
