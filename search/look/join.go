package look

import (
	"cmp"
	"math"
	"slices"

	"windfall/geo"
)

// Sight is a candidate of one picture on the ground.
type Sight struct {
	Candidate
	Picture int     // which, by number
	At      geo.XY  // m
	Error   float64 // m, one standard deviation each way
	Pixel   float64 // m that a pixel spans there
	Number  int     // for the caller to know it by
}

// Spot is one thing on the ground, in all the pictures that show it.
type Spot struct {
	At     geo.XY
	Error  float64 // m, one standard deviation each way
	Score  float64 // the best sight's, and a little for every doubling of pictures
	Chance float64 // how likely the map holds its place, against the mean of the ground pictured; 0: not said
	Sights []Sight // whole ones first, then best first, each of another picture
}

const (
	joinSDs    = 1.5  // of the places' standard deviations, most of which they share, between two of one thing
	joinColour = 0.12 // Oklab distance of its colours
	joinSize   = 3.0  // ratio of its lengths, where both pictures show it whole
	perTwice   = 0.5  // of score, for twice as many pictures
	// sharedError is the share of a place's error that all pictures of a flight
	// have in common, which more of them do not make less: compass and satellites.
	sharedError = 0.5
)

// Join tells the sights that are one thing as one spot, best first: they lie
// within their errors and its length of each other, are of like colour and size
// and in different pictures.
func Join(sights []Sight) []Spot {
	sights = slices.Clone(sights)
	slices.SortStableFunc(sights, func(a, b Sight) int {
		if a.Cut != b.Cut { // what is whole tells the size of what is cut off
			return map[bool]int{true: 1, false: -1}[a.Cut]
		}
		return cmp.Compare(b.Score, a.Score)
	})
	var spots []Spot
	for _, s := range sights {
		best, near := -1, math.Inf(1)
		for k := range spots {
			d := spots[k].At.Sub(s.At).Norm()
			if d < near && spots[k].takes(s, d) {
				best, near = k, d
			}
		}
		if best < 0 {
			spots = append(spots, Spot{At: s.At, Error: s.Error, Score: s.Score, Sights: []Sight{s}})
			continue
		}
		spots[best].add(s)
	}
	slices.SortStableFunc(spots, func(a, b Spot) int { return cmp.Compare(b.Score, a.Score) })
	return spots
}

func (p *Spot) takes(s Sight, d float64) bool {
	first := p.Sights[0]
	long, short := first.Long*first.Pixel, s.Long*s.Pixel
	if long < short {
		long, short = short, long
	}
	if d > joinSDs*math.Hypot(first.Error, s.Error)+long || !s.Cut && long > joinSize*short {
		return false
	}
	for _, o := range p.Sights {
		if o.Picture == s.Picture {
			return false
		}
	}
	return colourGap(first.Colour, s.Colour) < joinColour
}

func colourGap(a, b [3]uint8) float64 {
	l1, a1, b1 := oklab(a[0], a[1], a[2])
	l2, a2, b2 := oklab(b[0], b[1], b[2])
	l, u, v := float64(l1-l2)/2, float64(a1-a2), float64(b1-b2) // light changes from picture to picture
	return math.Sqrt(l*l + u*u + v*v)
}

// add puts a sight into the spot; places count by the inverse of their squared
// errors.
func (p *Spot) add(s Sight) {
	p.Sights = append(p.Sights, s)
	var sum geo.XY
	weight, least := 0.0, math.Inf(1)
	for _, o := range p.Sights {
		w := 1 / (o.Error*o.Error + 1e-6)
		sum, weight = sum.Add(o.At.Scale(w)), weight+w
		least = min(least, o.Error)
	}
	n := float64(len(p.Sights))
	p.At = sum.Scale(1 / weight)
	p.Error = max(1/math.Sqrt(weight), sharedError*least)
	best := p.Sights[0].Score
	for _, o := range p.Sights {
		best = max(best, o.Score)
	}
	p.Score = best + perTwice*math.Log2(n)
}

// Rank orders spots by their score and the map's chance: chance gives the
// density at a place against the mean over the ground pictured. A tenth of it
// takes one off the score, ten times it adds one; what the map all but rules
// out loses no more than mapMost, because maps are wrong too.
func Rank(spots []Spot, chance func(geo.XY) float64) []Spot {
	spots = slices.Clone(spots)
	for i := range spots {
		spots[i].Chance = chance(spots[i].At)
	}
	slices.SortStableFunc(spots, func(a, b Spot) int { return cmp.Compare(b.Rank(), a.Rank()) })
	return spots
}

// mapMost is the most that the map changes a rank by.
const mapMost = 2.0

// Rank is the score with the map's chance in it.
func (p Spot) Rank() float64 {
	if p.Chance <= 0 {
		return p.Score - mapMost
	}
	return p.Score + max(-mapMost, min(mapMost, math.Log10(p.Chance)))
}
