// Package ground reads what people have drawn of the ground: cover classes,
// areas not to be entered, barriers with their crossings, places and lines.
//
// A GeoJSON file (RFC 7946) goes in; features in metres of a local frame come
// out. Shapes are orb types whose points are x east, y north of the frame's
// origin. The package draws no conclusion from them: sweep widths, speeds and
// ways round belong to the planner, chances by place to whoever has a cloud.
package ground

import (
	"math"
	"sort"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"windfall/geo"
)

// Open is the cover class of ground that no polygon describes.
const Open = "open"

// Ground is everything drawn, in metres of one frame, in the order of the file.
// The zero value is open ground without end.
type Ground struct {
	Covers    []Cover
	NoGo      []NoGo
	Places    []Place
	Barriers  []Barrier
	Crossings []geo.XY // each on a barrier, moved onto it if drawn within SnapM
	Lines     []Line
}

// Cover is a polygon of one cover class, such as "short grass".
type Cover struct {
	Class string
	Area  orb.MultiPolygon // m
}

// NoGo is an area that must not be entered.
type NoGo struct {
	Name string
	For  Who
	Area orb.MultiPolygon // m
}

// Who says whom a no-go area is for.
type Who string

// The values of Who.
const (
	All     Who = "all"
	Walkers Who = "walkers"
	Drones  Who = "drones"
)

// Place is a named polygon whose chance is asked for.
type Place struct {
	Name string
	Area orb.MultiPolygon // m
}

// Barrier is a line that cannot be crossed on foot save at a crossing.
type Barrier struct {
	Name string
	Line orb.LineString // m
}

// Line is a named line with a width, such as a railway; its chance is asked for.
type Line struct {
	Name  string
	Line  orb.LineString // m
	Width float64        // m
}

// CoverAt returns the cover class at q: that of the last polygon of the file
// that holds q, else Open. A nil Ground is open everywhere.
func (g *Ground) CoverAt(q geo.XY) string {
	if g == nil {
		return Open
	}
	p := orb.Point{q.X, q.Y}
	for i := len(g.Covers) - 1; i >= 0; i-- {
		if g.Covers[i].Area.Bound().Contains(p) && planar.MultiPolygonContains(g.Covers[i].Area, p) {
			return g.Covers[i].Class
		}
	}
	return Open
}

// Classes returns the cover classes drawn, sorted, without Open.
func (g *Ground) Classes() []string {
	if g == nil {
		return nil
	}
	seen := map[string]bool{}
	var out []string
	for _, c := range g.Covers {
		if !seen[c.Class] {
			seen[c.Class] = true
			out = append(out, c.Class)
		}
	}
	sort.Strings(out)
	return out
}

// NearLine reports whether q lies within half the line's width of it.
func (l Line) NearLine(q geo.XY) bool {
	return distance(l.Line, orb.Point{q.X, q.Y}) <= l.Width/2
}

// distance returns the distance in m from p to a line of at least two points.
func distance(l orb.LineString, p orb.Point) float64 {
	d, _ := nearest(l, p)
	return d
}

// nearest returns the distance from p to the line and the point on it.
func nearest(l orb.LineString, p orb.Point) (float64, orb.Point) {
	best, at := math.Inf(1), orb.Point{}
	for i := 1; i < len(l); i++ {
		a, b := l[i-1], l[i]
		dx, dy := b[0]-a[0], b[1]-a[1]
		t := 0.0
		if n := dx*dx + dy*dy; n > 0 {
			t = math.Max(0, math.Min(1, ((p[0]-a[0])*dx+(p[1]-a[1])*dy)/n))
		}
		q := orb.Point{a[0] + t*dx, a[1] + t*dy}
		if d := math.Hypot(p[0]-q[0], p[1]-q[1]); d < best {
			best, at = d, q
		}
	}
	return best, at
}
