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
	seen map[tile][]int32
	from []atomic.Pointer[From]
}

// tile is one of the squares, of one size, that the ground is laid out in.
type tile struct {
	x, y int
	side float64 // m
}

func tileAt(q geo.XY, side float64) tile {
	return tile{int(math.Floor(q.X / side)), int(math.Floor(q.Y / side)), side}
}

func (s tile) middle() geo.XY {
	return geo.XY{X: (float64(s.x) + 0.5) * s.side, Y: (float64(s.y) + 0.5) * s.side}
}

const (
	lookCell = 20.0 // m, side of the squares for which the corners in sight are kept
	seenMost = 12   // corners kept for each, the nearest
)

// Table prepares a table.
func (w *World) Table() *Table {
	return &Table{w: w, from: make([]atomic.Pointer[From], len(w.nodes)), seen: map[tile][]int32{}}
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

// corners returns the corners seen from the middle of q's square, where none is
// seen from there from that of a small one, else from q.
func (t *Table) corners(q geo.XY) []int32 {
	for _, side := range []float64{lookCell, lookCell / 10} {
		if c := t.sight(tileAt(q, side)); len(c) > 0 {
			return c
		}
	}
	return t.look(q)
}

// sight returns the corners seen from the middle of a square.
func (t *Table) sight(s tile) []int32 {
	t.lock.RLock()
	c, ok := t.seen[s]
	t.lock.RUnlock()
	if !ok {
		c = t.look(s.middle())
		t.lock.Lock()
		t.seen[s] = c
		t.lock.Unlock()
	}
	return c
}

// look returns the nearest corners in sight.
func (t *Table) look(q geo.XY) []int32 {
	if t.w.Inside(q) {
		return nil
	}
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
