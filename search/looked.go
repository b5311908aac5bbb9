package search

import (
	"fmt"
	"math"
	"slices"

	"windfall/geo"
	"windfall/geo/grid"
	"windfall/geo/plane"
)

// Looked is ground that a picture showed, with the chance (0 to 1) that the
// target, had it lain there, would have been found in it.
type Looked struct {
	Ground plane.Polygon
	Chance float64
}

// Survey is ground looked at in pictures.
type Survey struct {
	Areas []Looked
	Open  []Round // places where something was found that nobody has judged yet
}

// Round is the ground within a radius (m) of a place.
type Round struct {
	At     geo.XY
	Radius float64
}

// Unseen returns a function that gives the probability that a target at a point
// is in none of what the pictures showed. Of several looks at one place the
// best alone counts: what hides a thing from one hides it from the next.
func (v Survey) Unseen() func(geo.XY) float64 {
	const side = 50.0 // m of an index cell
	type key struct{ i, j int }
	cell := func(q geo.XY) key { return key{int(math.Floor(q.X / side)), int(math.Floor(q.Y / side))} }
	index := map[key][]int{}
	for n, a := range v.Areas {
		b := a.Ground.Bound()
		lo, hi := cell(b.Min), cell(b.Max)
		for j := lo.j; j <= hi.j; j++ {
			for i := lo.i; i <= hi.i; i++ {
				index[key{i, j}] = append(index[key{i, j}], n)
			}
		}
	}
	return func(q geo.XY) float64 {
		seen := 0.0
		for _, n := range index[cell(q)] {
			if a := &v.Areas[n]; a.Chance > seen && a.Ground.Contains(q) {
				seen = a.Chance
			}
		}
		for _, o := range v.Open {
			if seen > 0 && o.At.Sub(q).Norm() <= o.Radius {
				return 1
			}
		}
		return 1 - seen
	}
}

// lookedStep is how far apart the points of a cell are, at most, that are asked
// whether they were looked at, m; a cell has at least leastParts a side.
const (
	lookedStep = 2.0
	leastParts = 4
)

// LookedAt returns the map after the looks found nothing, by Bayes, and the
// chance they had to find the target (their POS on the map before).
func LookedAt(m *grid.Map, v Survey) (*grid.Map, float64, error) {
	if err := checkMap(m); err != nil {
		return nil, 0, err
	}
	box := plane.Empty()
	for _, a := range v.Areas {
		box = box.Union(a.Ground.Bound())
	}
	box = box.Pad(m.Cell)
	unseen, parts := v.Unseen(), max(leastParts, 2*int(math.Ceil(m.Cell/(2*lookedStep))))
	out := *m
	out.P = slices.Clone(m.P)
	left := m.Outside
	for c, p := range m.P {
		if mid := m.Centre(c%m.NX, c/m.NX); p > 0 && box.Contains(mid) {
			out.P[c] = p * meanOver(unseen, mid, m.Cell, parts)
		}
		left += out.P[c]
	}
	pos := max(0, 1-left)
	if left <= 1e-12 {
		return nil, pos, fmt.Errorf("the pictures leave no chance anywhere: they rule out the whole map")
	}
	for c := range out.P {
		out.P[c] /= left
	}
	out.Outside = m.Outside / left
	return &out, pos, nil
}

// meanOver is the mean of a function over parts by parts points of a square.
func meanOver(f func(geo.XY) float64, mid geo.XY, side float64, parts int) float64 {
	at := func(n int) float64 { return side * ((float64(n)+0.5)/float64(parts) - 0.5) }
	sum := 0.0
	for k := range parts * parts {
		sum += f(mid.Add(geo.XY{X: at(k % parts), Y: at(k / parts)}))
	}
	return sum / float64(parts*parts)
}
