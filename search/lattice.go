package search

import (
	"math"

	"windfall/geo"
)

// lattice is the ground as the planner of one agent walks it: nodes a sweep
// width apart on axes turned to suit, joined by straight edges, over a raster of
// quarter squares that hold the chance. Everything in it is in lattice
// coordinates, metres along u and v from o, save what nodes return.
type lattice struct {
	a       *agent
	s       float64 // m between nodes
	o, u, v geo.XY
	n, m    int       // nodes along u and v
	home    []float64 // s from each node back to the start; +Inf: not allowed
	cost    [4][]float64
	width   [4][]float64 // m, of the edge toward +u, +v, -u, -v
}

// node returns the place of node c in the map's frame.
func (l *lattice) node(c int) geo.XY {
	i, j := c%l.n, c/l.n
	return l.o.Add(l.u.Scale(float64(i) * l.s)).Add(l.v.Scale(float64(j) * l.s))
}

// in returns q in lattice coordinates.
func (l *lattice) in(q geo.XY) geo.XY {
	d := q.Sub(l.o)
	return geo.XY{X: d.X*l.u.X + d.Y*l.u.Y, Y: d.X*l.v.X + d.Y*l.v.Y}
}

// toward returns the node next to c in direction d (0 +u, 1 +v, 2 -u, 3 -v), -1
// at the edge of the lattice.
func (l *lattice) toward(c, d int) int {
	i, j := c%l.n, c/l.n
	switch d {
	case 0:
		i++
	case 1:
		j++
	case 2:
		i--
	default:
		j--
	}
	if i < 0 || j < 0 || i >= l.n || j >= l.m {
		return -1
	}
	return j*l.n + i
}

// maxNodes bounds a lattice.
const maxNodes = 20000

// newLattice lays a lattice of spacing s and axis u for the agent over the
// ground worth its while: cells hold their centres and chance, likeliest first.
// shift moves the nodes by a share of s along both axes.
func newLattice(a *agent, region []region, u geo.XY, s float64, shift [2]float64) *lattice {
	l := &lattice{a: a, s: s, u: u, v: geo.XY{X: -u.Y, Y: u.X}}
	for {
		x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
		for _, r := range region {
			q := l.in(r.at)
			x0, x1, y0, y1 = math.Min(x0, q.X), math.Max(x1, q.X), math.Min(y0, q.Y), math.Max(y1, q.Y)
		}
		l.n, l.m = int((x1-x0)/l.s)+3, int((y1-y0)/l.s)+3
		if l.n*l.m > maxNodes {
			l.s *= 1.2
			continue
		}
		half := region[0].size / 2 // unshifted, the first lane covers the edge exactly
		d := geo.XY{X: x0 - half - l.s*(0.5+shift[0]), Y: y0 - half - l.s*(0.5+shift[1])}
		l.o = l.o.Add(l.u.Scale(d.X)).Add(l.v.Scale(d.Y))
		break
	}
	l.ways()
	return l
}

// ways fills the times of nodes and edges.
func (l *lattice) ways() {
	n := l.n * l.m
	l.home = make([]float64, n)
	for c := range l.home {
		l.home[c] = math.Inf(1)
		q := l.node(c)
		if !l.a.inReach(q) {
			continue
		}
		if _, t, ok := l.a.homeward(q); ok {
			l.home[c] = t
		}
	}
	for d := 0; d < 4; d++ {
		l.cost[d], l.width[d] = make([]float64, n), make([]float64, n)
		for c := range l.cost[d] {
			l.cost[d][c] = math.Inf(1)
		}
	}
	for c := 0; c < n; c++ {
		for d := 0; d < 2; d++ {
			e := l.toward(c, d)
			if e < 0 || math.IsInf(l.home[c], 1) || math.IsInf(l.home[e], 1) {
				continue
			}
			p, q := l.node(c), l.node(e)
			if !l.a.world.Free(p, q) {
				continue
			}
			var w, s float64
			for _, pc := range l.a.t.split(p, q) {
				k := pc.b.Sub(pc.a).Norm()
				w += k * l.a.width[pc.class]
				s += k
			}
			l.cost[d][c], l.cost[d+2][e] = l.a.travel(p, q), l.a.travel(q, p)
			l.width[d][c], l.width[d+2][e] = w/s, w/s
		}
	}
}

// quads returns the chance of f on a raster of quarter squares, 2n by 2m cells
// of s/2, in lattice coordinates.
func (l *lattice) quads(f *field) *field {
	h := l.s / 2
	q := &field{west: -h, south: -h, h: h, nx: 2 * l.n, ny: 2 * l.m, law: f.law}
	q.left = make([]float64, q.nx*q.ny)
	k := max(1, min(4, int(math.Ceil(h/f.h))))
	e := h / float64(k)
	w := e * e / (f.h * f.h)
	for j := 0; j < q.ny; j++ {
		for i := 0; i < q.nx; i++ {
			var sum float64
			for b := 0; b < k; b++ {
				for a := 0; a < k; a++ {
					x, y := q.west+float64(i)*h+(float64(a)+0.5)*e, q.south+float64(j)*h+(float64(b)+0.5)*e
					sum += f.at(l.o.Add(l.u.Scale(x)).Add(l.v.Scale(y)))
				}
			}
			q.left[j*q.nx+i] = sum * w
		}
	}
	return q
}

// at returns the chance in the cell that holds q, 0 outside.
func (f *field) at(q geo.XY) float64 {
	x, y := (q.X-f.west)/f.h, (q.Y-f.south)/f.h
	if !(x >= 0 && y >= 0 && x < float64(f.nx) && y < float64(f.ny)) {
		return 0
	}
	return f.left[int(y)*f.nx+int(x)]
}
