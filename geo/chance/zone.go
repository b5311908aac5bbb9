// Package chance counts how often a cloud of points falls in named places: the
// field, a road, within the width of a railway, beyond a distance. Chances
// carry their Monte Carlo standard error. It draws nothing and judges nothing.
package chance

import (
	"windfall/geo"
	"windfall/geo/ground"
	"windfall/geo/plane"
)

// Kind says what a zone is.
type Kind string

// The kinds of zone. Ceiling is of a run, not of a point: see Event.
const (
	Field   Kind = "field"
	Place   Kind = "place"
	NoGo    Kind = "no-go"
	Line    Kind = "line"
	Cover   Kind = "cover"
	Beyond  Kind = "beyond"
	Ceiling Kind = "ceiling"
)

// Zone is a named part of the plane. Make them with Area, Lines, Farther or Zones.
type Zone struct {
	Name string
	Kind Kind

	area   plane.Polygons
	boxes  []plane.Box // of the polygons
	lines  []plane.Line
	wide   []plane.Box // of the lines, with their half width
	half   float64     // m, half width
	far    float64     // m from the origin; 0: not asked
	class  string      // of cover; "" otherwise
	covers []shape     // every cover drawn, in order: the last that holds a point counts
}

// shape is an area of one cover class, its bound worked out.
type shape struct {
	class string
	area  Zone
}

// Area is the zone inside polygons, edges included to rounding.
func Area(name string, kind Kind, a plane.Polygons) Zone {
	z := Zone{Name: name, Kind: kind}
	for _, p := range a {
		if len(p) > 0 {
			z.area = append(z.area, p)
			z.boxes = append(z.boxes, p.Bound())
		}
	}
	return z
}

// Lines is the zone within half of width (m) of any of the lines.
func Lines(name string, width float64, ls ...plane.Line) Zone {
	z := Zone{Name: name, Kind: Line, lines: ls, half: width / 2}
	for _, l := range ls {
		z.wide = append(z.wide, l.Bound().Pad(width/2))
	}
	return z
}

// Farther is the zone more than d metres from the pad.
func Farther(name string, d float64) Zone { return Zone{Name: name, Kind: Beyond, far: d} }

// Zones returns the zones of a field (nil: none) and of the drawn ground (nil:
// none): the field, places, no-go areas, lines, then cover classes, each in the
// order drawn. Shapes of one kind with one name are one zone.
func Zones(field plane.Polygons, g *ground.Ground) []Zone {
	var out []Zone
	if len(field) > 0 {
		out = append(out, Area("field", Field, field))
	}
	if g == nil {
		return out
	}
	merge := func(z Zone) {
		for i := range out {
			o := &out[i]
			if o.Name == z.Name && o.Kind == z.Kind && o.half == z.half {
				o.area, o.boxes = append(o.area, z.area...), append(o.boxes, z.boxes...)
				o.lines, o.wide = append(o.lines, z.lines...), append(o.wide, z.wide...)
				return
			}
		}
		out = append(out, z)
	}
	for _, p := range g.Places {
		merge(Area(p.Name, Place, p.Area))
	}
	for _, n := range g.NoGo {
		merge(Area(n.Name, NoGo, n.Area))
	}
	for _, l := range g.Lines {
		merge(Lines(l.Name, l.Width, l.Line))
	}
	var covers []shape
	for _, c := range g.Covers {
		covers = append(covers, shape{c.Class, Area(c.Class, Cover, c.Area)})
	}
	for _, c := range g.Classes() {
		out = append(out, Zone{Name: c, Kind: Cover, class: c, covers: covers})
	}
	return out
}

// Contains reports whether q, metres from the pad, lies in the zone.
func (z *Zone) Contains(q geo.XY) bool {
	for i, p := range z.area {
		if z.boxes[i].Contains(q) && p.Contains(q) {
			return true
		}
	}
	for i, l := range z.lines {
		if z.wide[i].Contains(q) && l.Within(q, z.half) {
			return true
		}
	}
	for i := len(z.covers) - 1; i >= 0; i-- {
		if z.covers[i].area.Contains(q) {
			return z.covers[i].class == z.class
		}
	}
	return z.far > 0 && q.Norm() > z.far
}
