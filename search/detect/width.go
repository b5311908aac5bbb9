package detect

import (
	"math"
	"sort"
	"strings"
)

// Visibility is how an object stands out from its ground.
type Visibility string

// The classes of visibility.
const (
	High   Visibility = "high"
	Medium Visibility = "medium"
	Low    Visibility = "low"
	Any    Visibility = "" // colour not said
)

// Sweep width over the mean range of detection Rd: 1.645 over all objects, and
// by visibility. Koester, Chiacchia, Twardy, Cooper, Frost and Robe, Use of the
// visual range of detection to estimate effective sweep width for land search
// and rescue based on 10 detection experiments in North America, Wilderness &
// Environmental Medicine 25, 2014. The low-visibility fit is weak (R2 0.32).
const (
	factorAll    = 1.645
	factorHigh   = 1.773
	factorMedium = 1.556
	factorLow    = 1.135
)

// Factor returns W/Rd for a class of visibility.
func (v Visibility) Factor() float64 {
	switch v {
	case High:
		return factorHigh
	case Medium:
		return factorMedium
	case Low:
		return factorLow
	}
	return factorAll
}

// ColourVisibility sorts a colour as written into a class of visibility: a
// choice of ours, after the test objects of the source (orange and other
// signal colours high, blue and white medium, green, black and camouflage
// low). A colour not known, or none, is Any.
func ColourVisibility(colour string) Visibility {
	best := Any
	for _, w := range strings.FieldsFunc(strings.ToLower(colour), func(r rune) bool { return r < 'a' || r > 'z' }) {
		switch w {
		case "orange", "red", "pink", "magenta", "yellow", "lime", "fluorescent", "neon", "dayglo":
			return High // one bright part is what the eye meets first
		case "white", "blue", "purple", "violet", "silver", "gold", "cyan", "turquoise":
			best = Medium
		case "green", "black", "brown", "grey", "gray", "tan", "beige", "olive", "camouflage", "camo", "clear", "natural":
			if best == Any {
				best = Low
			}
		}
	}
	return best
}

// Cover is what the program takes for granted about a class of ground: choices
// of ours, no source; a one-minute test on the ground replaces Rd.
type Cover struct {
	Rd    float64 // m, range at which a walker first sees a rocket a metre and a half long
	Pace  float64 // walking speed over that on short grass
	Above float64 // share of what a camera overhead could see that the plants leave visible

	// Unseen is the share of targets that nobody can see there at all, however
	// often they look: hung up in a tree, sunk between stems.
	Unseen float64
	// Hides says that what stands there hides the target whatever its size and
	// colour: a range measured elsewhere does not widen the default.
	Hides bool
}

// sight is range, pace and share from above of a Cover.
type sight struct{ rd, pace, above float64 }

var covers = map[string]sight{
	"open":          {25, 1, 0.95},
	"short grass":   {25, 1, 0.95},
	"bare":          {30, 1, 0.95},
	"road":          {30, 1, 0.95},
	"sand":          {30, 0.9, 0.95},
	"stubble":       {18, 0.95, 0.9},
	"plough":        {18, 0.8, 0.9},
	"pasture":       {20, 1, 0.9},
	"long grass":    {10, 0.85, 0.7},
	"heath":         {10, 0.8, 0.7},
	"heather":       {7, 0.75, 0.6},
	"bracken":       {4, 0.6, 0.3},
	"rushes":        {6, 0.65, 0.5},
	"reeds":         {5, 0.6, 0.4},
	"marsh":         {10, 0.6, 0.6},
	"crop":          {7, 0.8, 0.5},
	"standing crop": {5, 0.7, 0.4},
	"maize":         {4, 0.7, 0.3},
	"vineyard":      {10, 0.85, 0.6},
	"orchard":       {12, 0.9, 0.4},
	"scrub":         {8, 0.65, 0.5},
	"woodland":      {10, 0.75, 0.15},
	"forest":        {8, 0.7, 0.1},
	"other":         {10, 0.8, 0.5},
}

// unseen is Cover.Unseen by class, 0 elsewhere: choices of ours, no source.
var unseen = map[string]float64{
	"woodland": 0.15, "forest": 0.15, "orchard": 0.05, "heather": 0.05, "bracken": 0.1, "reeds": 0.1, "rushes": 0.05,
	"standing crop": 0.05, "maize": 0.05,
}

// hides are the classes of Cover.Hides.
var hides = map[string]bool{"woodland": true, "forest": true, "orchard": true}

// CoverOf returns the defaults of a class; known is false when the class is
// not in the list and those of "other" stand in.
func CoverOf(class string) (c Cover, known bool) {
	v, known := covers[class]
	if !known {
		v = covers["other"]
	}
	return Cover{Rd: v.rd, Pace: v.pace, Above: v.above, Unseen: unseen[class], Hides: hides[class]}, known
}

// Classes lists the cover classes with defaults, sorted.
func Classes() []string {
	out := make([]string, 0, len(covers))
	for c := range covers {
		out = append(out, c)
	}
	sort.Strings(out)
	return out
}

// RangeIn returns Rd (m) in a class of cover: what was measured there, else the
// class's default scaled by how the measured ranges compare with the defaults
// of their classes (geometric mean), else the default scaled by the object's
// size against 1.5 m by 75 mm, in proportion to the square root of its side
// area and at most by 2 either way; where trees hide it, neither makes the
// default wider. measured tells the first case. "open" and
// "short grass" stand for each other.
func RangeIn(class string, seenAt map[string]float64, length, width float64) (rd float64, measured bool) {
	if r, ok := seenAt[class]; ok {
		return r, true
	}
	switch class {
	case "open":
		if r, ok := seenAt["short grass"]; ok {
			return r, true
		}
	case "short grass":
		if r, ok := seenAt["open"]; ok {
			return r, true
		}
	}
	c, _ := CoverOf(class)
	if len(seenAt) > 0 {
		names := make([]string, 0, len(seenAt))
		for k := range seenAt {
			names = append(names, k)
		}
		sort.Strings(names)
		var sum float64
		for _, k := range names {
			o, _ := CoverOf(k)
			sum += math.Log(seenAt[k] / o.Rd)
		}
		scale := math.Exp(sum / float64(len(names)))
		if c.Hides {
			scale = math.Min(1, scale)
		}
		return c.Rd * scale, false
	}
	scale := 1.0
	if length > 0 && width > 0 {
		scale = math.Min(2, math.Max(0.5, math.Sqrt(length*width/(1.5*0.075))))
	}
	if c.Hides {
		scale = math.Min(1, scale)
	}
	return c.Rd * scale, false
}

// Walker returns a walker's sweep width (m) from the range of detection rd (m),
// the object's visibility and the range heardAt (m, 0: none) of a sounder.
// Eye and ear are taken as independent with lateral range curves of the
// inverse-cube form, for which W = sqrt(Ws^2 + Wh^2); the sounder's Wh is
// 1.645 times its range, the factor over all objects.
func Walker(rd float64, v Visibility, heardAt float64) float64 {
	return math.Hypot(v.Factor()*rd, factorAll*heardAt)
}
