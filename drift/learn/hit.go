package learn

import (
	"math"
	"math/rand/v2"

	"windfall/drift"
	"windfall/geo"
)

// A hit is one way in which the flight may have come to lie where it was found:
// inputs that land there, with the weight they stand for. Hits are made by
// splitting the inputs' space in two: in the plane that moves the landing point
// most (the row space of the Jacobian of the landing, taken at the proposal's
// centre) Newton's method solves for the landing, the rest is drawn. The density
// of the find is then
//
//	p(y|theta) = E[ N(a) p(z|theta) / (q(z) |det dL/da|) ]
//
// over the rest's distribution, a being the two solved coordinates in units of
// the proposal q. This is exact for a landing map that meets the find once in
// each such plane; where it cannot be met within reach, the term is zero.
type hits struct {
	n       int       // attempts
	x       []float64 // len(logw) rows of len(links): factors, in default spreads
	logw    []float64 // log weight without p(x|theta)
	nLinks  int
	outcome int
}

// proposal is where hits are looked for: mean and spread of each coordinate.
type proposal struct{ mean, sd []float64 }

const (
	maxNewton = 7
	reach     = 9.0 // in the plane, in spreads of the proposal: beyond, the density is below exp(-40)
)

// hitter makes the hits of one case and one outcome.
type hitter struct {
	c     *Case
	fly   func(drift.Input) (geo.XY, bool)
	in    drift.Input
	q     proposal
	basis [2][]float64 // orthonormal, in units of q
	a     [2][2]float64
	shape [2][]float64 // orthonormal over c.Shape: how the wind's shape moves the landing
}

// newHitter takes the Jacobian at the centre of q; that of the wind's shape,
// whose proposal never moves, is taken once and kept in shape. ok is false
// where the landing does not move in two directions.
func newHitter(c *Case, fly func(drift.Input) (geo.XY, bool), outcome int, q proposal, shape *[]geo.XY) (*hitter, bool) {
	h := &hitter{c: c, fly: fly, q: q, in: drift.Input{Outcome: outcome, Z: make([]float64, c.Dim)}}
	copy(h.in.Z, q.mean)
	centre, ok := fly(h.in)
	if !ok {
		return nil, false
	}
	slope := func(i int, from, to float64) (d geo.XY) {
		h.in.Z[i] = q.mean[i] + to*q.sd[i]
		at, ok1 := fly(h.in)
		back, ok2 := centre, true
		if from != 0 {
			h.in.Z[i] = q.mean[i] + from*q.sd[i]
			back, ok2 = fly(h.in)
		}
		h.in.Z[i] = q.mean[i]
		if ok1 && ok2 {
			d = at.Sub(back).Scale(1 / (to - from))
		}
		return d
	}
	const step = 0.4 // spreads: wide enough to see past thresholds
	j := make([]geo.XY, c.Dim)
	if len(*shape) == 0 {
		for _, i := range c.Shape {
			*shape = append(*shape, slope(i, 0, step))
		}
	}
	isShape := make([]bool, c.Dim)
	for k, i := range c.Shape {
		j[i], isShape[i] = (*shape)[k], true
	}
	for i := range j {
		if !isShape[i] {
			j[i] = slope(i, -step, step)
		}
	}
	if h.basis, ok = orthonormal(j); !ok {
		return nil, false
	}
	for i, d := range j {
		for k := range 2 {
			h.a[0][k] += d.X * h.basis[k][i]
			h.a[1][k] += d.Y * h.basis[k][i]
		}
	}
	if h.shape, ok = orthonormal(*shape); !ok {
		h.shape = [2][]float64{}
	}
	return h, true
}

// orthonormal returns two orthonormal vectors that span the rows of the
// Jacobian j, the stronger one first.
func orthonormal(j []geo.XY) (b [2][]float64, ok bool) {
	x, y := make([]float64, len(j)), make([]float64, len(j))
	for i, d := range j {
		x[i], y[i] = d.X, d.Y
	}
	if dot(x, x) < dot(y, y) {
		x, y = y, x
	}
	n := math.Sqrt(dot(x, x))
	if !(n > 1e-6) {
		return b, false
	}
	for i := range x {
		x[i] /= n
	}
	p := dot(x, y)
	for i := range y {
		y[i] -= p * x[i]
	}
	ny := math.Sqrt(dot(y, y))
	if !(ny > 1e-4*n) {
		return b, false
	}
	for i := range y {
		y[i] /= ny
	}
	return [2][]float64{x, y}, true
}

func dot(a, b []float64) (s float64) {
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}

// try makes one hit into row, or says that this draw has none.
func (h *hitter) try(r *rand.Rand, xi, row []float64) (logw float64, ok bool) {
	for i := range xi {
		xi[i] = r.NormFloat64()
	}
	for k := range 2 { // the part in the plane is solved for
		p := dot(xi, h.basis[k])
		for i := range xi {
			xi[i] -= p * h.basis[k][i]
		}
	}
	sd := h.c.FindSD
	if sd == 0 {
		sd = 5
	}
	goal := geo.XY{X: h.c.Find.X + sd*r.NormFloat64(), Y: h.c.Find.Y + sd*r.NormFloat64()}
	a, at, ok := h.solve(xi, goal)
	if !ok {
		return 0, false
	}
	const step = 0.05
	var d [2]geo.XY
	for k := range 2 {
		b := a
		b[k] += step
		moved, ok := h.flyAt(xi, b)
		if !ok {
			return 0, false
		}
		d[k] = moved.Sub(at).Scale(1 / step)
	}
	det := math.Abs(d[0].X*d[1].Y - d[0].Y*d[1].X)
	if !(det > 1e-9) {
		return 0, false
	}
	h.set(xi, a)
	logw = -0.5*(a[0]*a[0]+a[1]*a[1]) - math.Log(2*math.Pi*det)
	for l, link := range h.c.Links {
		ratio := link.ratio()
		z := h.in.Z[link.Coord]
		row[l] = ratio * z
		u := (z - h.q.mean[link.Coord]) / h.q.sd[link.Coord]
		logw += 0.5*u*u + math.Log(h.q.sd[link.Coord]*ratio) // less log q, without its constant
	}
	if n := len(h.c.Links); len(row) > n {
		for k := range 2 {
			s := 0.0
			for i, j := range h.c.Shape {
				s += h.shape[k][i] * h.in.Z[j]
			}
			row[n+k] = s
			logw += 0.5 * s * s
		}
	}
	return logw, true
}

func (l Link) ratio() float64 {
	if l.Ratio == 0 {
		return 1
	}
	return l.Ratio
}

// solve finds the point of the plane through xi that lands on goal.
func (h *hitter) solve(xi []float64, goal geo.XY) (a [2]float64, at geo.XY, ok bool) {
	j := h.a
	at, ok = h.flyAt(xi, a)
	for range maxNewton {
		if !ok {
			return a, at, false
		}
		e := goal.Sub(at)
		if e.Norm() < 0.5 {
			return a, at, true
		}
		det := j[0][0]*j[1][1] - j[0][1]*j[1][0]
		if !(math.Abs(det) > 1e-9) {
			return a, at, false
		}
		s := [2]float64{(j[1][1]*e.X - j[0][1]*e.Y) / det, (j[0][0]*e.Y - j[1][0]*e.X) / det}
		if n := math.Hypot(s[0], s[1]); n > 3 { // a step the linear picture cannot bear
			s[0], s[1] = s[0]*3/n, s[1]*3/n
		}
		b := [2]float64{a[0] + s[0], a[1] + s[1]}
		if !(math.Hypot(b[0], b[1]) < reach) {
			return a, at, false
		}
		var next geo.XY
		next, ok = h.flyAt(xi, b)
		// Broyden's first update keeps the Jacobian current without more flights.
		n2 := s[0]*s[0] + s[1]*s[1]
		ex := next.X - at.X - j[0][0]*s[0] - j[0][1]*s[1]
		ey := next.Y - at.Y - j[1][0]*s[0] - j[1][1]*s[1]
		for k := range 2 {
			j[0][k] += ex * s[k] / n2
			j[1][k] += ey * s[k] / n2
		}
		a, at = b, next
	}
	return a, at, ok && goal.Sub(at).Norm() < 2
}

func (h *hitter) set(xi []float64, a [2]float64) {
	for i := range xi {
		h.in.Z[i] = h.q.mean[i] + h.q.sd[i]*(xi[i]+a[0]*h.basis[0][i]+a[1]*h.basis[1][i])
	}
}

func (h *hitter) flyAt(xi []float64, a [2]float64) (geo.XY, bool) {
	h.set(xi, a)
	return h.fly(h.in)
}

// findHits makes n attempts for one case and outcome; shape keeps the Jacobian
// of the wind's shape from one look to the next.
func findHits(c *Case, fly func(drift.Input) (geo.XY, bool), outcome, n int, q proposal, shape *[]geo.XY, r *rand.Rand) hits {
	out := hits{n: n, outcome: outcome, nLinks: c.width()}
	h, ok := newHitter(c, fly, outcome, q, shape)
	if !ok {
		return out
	}
	xi, row := make([]float64, c.Dim), make([]float64, out.nLinks)
	if len(h.shape[0]) == 0 {
		row = row[:len(c.Links)]
	}
	for range n {
		logw, ok := h.try(r, xi, row)
		if ok && !math.IsNaN(logw) {
			out.logw = append(out.logw, logw)
			out.x = append(out.x, row[:out.nLinks]...) // without an effect the shape stays at 0
		}
	}
	return out
}

// width is the number of factor values in a hit: the links, and two directions
// of the wind's shape.
func (c *Case) width() int {
	if len(c.Shape) == 0 {
		return len(c.Links)
	}
	return len(c.Links) + 2
}
