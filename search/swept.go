package search

import (
	"fmt"
	"math"

	"windfall/geo"
	"windfall/geo/grid"
	"windfall/geo/ground"
	"windfall/search/detect"
)

// Pass is a straight way that was gone over, with its sweep width (m).
type Pass struct {
	A, B  geo.XY
	Width float64

	Unseen float64 // share of targets there that nobody can see, however often they look
}

// Passes cuts lines gone over by a searcher at the edges of covers and gives
// every piece its sweep width, as a plan would.
func Passes(lines [][]geo.XY, s Searcher, tg Target, g *ground.Ground) []Pass {
	t := newTerra(g, nil)
	a := &agent{Searcher: s, t: t}
	a.widths(tg)
	var out []Pass
	for _, l := range lines {
		for i := 1; i < len(l); i++ {
			for _, pc := range t.split(l[i-1], l[i]) {
				if a.width[pc.class] > 0 {
					out = append(out, Pass{pc.a, pc.b, a.width[pc.class], a.unseen[pc.class]})
				}
			}
		}
	}
	return out
}

// Searched returns the map after the passes found nothing, by Bayes, and the
// chance they had to find it (their POS on the map before).
func Searched(m *grid.Map, law detect.Law, passes []Pass) (*grid.Map, float64, error) {
	if err := checkMap(m); err != nil {
		return nil, 0, err
	}
	if law == "" {
		law = detect.Exponential
	}
	fine := m.Cell
	for _, p := range passes {
		fine = math.Min(fine, math.Max(1, p.Width/accountParts))
	}
	f := newField(m, fine, law)
	var pos float64
	for _, p := range passes {
		_, found, _ := f.pass(p.A, p.B, p.Width, p.Unseen)
		pos += found
	}
	left := f.sum() + m.Outside
	if left <= 1e-12 {
		return nil, pos, fmt.Errorf("the tracks leave no chance anywhere: they rule out the whole map; " +
			"check the sweep widths")
	}
	out := f.coarse(m)
	for c := range out.P {
		out.P[c] /= left
	}
	out.Outside = m.Outside / left
	return out, pos, nil
}

// Missed returns a function that gives the probability that all the passes miss
// what lies at a point.
func Missed(law detect.Law, passes []Pass) func(geo.XY) float64 {
	const side = 100.0 // m of an index cell
	type key struct{ i, j int }
	index := map[key][]int{}
	for n, p := range passes {
		r := law.Range(p.Width)
		x0, x1 := math.Min(p.A.X, p.B.X)-r, math.Max(p.A.X, p.B.X)+r
		y0, y1 := math.Min(p.A.Y, p.B.Y)-r, math.Max(p.A.Y, p.B.Y)+r
		for j := int(math.Floor(y0 / side)); j <= int(math.Floor(y1/side)); j++ {
			for i := int(math.Floor(x0 / side)); i <= int(math.Floor(x1/side)); i++ {
				index[key{i, j}] = append(index[key{i, j}], n)
			}
		}
	}
	return func(q geo.XY) float64 {
		miss, unseen := 1.0, 0.0
		for _, n := range index[key{int(math.Floor(q.X / side)), int(math.Floor(q.Y / side))}] {
			p := passes[n]
			d, e := p.B.Sub(p.A), q.Sub(p.A)
			len2 := d.X*d.X + d.Y*d.Y
			if len2 == 0 {
				continue
			}
			if s := (e.X*d.X + e.Y*d.Y) / len2; s >= 0 && s < 1 {
				if m := law.PassMiss(p.Width, (e.X*d.Y-e.Y*d.X)/math.Sqrt(len2)); m < 1 {
					miss *= m
					unseen = math.Max(unseen, p.Unseen)
				}
			}
		}
		return unseen + (1-unseen)*miss
	}
}
