package mapfile

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"windfall/geo"
	"windfall/geo/grid"
	"windfall/geo/plane"
)

// levels returns for each cell the probability of the smallest ground that
// holds the cell: 0 in the likeliest, toward 1 in the least likely. Cells
// without any chance get 2.
func levels(m *grid.Map) []float64 {
	out := make([]float64, len(m.P))
	for i := range out {
		out[i] = 2
	}
	sum := 0.0
	for _, i := range grid.ByChance(m.P) {
		out[i] = sum + m.P[i]/2
		sum += m.P[i]
	}
	return out
}

// worked is what every writer needs of a landing.
type worked struct {
	levels []float64 // of Chance's cells; nil without it
	spots  []Spot    // Spots, or else up to three of Chance
	extent plane.Box
	reach  float64 // m, how far a sighting is drawn: across the whole extent
}

// ready returns l with what the writers need worked out once.
func (l *Landing) ready() *Landing {
	if l.worked != nil {
		return l
	}
	c := *l
	w := &worked{spots: l.Spots}
	c.worked = w
	if l.Chance != nil {
		w.levels = levels(l.Chance)
		if l.Spots == nil {
			w.spots = peaks(l.Chance, w.levels, 3)
		}
	}
	if l.Plan != nil {
		p := *l.Plan
		p.Searchers = slices.Clone(p.Searchers)
		for i := range p.Searchers {
			p.Searchers[i].nth = cmp.Or(p.Searchers[i].nth, i+1)
		}
		c.Plan = &p
	}
	w.extent = c.findExtent()
	w.reach = math.Ceil(w.extent.Size().Norm()/100) * 100
	return &c
}

func (l *Landing) spots() []Spot     { return l.worked.spots }
func (l *Landing) extent() plane.Box { return l.worked.extent }
func (l *Landing) reach() float64    { return l.worked.reach }

// peaks returns up to n likely places of m, best first: the cells denser than
// all others within half the width of the half-mass ground, as far as they are
// a tenth as dense as the first.
func peaks(m *grid.Map, lv []float64, n int) []Spot {
	half := 0
	for _, v := range lv {
		if v < 0.5 {
			half++
		}
	}
	r := max(2, int(0.5*math.Sqrt(float64(half))))
	order := make([]int, 0, len(lv))
	for k, v := range lv {
		if v < 1 {
			order = append(order, k)
		}
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Or(cmp.Compare(lv[a], lv[b]), a-b) })
	var out []Spot
	taken := make([]bool, len(lv)) // within r of a denser cell
	for _, k := range order {
		if len(out) == n || len(out) > 0 && m.P[k] < 0.1*out[0].P {
			break
		}
		if !taken[k] {
			out = append(out, Spot{Name: fmt.Sprintf("likely spot %d", len(out)+1), At: m.Centre(k%m.NX, k/m.NX), P: m.P[k]})
		}
		cover(m, taken, k, r, !taken[k])
	}
	return out
}

// cover marks what lies around cell k: the cells within r of a peak, or of any
// other cell its neighbours alone, so that a slope leads no cell to be a peak.
func cover(m *grid.Map, taken []bool, k, r int, peak bool) {
	if !peak {
		r = 1
	}
	for j := max(0, k/m.NX-r); j <= min(m.NY-1, k/m.NX+r); j++ {
		for i := max(0, k%m.NX-r); i <= min(m.NX-1, k%m.NX+r); i++ {
			taken[j*m.NX+i] = true
		}
	}
}

// findExtent returns the box around what matters, in m of the frame: the pad, the
// areas, the plan; without margins and never empty.
func (l *Landing) findExtent() plane.Box {
	b := plane.Box{}
	grow := func(q geo.XY) { b = b.Extend(q) }
	for _, q := range []*geo.XY{l.Nominal, l.Mean} {
		if q != nil {
			grow(*q)
		}
	}
	for _, a := range l.Areas {
		if len(a.Shape) > 0 {
			b = b.Union(a.Shape.Bound())
		}
	}
	if len(l.Areas) == 0 {
		for i := range l.Ellipses {
			b = b.Union(l.ellipse(i).Bound())
		}
	}
	for _, s := range l.spots() {
		grow(s.At)
	}
	for _, p := range l.Parts {
		grow(p.Mean)
	}
	for _, r := range l.Rays {
		grow(r.From)
	}
	if l.Plan != nil {
		for _, r := range l.Plan.Searchers {
			grow(r.Start)
			for _, g := range r.Legs {
				grow(g.From)
				grow(g.To)
			}
		}
	}
	if b.Size().X < 50 {
		b.Min.X, b.Max.X = b.Min.X-25, b.Max.X+25
	}
	if b.Size().Y < 50 {
		b.Min.Y, b.Max.Y = b.Min.Y-25, b.Max.Y+25
	}
	return b
}
