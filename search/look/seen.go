package look

import (
	"math"
	"slices"
)

// Chances, in hundredths, that a thing is among a picture's candidates when one
// false one is kept for every twelve megapixels, by the pixels that its narrow
// side spans: bright colours and dull ones, rockets, streamers and canopies
// together, its colour said, measured by TestMeasure on photographs of ground
// (docs/pictures.md), evened out by TestTable so that none falls as pixels grow
// and held to mostSeen, since no cell has more than some thirty trials.
var (
	seenPixels = [...]float64{1, 2, 3, 4, 5, 6, 8, 10, 15, 20, 30}
	seen       = map[string][2][len(seenPixels)]float64{
		"dry-grass": {{0, 56, 74, 97, 97, 100, 100, 100, 100, 100, 100}, {0, 0, 20, 25, 56, 75, 75, 86, 86, 86, 100}},
		"earth":     {{0, 56, 82, 82, 95, 95, 95, 95, 95, 100, 100}, {0, 23, 23, 43, 70, 70, 86, 86, 86, 88, 88}},
		"grass":     {{0, 44, 66, 76, 90, 90, 90, 96, 96, 96, 100}, {0, 0, 14, 50, 50, 67, 67, 73, 82, 88, 88}},
		"snow":      {{0, 58, 89, 95, 95, 98, 98, 98, 98, 98, 98}, {0, 33, 33, 54, 54, 54, 75, 81, 81, 81, 81}},
		"stones":    {{0, 46, 58, 58, 88, 94, 94, 94, 94, 94, 100}, {0, 0, 13, 25, 29, 75, 85, 85, 92, 92, 92}},
		"wood":      {{0, 32, 62, 62, 86, 88, 88, 88, 88, 88, 88}, {0, 0, 0, 17, 17, 37, 37, 37, 59, 59, 59}},
	}
)

const mostSeen = 0.97

// grounds tells which measured ground stands for a class of cover.
var grounds = map[string]string{
	"open": "grass", "short grass": "grass", "pasture": "grass", "long grass": "dry-grass",
	"stubble": "dry-grass", "crop": "dry-grass",
	"maize": "dry-grass", "reeds": "dry-grass", "marsh": "dry-grass", "bare": "earth", "road": "stones",
	"sand": "earth", "plough": "earth",
	"vineyard": "earth", "orchard": "wood", "heath": "wood", "scrub": "wood",
	"woodland": "wood", "forest": "wood", "snow": "snow",
}

// dull are the colours of the measurement that the ground has too.
var dull = []string{"green", "brown", "black", "olive", "tan", "beige", "grey", "gray"}

// Seen returns the chance that a thing whose narrow side spans so many pixels is
// among the candidates of a sharp picture, on ground of a cover class that hides
// nothing of it; what plants hide comes on top. colours are as Colours reads
// them: one bright one is enough; none counts as dull.
func Seen(cover string, pixels float64, colours []Colour) float64 {
	ground, ok := grounds[cover]
	if !ok {
		ground = "wood"
	}
	curve := seen[ground][1]
	bright := func(c Colour) bool { return !slices.Contains(dull, c.Name) && (ground != "snow" || c.Name != "white") }
	if slices.ContainsFunc(colours, bright) {
		curve = seen[ground][0]
	}
	last := len(seenPixels) - 1
	if !(pixels > seenPixels[0]) {
		return 0
	}
	for i := range last {
		if pixels <= seenPixels[i+1] {
			t := (pixels - seenPixels[i]) / (seenPixels[i+1] - seenPixels[i])
			return math.Min(mostSeen, (curve[i]+t*(curve[i+1]-curve[i]))/100)
		}
	}
	return math.Min(mostSeen, curve[last]/100)
}
