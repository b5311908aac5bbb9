package blocks

import (
	"math"

	"windfall/geo"
)

// ways knows how long it takes to get about between blocks: shared by all axes,
// on a coarse grid of the map's frame.
type ways struct {
	task        *Task
	west, south float64
	cell        float64 // m
	nx, ny      int
	pace        []float64 // by cell, over that on open ground; nil: 1 everywhere
	z           []float64 // m, NaN where not known; nil: level
}

// wayCell is the least side of a cell (m), wayCells the most cells.
const (
	wayCell  = 20.0
	wayCells = 20000
)

func newWays(t *Task, cells []int) *ways {
	w := &ways{task: t}
	if t.Class == nil && t.Elevation == nil {
		return w
	}
	x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	add := func(q geo.XY) {
		x0, x1, y0, y1 = math.Min(x0, q.X), math.Max(x1, q.X), math.Min(y0, q.Y), math.Max(y1, q.Y)
	}
	for _, c := range cells {
		add(t.Map.Centre(c%t.Map.NX, c/t.Map.NX))
	}
	for i := range t.Searchers {
		add(t.Searchers[i].At)
		add(t.Searchers[i].Start)
	}
	w.cell = math.Max(wayCell, math.Sqrt((x1-x0+100)*(y1-y0+100)/wayCells))
	w.west, w.south = x0-50, y0-50
	w.nx, w.ny = int((x1-x0+100)/w.cell)+1, int((y1-y0+100)/w.cell)+1
	w.fill()
	return w
}

func (w *ways) fill() {
	pace := paces(w.task)
	if w.task.Class != nil {
		w.pace = make([]float64, w.nx*w.ny)
	}
	if w.task.Elevation != nil {
		w.z = make([]float64, w.nx*w.ny)
	}
	for c := range w.nx * w.ny {
		q := geo.XY{X: w.west + (float64(c%w.nx)+0.5)*w.cell, Y: w.south + (float64(c/w.nx)+0.5)*w.cell}
		if w.pace != nil {
			w.pace[c] = pace[w.task.Class(q)]
		}
		if w.z != nil {
			z, ok := w.task.Elevation(q)
			if w.z[c] = z; !ok {
				w.z[c] = math.NaN()
			}
		}
	}
}

// legs appends the straight parts of the way from a to b with how long (s) each
// takes; ok is false when there is no way.
func (w *ways) legs(s *Searcher, a, b geo.XY, out []leg) (legs []leg, ok bool) {
	world := w.task.world(s)
	if world.Way == nil {
		return append(out, leg{a, b, w.straight(s, a, b)}), true
	}
	corners, ok := world.Way(a, b)
	if !ok {
		return out, false
	}
	for _, q := range corners {
		out = append(out, leg{a, q, w.straight(s, a, q)})
		a = q
	}
	return out, true
}

// leg is a straight part of a way.
type leg struct {
	a, b geo.XY
	sec  float64
}

// straight is the same along a straight line.
func (w *ways) straight(s *Searcher, a, b geo.XY) float64 {
	d := b.Sub(a)
	n := d.Norm()
	if !s.Foot || w.pace == nil && w.z == nil || n == 0 {
		return n / s.Speed[0]
	}
	k := int(n/w.cell) + 1
	var sum float64
	last := math.NaN()
	for i := range k {
		c := w.at(a.Add(d.Scale((float64(i) + 0.5) / float64(k))))
		pace := 1.0
		if w.pace != nil {
			pace = w.pace[c]
		}
		if w.z != nil {
			if i > 0 && w.task.Slope != nil && !math.IsNaN(w.z[c]-last) {
				pace *= w.task.Slope((w.z[c] - last) * float64(k) / n)
			}
			last = w.z[c]
		}
		sum += 1 / pace
	}
	return sum / float64(k) * n / s.Speed[0]
}

func (w *ways) at(q geo.XY) int {
	i := max(0, min(w.nx-1, int((q.X-w.west)/w.cell)))
	j := max(0, min(w.ny-1, int((q.Y-w.south)/w.cell)))
	return j*w.nx + i
}
