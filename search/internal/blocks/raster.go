package blocks

import (
	"math"
	"sort"

	"windfall/geo"
	"windfall/geo/grid"
)

// raster is the ground in squares of side h (m) whose rows run along an axis.
// Cell (i, j), i along and j across, is number i*nv+j.
type raster struct {
	o, u, v geo.XY
	h       float64
	nu, nv  int
	p       []float64 // chance
	mass    float64
	class   []uint8 // nil: 0 everywhere
	worlds  [2]*layer
}

// layer is the raster as walkers (0) or drones (1) meet it, in sums along rows
// and across them: cells that must not be entered, and the time to pass at the
// speed of 1 m/s on open, level ground, to either side.
type layer struct {
	offU, offV   []int32      // nil: everywhere free
	slowU, slowV [2][]float64 // nil: as fast everywhere
}

const (
	onFoot = 0
	inAir  = 1
)

func worldOf(s *Searcher) int {
	if s.Foot {
		return onFoot
	}
	return inAir
}

// in returns q in axis coordinates.
func (r *raster) in(q geo.XY) point {
	d := q.Sub(r.o)
	return point{d.X*r.u.X + d.Y*r.u.Y, d.X*r.v.X + d.Y*r.v.Y}
}

// out returns p in the map's frame.
func (r *raster) out(p point) geo.XY {
	return r.o.Add(r.u.Scale(p.u)).Add(r.v.Scale(p.v))
}

func (r *raster) centre(i, j int) geo.XY {
	return r.out(point{(float64(i) + 0.5) * r.h, (float64(j) + 0.5) * r.h})
}

// likely returns the cells of the map that are worth a raster, likeliest first:
// Chance of it, or Ground times what can be swept once if that is less, but no
// less than half.
func likely(t *Task) []int {
	m := t.Map
	var sweep float64 // m2
	for i := range t.Searchers {
		s := &t.Searchers[i]
		sweep += math.Max(0, s.End-s.Begin) * most(s.Speed) * most(s.Width)
	}
	order := make([]int, 0, len(m.P))
	var sum float64
	for c, p := range m.P {
		if p > 0 {
			order = append(order, c)
			sum += p
		}
	}
	sort.SliceStable(order, func(a, b int) bool { return m.P[order[a]] > m.P[order[b]] })
	var got float64
	for k, c := range order {
		got += m.P[c]
		if got > tuned.Chance*sum || got > 0.5*sum && float64(k)*m.Cell*m.Cell > tuned.Ground*sweep {
			return order[:k+1]
		}
	}
	return order
}

func most(vs []float64) float64 {
	out := 0.0
	for _, v := range vs {
		out = math.Max(out, v)
	}
	return out
}

// usual returns the narrowest sweep width that holds on at least a sixth of the
// likely ground, over all searchers.
func usual(t *Task, cells []int) float64 {
	share := map[int]float64{}
	var sum float64
	for k := 0; k < len(cells); k += 1 + len(cells)/2000 {
		c := cells[k]
		n := 0
		if t.Class != nil {
			n = t.Class(t.Map.Centre(c%t.Map.NX, c/t.Map.NX))
		}
		share[n] += t.Map.P[c]
		sum += t.Map.P[c]
	}
	best := math.Inf(1)
	for i := range t.Searchers {
		for n, w := range t.Searchers[i].Width {
			if w > 0 && share[n] >= sum/6 {
				best = math.Min(best, w)
			}
		}
	}
	if math.IsInf(best, 1) {
		return 3 * t.Map.Cell
	}
	return best
}

// newRaster lays the likely cells of the map on a raster along u.
func newRaster(t *Task, cells []int, width float64, u geo.XY, across float64) *raster {
	r := &raster{u: u, v: geo.XY{X: -u.Y, Y: u.X}}
	b := box{math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)}
	for _, c := range cells {
		q := r.in(t.Map.Centre(c%t.Map.NX, c/t.Map.NX))
		b.u0, b.u1 = math.Min(b.u0, q.u), math.Max(b.u1, q.u)
		b.v0, b.v1 = math.Min(b.v0, q.v), math.Max(b.v1, q.v)
	}
	b = b.grow(t.Map.Cell/2 + width/2)
	r.o = r.out(point{b.u0, b.v0})
	r.h = math.Max(width/across, 1)
	for {
		r.nu, r.nv = int(math.Ceil((b.u1-b.u0)/r.h)), int(math.Ceil((b.v1-b.v0)/r.h))
		if r.nu*r.nv <= tuned.MaxCells {
			break
		}
		r.h *= 1.1
	}
	r.spread(t.Map)
	r.classes(t)
	r.worlds = [2]*layer{r.layer(t, t.Foot, true), r.layer(t, t.Air, false)}
	return r
}

// spread samples the map's chance.
func (r *raster) spread(m *grid.Map) {
	k := max(1, min(4, int(math.Ceil(2*r.h/m.Cell))))
	e := r.h / float64(k)
	w := e * e / (m.Cell * m.Cell)
	r.p = make([]float64, r.nu*r.nv)
	for i := range r.nu {
		for j := range r.nv {
			var sum float64
			for a := range k {
				for b := range k {
					q := r.out(point{float64(i)*r.h + (float64(a)+0.5)*e, float64(j)*r.h + (float64(b)+0.5)*e})
					if x, y, ok := m.At(q); ok {
						sum += m.P[y*m.NX+x]
					}
				}
			}
			r.p[i*r.nv+j] = sum * w
		}
	}
	for _, p := range m.P {
		r.mass += p
	}
}

func (r *raster) classes(t *Task) {
	if t.Class == nil {
		return
	}
	r.class = make([]uint8, r.nu*r.nv)
	for i := range r.nu {
		for j := range r.nv {
			n := min(255, t.Class(r.centre(i, j)))
			r.class[i*r.nv+j] = uint8(n)
			if n < len(t.Unseen) {
				r.p[i*r.nv+j] *= 1 - t.Unseen[n]
			}
		}
	}
}

// layer sums up what keeps off and what slows down. A cell is off when any part
// of it is: a lane through free cells is free.
func (r *raster) layer(t *Task, w World, foot bool) *layer {
	l := &layer{}
	if w.Blocked != nil {
		off := make([]bool, r.nu*r.nv)
		for i := range r.nu {
			for j := range r.nv {
				off[i*r.nv+j] = w.Blocked(r.centre(i, j), r.h*math.Sqrt2/2+keepOff)
			}
		}
		l.offU, l.offV = r.offs(off)
	}
	if foot && (r.class != nil || t.Elevation != nil) {
		l.slowU, l.slowV = r.slow(t)
	}
	return l
}

// keepOff is what a way keeps from a no-go edge or a barrier (m), rounding
// counted in.
const keepOff = 0.5

func (r *raster) offs(off []bool) (alongU, alongV []int32) {
	alongU, alongV = make([]int32, r.nv*(r.nu+1)), make([]int32, r.nu*(r.nv+1))
	for i := range r.nu {
		for j := range r.nv {
			n := int32(0)
			if off[i*r.nv+j] {
				n = 1
			}
			alongU[j*(r.nu+1)+i+1] = alongU[j*(r.nu+1)+i] + n
			alongV[i*(r.nv+1)+j+1] = alongV[i*(r.nv+1)+j] + n
		}
	}
	return alongU, alongV
}

// slow sums the time to pass cells along rows (slowU) and across them, forth (0)
// and back (1).
func (r *raster) slow(t *Task) (su, sv [2][]float64) {
	pace := paces(t)
	z, known := r.heights(t)
	at := func(i, j int) int { return max(0, min(r.nu-1, i))*r.nv + max(0, min(r.nv-1, j)) }
	rise := func(a, b int) float64 {
		if z == nil || a == b || !known[a] || !known[b] {
			return 0
		}
		return (z[b] - z[a]) / (2 * r.h)
	}
	share := func(s float64) float64 {
		if z == nil || t.Slope == nil {
			return 1
		}
		return t.Slope(s)
	}
	for d, sign := range []float64{1, -1} {
		su[d], sv[d] = make([]float64, r.nv*(r.nu+1)), make([]float64, r.nu*(r.nv+1))
		for i := range r.nu {
			for j := range r.nv {
				k := pace[r.classAt(i*r.nv+j)]
				a, b := rise(at(i-1, j), at(i+1, j)), rise(at(i, j-1), at(i, j+1))
				su[d][j*(r.nu+1)+i+1] = su[d][j*(r.nu+1)+i] + r.h/(k*share(sign*a))
				sv[d][i*(r.nv+1)+j+1] = sv[d][i*(r.nv+1)+j] + r.h/(k*share(sign*b))
			}
		}
	}
	return su, sv
}

func (r *raster) heights(t *Task) (z []float64, known []bool) {
	if t.Elevation == nil {
		return nil, nil
	}
	z, known = make([]float64, r.nu*r.nv), make([]bool, r.nu*r.nv)
	for i := range r.nu {
		for j := range r.nv {
			z[i*r.nv+j], known[i*r.nv+j] = t.Elevation(r.centre(i, j))
		}
	}
	return z, known
}

func (r *raster) classAt(c int) int {
	if r.class == nil {
		return 0
	}
	return int(r.class[c])
}

// paces returns the walkers' speed by class over that of class 0, which is the
// same for all of them.
func paces(t *Task) []float64 {
	for i := range t.Searchers {
		if s := &t.Searchers[i]; s.Foot {
			out := make([]float64, len(s.Speed))
			for c, v := range s.Speed {
				out[c] = v / s.Speed[0]
			}
			return out
		}
	}
	out := make([]float64, 256)
	for c := range out {
		out[c] = 1
	}
	return out
}

// holds reports whether p lies on the raster.
func (r *raster) holds(p point) bool {
	return p.u >= 0 && p.v >= 0 && p.u/r.h < float64(r.nu) && p.v/r.h < float64(r.nv) // as cells are counted
}

// free reports whether the course from p to q, along or across, stays on free
// cells of the raster.
func (r *raster) free(l *layer, p, q point) bool {
	if !r.holds(p) || !r.holds(q) {
		return false
	}
	if l.offU == nil {
		return true
	}
	pi, pj, qi, qj := int(p.u/r.h), int(p.v/r.h), int(q.u/r.h), int(q.v/r.h)
	if pj == qj && p.v == q.v {
		row := l.offU[pj*(r.nu+1):]
		return row[max(pi, qi)+1] == row[min(pi, qi)]
	}
	row := l.offV[pi*(r.nv+1):]
	return row[max(pj, qj)+1] == row[min(pj, qj)]
}

// takes returns the time from p to q, along or across, at 1 m/s in the open.
func (r *raster) takes(l *layer, p, q point) float64 {
	if l.slowU[0] == nil {
		return math.Abs(q.u-p.u) + math.Abs(q.v-p.v)
	}
	if p.v == q.v {
		d := 0
		if q.u < p.u {
			d = 1
		}
		row := l.slowU[d][int(p.v/r.h)*(r.nu+1):]
		return math.Abs(upTo(row, q.u/r.h) - upTo(row, p.u/r.h))
	}
	d := 0
	if q.v < p.v {
		d = 1
	}
	row := l.slowV[d][int(p.u/r.h)*(r.nv+1):]
	return math.Abs(upTo(row, q.v/r.h) - upTo(row, p.v/r.h))
}

// upTo returns the sum up to x cells.
func upTo(sums []float64, x float64) float64 {
	i := int(x)
	f := x - float64(i)
	if f == 0 {
		return sums[i]
	}
	return sums[i] + f*(sums[i+1]-sums[i])
}
