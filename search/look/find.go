package look

import (
	"image"
	"math"
	"slices"
)

// Thing is the size (m) of something looked for.
type Thing struct{ Long, Wide float64 }

// Options of Find.
type Options struct {
	// Pixel gives the metres that a pixel spans at a place of the picture, 0
	// where the picture shows no ground near enough; nil: sizes are not known,
	// and none is asked for.
	Pixel   func(x, y float64) float64
	Things  []Thing  // what is looked for; none: of any size
	Colours []Colour // of it; none: of any colour
}

// Candidate is a patch of a picture that does not belong to its ground.
type Candidate struct {
	X, Y       float64 // its middle, pixels
	Long, Wide float64 // pixels
	Turn       float64 // radians, of its long side from the x axis toward the y axis
	Colour     [3]uint8
	Cut        bool // the picture's edge cuts it off
	// Score says how odd it is: the decades of its oddest pixel's rarity in its
	// picture and the doublings of its pixels, changed by what is known of the
	// colour. From Worth on it is shown.
	Score float64
}

// Worth is the least score of a candidate. What lies on ground that holds
// nothing reaches 9.4 to 12.9 once in twelve megapixels, by the ground
// (docs/pictures.md): who wants one false candidate a picture keeps the best,
// as many as there are pictures.
const Worth = 9.0

// Decades of rarity of a patch's pixels: its edge and its oddest.
const (
	edgeRarity = 2.6
	seedRarity = 3.2
	// scales are the sizes of pixel, in pixels of the picture, that are looked at.
	firstScale, lastScale = 2, 16
)

// mostKept is how many candidates a picture gives for each 12 megapixels.
const mostKept = 8

// Picture is a picture made ready to be looked at.
type Picture struct {
	size image.Point
	p    *planes
}

// Ready makes a picture ready: three bytes of memory for each of its pixels.
func Ready(m image.Image) *Picture { return &Picture{m.Bounds().Size(), halve(m)} }

// Find returns the picture's candidates, best first.
func (c *Picture) Find(o Options) []Candidate { return c.find(o, Worth) }

// find is Find with another least score.
func (c *Picture) find(o Options, worth float64) []Candidate {
	p := c.p
	if p.w < 4*block || p.h < 4*block {
		return nil
	}
	var all []region
	for s := firstScale; s <= lastScale && min(p.w, p.h) >= 4*block; s *= 2 {
		odd := oddness(p, 1)
		all = append(all, odd.regions(s, edgeRarity, seedRarity)...)
		p = p.shrink()
	}
	var out []Candidate
	for _, r := range all {
		if k := r.candidate(o); o.fits(r) && k.Score >= worth {
			out = append(out, k)
		}
	}
	out = apart(out, o)
	most := mostKept * (1 + c.size.X*c.size.Y/12e6)
	return out[:min(len(out), most)]
}

func (r region) candidate(o Options) Candidate {
	c := Candidate{X: r.x, Y: r.y, Long: r.long, Wide: r.wide, Turn: r.turn, Colour: srgb(r.col), Cut: r.cut}
	c.Score = r.peak + math.Log2(float64(r.n)) + favour(o.Colours, r.col)
	return c
}

// How far from the size looked for a patch may be: its edges are soft, a
// canopy lies crumpled, a streamer wound, and grass hides ends.
const (
	tooLarge = 1.8
	tooSmall = 0.1 // of the area
)

// fits tells whether a patch may be one of the things.
func (o Options) fits(r region) bool {
	if o.Pixel == nil {
		return true
	}
	px := o.Pixel(r.x, r.y)
	if !(px > 0) {
		return false
	}
	if len(o.Things) == 0 {
		return true
	}
	soft := float64(2 * r.scale) // a patch of coarse pixels is measured coarsely
	for _, t := range o.Things {
		long, wide := t.Long/px, t.Wide/px
		area := float64(r.n * r.scale * r.scale)
		if r.long <= tooLarge*long+soft && r.wide <= max(tooLarge*wide, long/2)+soft && area >= tooSmall*long*wide {
			return true
		}
	}
	return false
}

// apart keeps the best of candidates that lie on each other: one thing shows at
// several sizes of pixel, and in pieces.
func apart(cs []Candidate, o Options) []Candidate {
	slices.SortStableFunc(cs, func(a, b Candidate) int {
		switch {
		case a.Score > b.Score:
			return -1
		case a.Score < b.Score:
			return 1
		}
		return 0
	})
	var out []Candidate
	for _, c := range cs {
		if !slices.ContainsFunc(out, func(k Candidate) bool { return math.Hypot(k.X-c.X, k.Y-c.Y) < o.near(k) }) {
			out = append(out, c)
		}
	}
	return out
}

// near is how close another patch is to be taken as the same thing, pixels.
func (o Options) near(c Candidate) float64 {
	d := max(c.Long, 24)
	if o.Pixel == nil {
		return d
	}
	for _, t := range o.Things {
		if px := o.Pixel(c.X, c.Y); px > 0 {
			d = max(d, t.Long/px)
		}
	}
	return d
}
