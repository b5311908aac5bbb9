package route

import (
	"math"
	"sort"
	"sync"
	"sync/atomic"

	"windfall/geo"
)

// Table answers many questions for ways at once, near enough to plan by: it
// remembers from which squares which corners are seen and how far the corners
// lie from each other. It is safe for use by many at once, and its answers do
// not depend on the order of the questions.
type Table struct {
	w    *World
	lock sync.RWMutex
	seen map[[2]int][]int32
	from []atomic.Pointer[From]
}

const (
	lookCell = 20.0 // m, side of the squares for which the corners in sight are kept
	seenMost = 12   // corners kept for each, the nearest
)

// Table prepares a table.
func (w *World) Table() *Table {
	return &Table{w: w, from: make([]atomic.Pointer[From], len(w.nodes)), seen: map[[2]int][]int32{}}
}

// Way returns the corners of a short way from a to b, b last, and its length in
// m; ok is false when none was found.
func (t *Table) Way(a, b geo.XY) (pts []geo.XY, metres float64, ok bool) {
	if t.w.Free(a, b) {
		return []geo.XY{b}, b.Sub(a).Norm(), true
	}
	best, bi, bj := math.Inf(1), int32(-1), int32(-1)
	near := t.corners(b)
	for _, i := range t.corners(a) {
		f := t.node(i)
		d := t.w.nodes[i].Sub(a).Norm()
		for _, j := range near {
			if s := d + f.dist[j] + t.w.nodes[j].Sub(b).Norm(); s < best {
				best, bi, bj = s, i, j
			}
		}
	}
	if bi < 0 {
		return nil, 0, false
	}
	f := t.node(bi)
	for k := int(bj); k >= 0 && k != int(bi); k = f.prev[k] {
		pts = append(pts, t.w.nodes[k])
	}
	pts = append(pts, t.w.nodes[bi])
	for i, j := 0, len(pts)-1; i < j; i, j = i+1, j-1 {
		pts[i], pts[j] = pts[j], pts[i]
	}
	return append(pts, b), best, true
}

// node returns the ways from corner i.
func (t *Table) node(i int32) *From {
	if f := t.from[i].Load(); f != nil {
		return f
	}
	f := t.w.From(t.w.nodes[i])
	f.dist[i], f.prev[i] = 0, -1
	t.from[i].Store(f)
	return f
}

// corners returns the corners seen from the middle of q's square, or from q when
// none is seen from there.
func (t *Table) corners(q geo.XY) []int32 {
	key := [2]int{int(math.Floor(q.X / lookCell)), int(math.Floor(q.Y / lookCell))}
	t.lock.RLock()
	c, ok := t.seen[key]
	t.lock.RUnlock()
	if !ok {
		c = t.look(geo.XY{X: (float64(key[0]) + 0.5) * lookCell, Y: (float64(key[1]) + 0.5) * lookCell})
		t.lock.Lock()
		t.seen[key] = c
		t.lock.Unlock()
	}
	if len(c) == 0 {
		return t.look(q)
	}
	return c
}

// look returns the nearest corners in sight.
func (t *Table) look(q geo.XY) []int32 {
	var out []int32
	for i, n := range t.w.nodes {
		if t.w.Free(q, n) {
			out = append(out, int32(i))
		}
	}
	sort.SliceStable(out, func(a, b int) bool {
		return t.w.nodes[out[a]].Sub(q).Norm() < t.w.nodes[out[b]].Sub(q).Norm()
	})
	return out[:min(len(out), seenMost)]
}
