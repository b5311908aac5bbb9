// Package grid turns weighted points into a map of chance: a grid of cells,
// each with the probability that the thing sought lies in it, and what lies
// outside. From it come highest-density areas and their contours.
package grid

import "windfall/geo"

// Map is a probability map over square cells of a local frame.
type Map struct {
	Frame   geo.Frame
	West    float64   // m, x of the grid's west edge
	South   float64   // m, y of the grid's south edge
	Cell    float64   // m, side of a cell
	NX, NY  int       // cells toward east and toward north
	P       []float64 // NX*NY masses; cell (i, j) is P[j*NX+i], row 0 southmost
	Outside float64   // mass that no cell holds; sum(P) + Outside = 1
	Smooth  float64   // m, standard deviation of the kernel the points were spread with
}

// Centre returns the middle of cell (i, j).
func (m *Map) Centre(i, j int) geo.XY {
	return geo.XY{X: m.West + (float64(i)+0.5)*m.Cell, Y: m.South + (float64(j)+0.5)*m.Cell}
}

// At returns the indices of the cell that holds q; ok is false outside the grid.
func (m *Map) At(q geo.XY) (i, j int, ok bool) {
	x, y := (q.X-m.West)/m.Cell, (q.Y-m.South)/m.Cell
	if !(x >= 0 && y >= 0 && x < float64(m.NX) && y < float64(m.NY)) {
		return 0, 0, false
	}
	return int(x), int(y), true
}
