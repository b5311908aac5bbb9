// Package ground reads what people have drawn of the ground: cover classes,
// areas not to be entered, barriers with their crossings, places and lines.
//
// A GeoJSON file (RFC 7946) goes in; features in metres of a local frame come
// out, as the lines and areas of plane. The package draws no conclusion from them: sweep widths, speeds and
// ways round belong to the planner, chances by place to whoever has a cloud.
package ground

import (
	"sort"

	"windfall/geo"
	"windfall/geo/plane"
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
	Gates     []string // names of the crossings, in their order; "" or none where nobody named them
	Lines     []Line
}

// Cover is a polygon of one cover class, such as "short grass".
type Cover struct {
	Class string
	Area  plane.Polygons
}

// NoGo is an area that must not be entered.
type NoGo struct {
	Name string
	For  Who
	Area plane.Polygons
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
	Area plane.Polygons
}

// Barrier is a line that cannot be crossed on foot save at a crossing.
type Barrier struct {
	Name string
	Line plane.Line
}

// Line is a named line with a width, such as a railway; its chance is asked for.
type Line struct {
	Name  string
	Line  plane.Line
	Width float64 // m
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

// Gate returns the name of crossing i, "" when it has none.
func (g *Ground) Gate(i int) string {
	if i < len(g.Gates) {
		return g.Gates[i]
	}
	return ""
}
