package route

import (
	"math"

	"windfall/geo"
)

// link joins the nodes that see each other.
func (w *World) link() {
	w.adj = make([][]edge, len(w.nodes))
	for i := range w.nodes {
		for j := i + 1; j < len(w.nodes); j++ {
			if w.Free(w.nodes[i], w.nodes[j]) {
				d := w.nodes[j].Sub(w.nodes[i]).Norm()
				w.adj[i] = append(w.adj[i], edge{j, d})
				w.adj[j] = append(w.adj[j], edge{i, d})
			}
		}
	}
}

// From holds the shortest ways from one point to everywhere.
type From struct {
	w     *World
	at    geo.XY
	dist  []float64 // m to each node, +Inf where there is no way
	prev  []int     // the node before, -1: the point itself
	order []int     // nodes by distance
}

// From prepares the ways from at.
func (w *World) From(at geo.XY) *From {
	n := len(w.nodes)
	f := &From{w: w, at: at, dist: make([]float64, n), prev: make([]int, n)}
	done := make([]bool, n)
	for i, q := range w.nodes {
		f.dist[i], f.prev[i] = math.Inf(1), -1
		if w.Free(at, q) {
			f.dist[i] = q.Sub(at).Norm()
		}
	}
	for range w.nodes {
		best := -1
		for i := range w.nodes {
			if !done[i] && !math.IsInf(f.dist[i], 1) && (best < 0 || f.dist[i] < f.dist[best]) {
				best = i
			}
		}
		if best < 0 {
			break
		}
		done[best] = true
		f.order = append(f.order, best)
		for _, e := range w.adj[best] {
			if d := f.dist[best] + e.d; d < f.dist[e.to] {
				f.dist[e.to], f.prev[e.to] = d, best
			}
		}
	}
	return f
}

// To returns the corners of the shortest way to q, q last and the point itself
// left out, and its length in m; ok is false when q cannot be reached.
func (f *From) To(q geo.XY) (pts []geo.XY, metres float64, ok bool) {
	if f.w.Free(f.at, q) {
		return []geo.XY{q}, q.Sub(f.at).Norm(), true
	}
	best, via := math.Inf(1), -1
	d := make([]float64, len(f.order))
	for k, i := range f.order {
		d[k] = f.dist[i] + q.Sub(f.w.nodes[i]).Norm()
	}
	for range d {
		k := 0
		for j := range d {
			if d[j] < d[k] {
				k = j
			}
		}
		if f.w.Free(f.w.nodes[f.order[k]], q) {
			best, via = d[k], f.order[k]
			break
		}
		d[k] = math.Inf(1)
	}
	if via < 0 {
		return nil, 0, false
	}
	for i := via; i >= 0; i = f.prev[i] {
		pts = append(pts, f.w.nodes[i])
	}
	for i, j := 0, len(pts)-1; i < j; i, j = i+1, j-1 {
		pts[i], pts[j] = pts[j], pts[i]
	}
	return append(pts, q), best, true
}

// Path returns the shortest way from a to b, as From and To do.
func (w *World) Path(a, b geo.XY) (pts []geo.XY, metres float64, ok bool) {
	if w.Free(a, b) {
		return []geo.XY{b}, b.Sub(a).Norm(), true
	}
	return w.From(a).To(b)
}
