// Package mapfile writes the files people carry: KML and KMZ, GPX, GeoJSON,
// PNG and SVG pictures and a printed sheet. Its input is neutral: a Landing
// holds what a map of chance shows, its Plan the legs of every searcher, all
// in metres of one local frame whose origin is the pad, y to the north.
//
//	files, err := mapfile.Files(&landing, mapfile.Options{})
//
// makes every file in memory; each format also has a function of its own that
// writes to an io.Writer. The same input gives the same bytes. What is drawn
// keeps to WGS 84; only texts and the lines of the picture's grid use national
// grids. Nothing here reads files, the clock or the network.
package mapfile

import (
	"time"

	"windfall/geo"
	"windfall/geo/grid"
	"windfall/geo/plane"
)

// Landing is a map of where the thing sought lies. Layers left nil are left
// out of the files; all shapes are in metres of Frame.
type Landing struct {
	Title       string         // heading, such as the flight's id
	Subtitle    string         // one line: when, what the map rests on
	Frame       geo.Frame      // its origin is the pad
	Nominal     *geo.XY        // landing of the nominal flight
	Mean        *geo.XY        // mean landing point
	Spots       []Spot         // likeliest places, best first; nil: found in Chance
	Ellipses    []grid.Ellipse // about Mean, which they need
	Areas       []grid.Area
	Chance      *grid.Map // picture of the probability
	Base        *Base     // picture of the ground under it; nil: plain paper
	Rays        []Ray     // sightings
	Covered     []Strip   // ground searched without a find
	NoGo        []Zone    // ground that must not be entered
	Outlines    []Zone    // the field and named places
	Barriers    []Line    // lines that cannot be crossed on foot
	Crossings   []Spot    // where they can be: gates, stiles, bridges
	Covers      []Zone    // ground by its cover class, which is the name
	Parts       []Part    // shed parts with maps of their own
	Cautions    []string  // what to say beside every map
	Contacts    []string  // who to call, a line each; nil: lines to fill in
	Declination *float64  // degrees, east positive, at the pad; nil: not known
	Plan        *Plan     // nil: no search plan

	worked *worked // filled by ready
}

// Spot is a likely place.
type Spot struct {
	Name string
	At   geo.XY
	P    float64 // chance of lying within the spot's cell; 0: not said
}

// Ray is a sighting: a bearing from a place.
type Ray struct {
	By         string
	From       geo.XY
	BearingDeg float64 // degrees true
	SpreadDeg  float64 // standard deviation; the wedge spans two to each side
	Length     float64 // m; 0: to the edge of the map
	Text       string  // one line: time, event, elevation
}

// Strip is ground covered along a path.
type Strip struct {
	By    string
	Path  []geo.XY
	Width float64 // m across; 0: not known
	POD   float64 // chance to have seen the thing inside; 0: not said
}

// Zone is a named piece of ground.
type Zone struct {
	Name  string
	For   string // no-go ground: all, walkers or drones; "" is all
	Shape plane.Polygons
}

// Line is a named line.
type Line struct {
	Name string
	Path []geo.XY
}

// Part is a part that may come off, and where it lies.
type Part struct {
	Name   string
	Chance float64 // that it comes off; 0: not said
	Mean   geo.XY
	Areas  []grid.Area // where it lies if it does
}

// Plan is a search plan.
type Plan struct {
	Begin      time.Time // when minute 0 is; zero: the files carry no times
	Minutes    float64
	POS        float64 // chance to find it by following the plan
	UpperBound float64 // chance that no plan of the same effort can beat
	Enough     Enough  // the point after which little is gained; zero: not said
	Searchers  []Route
}

// Enough is a point of a plan: until Minutes the chance POS is found.
type Enough struct{ Minutes, POS float64 }

// Route is the way of one searcher.
type Route struct {
	Name       string
	Kind       string // walker or drone
	Start      geo.XY
	StartName  string  // such as "car park"; may be empty
	SweepWidth float64 // m
	Minutes    float64
	Height     float64  // m above ground; drones only
	Pace       float64  // m; 0: not given
	Abreast    []string // who goes side by side with them
	Free       bool     // nothing worthwhile is left for them after Minutes
	Blocks     []Block  // in the order they are walked; nil: the route is told leg by leg
	Legs       []Leg

	nth int // from 1: gives the letter and the colour; 0 until ready
}

// Search is the Kind of a leg that looks for the thing; the others lead there,
// back, or stay: transit, return, recharge.
const Search = "search"

// Leg is one straight piece of a route.
type Leg struct {
	N                int
	Kind             string // Search, transit, return or recharge
	From, To         geo.XY
	StartMin, EndMin float64
	Block            string  // name of its block; "": on a way
	Cover            string  // class of the ground; "": not said
	SweepWidth       float64 // m
	POA, POD, POS    float64
}

// Block is ground that a searcher covers in parallel lanes, or in an expanding
// rectangle. Bearings in degrees true.
type Block struct {
	Name               string
	Rectangle          bool    // expanding: each course a spacing outside the fourth before it
	Lanes              int     // or courses
	Lane, Spacing      float64 // m; of a rectangle, its first course
	Out, Back, Side    float64 // bearing of the first lane, of the second, and from the first to it
	Begin, End         geo.XY
	StartMin, EndMin   float64
	POA, POD, POS, Sum float64 // Sum: all that the searcher has found by its end
}
