package search

import (
	"math"
	"sort"

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
	quads   *field       // 2n x 2m, cells of s/2
	first   []int32      // passes of the others over quad q: first[q]..first[q+1]
	passes  []passBy
	horizon float64 // s, the end of the plan for everybody
}

// passBy is one pass of another agent over a quad: when, and the share of the
// chance it leaves.
type passBy struct {
	t, keep float64
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
func newLattice(a *agent, region []region, u geo.XY, s float64, shift [2]float64, horizon float64) *lattice {
	l := &lattice{a: a, s: s, u: u, v: geo.XY{X: -u.Y, Y: u.X}, horizon: horizon}
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
		d := geo.XY{X: x0 - l.s*(0.5+shift[0]), Y: y0 - l.s*(0.5+shift[1])}
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

// spread fills the quads with the chance of f.
func (l *lattice) spread(f *field) {
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
	l.quads = q
}

// at returns the chance in the cell that holds q, 0 outside.
func (f *field) at(q geo.XY) float64 {
	x, y := (q.X-f.west)/f.h, (q.Y-f.south)/f.h
	if !(x >= 0 && y >= 0 && x < float64(f.nx) && y < float64(f.ny)) {
		return 0
	}
	return f.left[int(y)*f.nx+int(x)]
}

// heed records what the other agents' routes take out of each quad, and when.
func (l *lattice) heed(agents []*agent, routes [][]step, self int) {
	type hit struct {
		q       int
		t, keep float64
	}
	var hits []hit
	for w, r := range routes {
		if w == self {
			continue
		}
		for _, s := range r {
			if s.kind != SearchLeg {
				continue
			}
			a, b := l.in(s.a), l.in(s.b)
			n := b.Sub(a).Norm()
			l.quads.each(a, b, agents[w].width[s.class], func(q int, share, x float64) {
				hits = append(hits, hit{q, s.t0 + (s.t1-s.t0)*x/n, 1 - share*passGain})
			})
		}
	}
	sort.SliceStable(hits, func(i, j int) bool {
		return hits[i].q < hits[j].q || hits[i].q == hits[j].q && hits[i].t < hits[j].t
	})
	l.first = make([]int32, len(l.quads.left)+1)
	l.passes = make([]passBy, len(hits))
	for i, h := range hits {
		l.passes[i] = passBy{h.t, h.keep}
		l.first[h.q+1]++
	}
	for q := range l.quads.left {
		l.first[q+1] += l.first[q]
	}
}

// passGain is what one pass finds of the chance in its strip: 1 - 1/e.
const passGain = 0.63212055882855767840

// worth returns how long (s) what lies in quad q will go on being unfound after
// t if left to the others: the integral of the share they leave. One pass at t
// gains passGain times the quad's chance times it.
func (l *lattice) worth(q int, t float64) float64 {
	if t >= l.horizon {
		return 0
	}
	i, n := l.first[q], l.first[q+1]
	if i == n {
		return l.horizon - t
	}
	keep, from, sum := 1.0, t, 0.0
	for ; i < n; i++ {
		p := l.passes[i]
		if p.t > from {
			sum += keep * (p.t - from)
			from = p.t
		}
		keep *= p.keep
	}
	return sum + keep*(l.horizon-from)
}

// each calls fn for the cells of the strip of width w from a to b: the cell, the
// share of it that lies in the strip, and how far along (m) it is abeam.
func (f *field) each(a, b geo.XY, w float64, fn func(i int, share, s float64)) {
	d := b.Sub(a)
	n := d.Norm()
	if n == 0 || w <= 0 {
		return
	}
	ux, uy := d.X/n, d.Y/n
	he := f.h * (math.Abs(ux) + math.Abs(uy))
	r := w / 2
	reach := r + he/2
	top, bot := math.Max(a.Y, b.Y)+reach*math.Abs(ux), math.Min(a.Y, b.Y)-reach*math.Abs(ux)
	j0, j1 := max(0, int(math.Ceil((bot-f.south)/f.h-0.5))), min(f.ny-1, int(math.Floor((top-f.south)/f.h-0.5)))
	for j := j0; j <= j1; j++ {
		y := f.south + (float64(j)+0.5)*f.h - a.Y
		lo, hi := f.span(y, ux, uy, n, reach, a.X)
		for i := lo; i <= hi; i++ {
			x := f.west + (float64(i)+0.5)*f.h - a.X
			s := x*ux + y*uy
			if s < 0 || s >= n {
				continue
			}
			if share := (r-math.Abs(x*uy-y*ux))/he + 0.5; share > 0 {
				fn(j*f.nx+i, math.Min(1, share), s)
			}
		}
	}
}
