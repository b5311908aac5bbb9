// Package chance counts how often a cloud of points falls in named places: the
// field, a road, within the width of a railway, beyond a distance. Chances
// carry their Monte Carlo standard error. It draws nothing and judges nothing.
package chance

import (
	"github.com/paulmach/orb"

	"windfall/geo"
	"windfall/geo/ground"
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

	rings  [][]orb.Ring // one list of rings a polygon
	boxes  []orb.Bound  // of the polygons
	lines  []orb.LineString
	wide   []orb.Bound // of the lines, with their half width
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
func Area(name string, kind Kind, a orb.MultiPolygon) Zone {
	z := Zone{Name: name, Kind: kind}
	for _, p := range a {
		if len(p) > 0 {
			z.rings = append(z.rings, p)
			z.boxes = append(z.boxes, p[0].Bound())
		}
	}
	return z
}

// Lines is the zone within half of width (m) of any of the lines.
func Lines(name string, width float64, ls ...orb.LineString) Zone {
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
func Zones(field orb.MultiPolygon, g *ground.Ground) []Zone {
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
				o.rings, o.boxes = append(o.rings, z.rings...), append(o.boxes, z.boxes...)
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
	p := orb.Point{q.X, q.Y}
	for i, rings := range z.rings {
		if z.boxes[i].Contains(p) && inside(rings, q) {
			return true
		}
	}
	for i, l := range z.lines {
		if z.wide[i].Contains(p) && near(l, q, z.half) {
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

// inside is the even-odd rule over all rings of a polygon: holes count out.
func inside(rings []orb.Ring, q geo.XY) bool {
	in := false
	for _, r := range rings {
		for i := 1; i < len(r); i++ {
			a, b := r[i-1], r[i]
			if (a[1] > q.Y) != (b[1] > q.Y) && q.X < a[0]+(q.Y-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
				in = !in
			}
		}
	}
	return in
}

// near reports whether q is within d of the line.
func near(l orb.LineString, q geo.XY, d float64) bool {
	for i := 1; i < len(l); i++ {
		if segment(l[i-1], l[i], q) <= d {
			return true
		}
	}
	return false
}
