package grid

import (
	"cmp"
	"math"
	"slices"

	"windfall/geo"
)

// Area returns the area in m2 of the highest-density area of probability p, as
// Contours draws it.
func (m *Map) Area(p float64) float64 { return m.Contours([]float64{p})[0].AreaM2 }

// LevelAt returns the probability of the highest-density area whose edge passes
// through q: the mass of all that is denser. Outside the grid it is 1.
func (m *Map) LevelAt(q geo.XY) float64 {
	b := m.box()
	d := b.at(m.P, q.X, q.Y)
	if _, _, ok := m.At(q); !ok || d <= 0 {
		return 1
	}
	return math.Min(1, m.denser(d))
}

func (m *Map) box() box {
	return box{west: m.West, south: m.South, cell: m.Cell, nx: m.NX, ny: m.NY}
}

// parts is how finely a square between four centres is cut where a level
// crosses it.
const parts = 4

// denser returns the mass where the map, linear between cell centres, is above
// the cell mass d.
func (m *Map) denser(d float64) float64 {
	var sum float64
	for j := -1; j < m.NY; j++ {
		for i := -1; i < m.NX; i++ {
			a, b, c, e := m.corners(i, j)
			lo, hi := min(a, b, c, e), max(a, b, c, e)
			if hi <= d {
				continue
			}
			if lo > d {
				sum += (a + b + c + e) / 4
				continue
			}
			for v := 0.5 / parts; v < 1; v += 1.0 / parts {
				left, right := a+(c-a)*v, b+(e-b)*v
				for u := 0.5 / parts; u < 1; u += 1.0 / parts {
					if f := left + (right-left)*u; f > d {
						sum += f / (parts * parts)
					}
				}
			}
		}
	}
	return sum
}

// corners returns the masses of the cells (i, j), (i+1, j), (i, j+1) and
// (i+1, j+1); 0 beyond the edge.
func (m *Map) corners(i, j int) (a, b, c, e float64) {
	get := func(i, j int) float64 {
		if i < 0 || j < 0 || i >= m.NX || j >= m.NY {
			return 0
		}
		return m.P[j*m.NX+i]
	}
	return get(i, j), get(i+1, j), get(i, j+1), get(i+1, j+1)
}

// thresholds returns for each of ps the cell mass d whose denser part has mass
// p; 0 when no area of the grid has that much.
func (m *Map) thresholds(ps []float64) []float64 {
	order := ByChance(m.P)
	out := make([]float64, len(ps))
	for k, p := range ps {
		var sum float64
		for _, c := range order {
			if sum+m.P[c] >= p {
				out[k] = m.refine(m.P[c], p)
				break
			}
			sum += m.P[c]
		}
	}
	return out
}

// ByChance returns the indices of the masses above zero, the greatest first;
// of equal ones the first stands first.
func ByChance(masses []float64) []int {
	order := make([]int, 0, len(masses))
	for i, v := range masses {
		if v > 0 {
			order = append(order, i)
		}
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Or(cmp.Compare(masses[b], masses[a]), a-b) })
	return order
}

// refine moves d until the mass above it is p, to 1e-5: by the rule of false
// position in the logarithm of d, halving where that stalls.
func (m *Map) refine(d, p float64) float64 {
	lo, hi := math.Log(d/2), math.Log(d*2) // more than p above lo, less above hi
	at, above := math.Log(d), m.denser(d)-p
	over, under := 1-p, -p // what is above lo and hi, less p; at first only bounds
	for range 30 {
		if math.Abs(above) < 1e-5 {
			break
		}
		if above > 0 {
			lo, over = at, above
		} else {
			hi, under = at, above
		}
		share := over / (over - under)
		if share < 0.05 || share > 0.95 || over == 1-p || under == -p {
			share = 0.5
		}
		at = lo + share*(hi-lo)
		above = m.denser(math.Exp(at)) - p
	}
	return math.Exp(at)
}
