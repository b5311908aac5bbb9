package grid

import (
	"cmp"
	"math"
	"slices"

	"windfall/geo"
	"windfall/geo/plane"
)

// Area is a highest-density area: the least ground that holds a probability.
type Area struct {
	Probability float64
	AreaM2      float64
	Shape       plane.Polygons // outer rings anticlockwise, holes clockwise
}

// Contours returns the highest-density areas of probabilities ps, in that
// order. A ring is the level line of the map taken linear between cell centres
// (marching squares; a saddle is settled by the mean of its four corners), and
// never crosses or touches another. Where the grid holds less than p, the area
// is all of the grid that has any mass: a lower bound.
func (m *Map) Contours(ps []float64) []Area {
	out := make([]Area, len(ps))
	for k, d := range m.thresholds(ps) {
		if d == 0 {
			d = math.SmallestNonzeroFloat64
		}
		out[k] = Area{Probability: ps[k], Shape: nest(m.rings(d))}
		out[k].AreaM2 = out[k].Shape.Area()
	}
	return out
}

// edge names a side of the lattice of cell centres: from centre (i, j) toward
// east (up false) or north.
type edge struct {
	i, j int32
	up   bool
}

// rings returns the closed level lines of d, higher ground on the left.
func (m *Map) rings(d float64) []plane.Ring {
	next := make(map[edge]edge)
	for j := -1; j < m.NY; j++ {
		for i := -1; i < m.NX; i++ {
			m.square(next, i, j, d)
		}
	}
	starts := make([]edge, 0, len(next))
	for e := range next {
		starts = append(starts, e)
	}
	slices.SortFunc(starts, func(a, b edge) int {
		if a.j != b.j {
			return int(a.j - b.j)
		}
		if a.i != b.i {
			return int(a.i - b.i)
		}
		if a.up == b.up {
			return 0
		}
		if b.up {
			return -1
		}
		return 1
	})
	var out []plane.Ring
	for _, s := range starts {
		var ring plane.Ring
		for e, ok := s, true; ok; {
			to, more := next[e]
			if !more {
				break
			}
			ring = append(ring, m.crossing(e, d))
			delete(next, e)
			e, ok = to, to != s
		}
		if len(ring) > 2 {
			out = append(out, append(ring, ring[0]))
		}
	}
	return out
}

// square links the crossings of the lattice square whose south-west corner is
// centre (i, j).
func (m *Map) square(next map[edge]edge, i, j int, d float64) {
	a, b, c, e := m.corners(i, j) // SW, SE, NW, NE
	kind := 0
	for bit, v := range [4]float64{a, b, e, c} {
		if v >= d {
			kind |= 1 << bit
		}
	}
	if kind == 0 || kind == 15 {
		return
	}
	x, y := int32(i), int32(j)
	s, n := edge{x, y, false}, edge{x, y + 1, false}
	w, t := edge{x, y, true}, edge{x + 1, y, true} // t: the east side
	high := (a+b+c+e)/4 >= d
	switch kind {
	case 1: // SW
		next[s] = w
	case 2: // SE
		next[t] = s
	case 3:
		next[t] = w
	case 4: // NE
		next[n] = t
	case 5: // SW and NE
		if high {
			next[s], next[n] = t, w
		} else {
			next[s], next[n] = w, t
		}
	case 6:
		next[n] = s
	case 7:
		next[n] = w
	case 8: // NW
		next[w] = n
	case 9:
		next[s] = n
	case 10: // SE and NW
		if high {
			next[t], next[w] = n, s
		} else {
			next[t], next[w] = s, n
		}
	case 11:
		next[t] = n
	case 12:
		next[w] = t
	case 13:
		next[s] = t
	case 14:
		next[w] = s
	}
}

// crossing returns where the level d crosses an edge, kept clear of the ends
// so that rings never meet at a centre.
func (m *Map) crossing(e edge, d float64) geo.XY {
	i, j := int(e.i), int(e.j)
	a, b, c, _ := m.corners(i, j)
	p := m.Centre(i, j)
	if e.up {
		b = c
	}
	u := math.Min(1-1e-4, math.Max(1e-4, (d-a)/(b-a)))
	if e.up {
		return geo.XY{X: p.X, Y: p.Y + u*m.Cell}
	}
	return geo.XY{X: p.X + u*m.Cell, Y: p.Y}
}

// nest makes polygons of rings, the greatest first: each clockwise ring is a
// hole in the smallest anticlockwise one about it.
func nest(rings []plane.Ring) plane.Polygons {
	type sized struct {
		ring plane.Ring
		m2   float64
	}
	var outer []sized
	var holes []plane.Ring
	for _, r := range rings {
		if a := r.Area(); a > 0 {
			outer = append(outer, sized{r, a})
		} else {
			holes = append(holes, r)
		}
	}
	slices.SortStableFunc(outer, func(a, b sized) int { return cmp.Compare(b.m2, a.m2) })
	out := make(plane.Polygons, len(outer))
	for k, o := range outer {
		out[k] = plane.Polygon{o.ring}
	}
	for _, h := range holes {
		for k := len(out) - 1; k >= 0; k-- {
			if p := out[k][:1]; p.Bound().Contains(h[0]) && p.Contains(h[0]) {
				out[k] = append(out[k], h)
				break
			}
		}
	}
	return out
}
