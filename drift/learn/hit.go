package learn

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/distuv"

	"windfall/drift"
	"windfall/geo"
)

// belief is what is thought of the coordinates of a flight before its find:
// independent normals of these means and standard deviations.
type belief struct{ mean, sd []float64 }

// aim looks for inputs of one case and outcome that land on the find.
type aim struct {
	c     *Case
	fly   func(drift.Input) (geo.XY, bool)
	weigh func(in drift.Input, out Told) (geo.XY, bool) // nil: no entries
	in    drift.Input
	q     belief
	shape []geo.XY // Jacobian by the wind's shape
	other []int    // coordinates that are not the wind's shape
}

// newAim takes the Jacobian by the wind's shape once and keeps it in shape: it
// hardly changes with the other inputs.
func newAim(c *Case, outcome int, q belief, shape *[]geo.XY) (*aim, bool) {
	h := &aim{c: c, fly: c.Fly(), q: q, in: drift.Input{Outcome: outcome, Z: make([]float64, c.Dim)}}
	if len(c.Entries) > 0 {
		h.weigh = c.Weigh()
	}
	isShape := make([]bool, c.Dim)
	for _, i := range c.Shape {
		isShape[i] = true
	}
	for i, s := range isShape {
		if !s {
			h.other = append(h.other, i)
		}
	}
	zero := make([]float64, c.Dim)
	centre, ok := h.at(zero)
	if !ok {
		return nil, false
	}
	if len(*shape) == 0 {
		for _, i := range c.Shape {
			zero[i] = slopeStep
			d := geo.XY{}
			if at, ok := h.at(zero); ok {
				d = at.Sub(centre).Scale(1 / slopeStep)
			}
			*shape = append(*shape, d)
			zero[i] = 0
		}
	}
	h.shape = *shape
	return h, true
}

// at lands the input that lies xi standard deviations from the centre.
func (h *aim) at(xi []float64) (geo.XY, bool) {
	for i := range xi {
		h.in.Z[i] = h.q.mean[i] + h.q.sd[i]*xi[i]
	}
	return h.fly(h.in)
}

// slopes returns the Jacobian of the landing at xi, in m by standard deviation
// of the belief.
func (h *aim) slopes(xi []float64) []geo.XY {
	j := make([]geo.XY, len(xi))
	for k, i := range h.c.Shape {
		j[i] = h.shape[k]
	}
	x := append([]float64(nil), xi...)
	for _, i := range h.other {
		x[i] = xi[i] + slopeStep
		up, ok1 := h.at(x)
		x[i] = xi[i] - slopeStep
		down, ok2 := h.at(x)
		x[i] = xi[i]
		if ok1 && ok2 {
			j[i] = up.Sub(down).Scale(1 / (2 * slopeStep))
		}
	}
	return j
}

// plane is two orthonormal directions of xi-space and the landing's Jacobian
// along them.
type plane struct {
	b [2][]float64
	a [2][2]float64 // a[0]: of x, a[1]: of y

	start [2]float64 // along them, of the inputs where it touches
}

// planeOf spans the rows of the Jacobian: the inputs that move the landing
// most. ok is false where it does not move in two directions.
func planeOf(j []geo.XY) (p plane, ok bool) {
	x, y := make([]float64, len(j)), make([]float64, len(j))
	for i, d := range j {
		x[i], y[i] = d.X, d.Y
	}
	if floats.Norm(x, 2) < floats.Norm(y, 2) {
		x, y = y, x
	}
	n := floats.Norm(x, 2)
	if !(n > 1e-6) {
		return p, false
	}
	floats.Scale(1/n, x)
	floats.AddScaled(y, -floats.Dot(x, y), x)
	ny := floats.Norm(y, 2)
	if !(ny > 1e-4*n) {
		return p, false
	}
	floats.Scale(1/ny, y)
	p.b = [2][]float64{x, y}
	for i, d := range j {
		for k := range 2 {
			p.a[0][k] += d.X * p.b[k][i]
			p.a[1][k] += d.Y * p.b[k][i]
		}
	}
	return p, true
}

// shifted returns xi moved by a within the plane.
func (p *plane) shifted(xi []float64, a [2]float64) []float64 {
	out := make([]float64, len(xi))
	for i := range xi {
		out[i] = xi[i] + a[0]*p.b[0][i] + a[1]*p.b[1][i]
	}
	return out
}

// solve finds by Newton's method, from a on, the point of the plane through xi
// that lands near the find; Broyden's first update keeps the Jacobian current
// without more flights.
func (h *aim) solve(p *plane, xi []float64, a [2]float64) (_ [2]float64, jacobian [2][2]float64, ok bool) {
	j := p.a
	at, ok := h.at(p.shifted(xi, a))
	for range maxNewton {
		if !ok {
			return a, j, false
		}
		e := h.c.Find.Sub(at)
		if e.Norm() < nearFind*h.c.findSD() {
			return a, j, true
		}
		det := j[0][0]*j[1][1] - j[0][1]*j[1][0]
		if !(math.Abs(det) > leastDet) {
			return a, j, false
		}
		s := [2]float64{(j[1][1]*e.X - j[0][1]*e.Y) / det, (j[0][0]*e.Y - j[1][0]*e.X) / det}
		if n := math.Hypot(s[0], s[1]); n > newtonStep { // a step the linear picture cannot bear
			s[0], s[1] = s[0]*newtonStep/n, s[1]*newtonStep/n
		}
		b := [2]float64{a[0] + s[0], a[1] + s[1]}
		if !(math.Hypot(b[0], b[1]) < reach) {
			return a, j, false
		}
		var next geo.XY
		next, ok = h.at(p.shifted(xi, b))
		n2 := s[0]*s[0] + s[1]*s[1]
		ex := next.X - at.X - j[0][0]*s[0] - j[0][1]*s[1]
		ey := next.Y - at.Y - j[1][0]*s[0] - j[1][1]*s[1]
		for k := range 2 {
			j[0][k] += ex * s[k] / n2
			j[1][k] += ey * s[k] / n2
		}
		a, at = b, next
	}
	return a, j, ok && h.c.Find.Sub(at).Norm() < h.c.findSD()
}

// touch finds the plane of the inputs that move the landing most, at the
// likeliest inputs that land on the find; ok is false where it is out of reach.
func (h *aim) touch() (p plane, ok bool) {
	xi := make([]float64, h.c.Dim)
	first, ok := planeOf(h.slopes(xi))
	if !ok {
		return p, false
	}
	a, _, ok := h.solve(&first, xi, [2]float64{})
	if !ok {
		return p, false
	}
	at := first.shifted(xi, a)
	if p, ok = planeOf(h.slopes(at)); ok {
		p.start = [2]float64{floats.Dot(at, p.b[0]), floats.Dot(at, p.b[1])}
	}
	return p, ok
}

// hit moves inputs with nothing in the plane, rest, within it to where they land
// near the find, lets them stray from there, and fills run with what the entries
// say of them. They stray by about as much as the find's error lets them, J da =
// sd e, with e of a t distribution, whose tails forgive a J that is not quite
// theirs. By the weights
//
//	N(a) N(find - L(a); sd) / (t(e) |det J| / sd^2)
//
// they are a sample of those inputs that led to the find. That is exact for a
// landing that meets the find once in each such plane; what cannot be met within
// reach weighs nothing: -Inf.
func (h *aim) hit(p *plane, rest []float64, run *flown, r *rand.Rand) (xi []float64) {
	run.logL = math.Inf(-1)
	a, j, ok := h.solve(p, rest, p.start)
	det := j[0][0]*j[1][1] - j[0][1]*j[1][0]
	if !ok || !(math.Abs(det) > leastDet) {
		return nil
	}
	tail := math.Sqrt(strayDegrees / distuv.ChiSquared{K: strayDegrees, Src: r}.Rand())
	sd := h.c.findSD()
	e := geo.XY{X: r.NormFloat64(), Y: r.NormFloat64()}.Scale(tail)
	a[0] += sd * (j[1][1]*e.X - j[0][1]*e.Y) / det
	a[1] += sd * (j[0][0]*e.Y - j[1][0]*e.X) / det
	if !(math.Hypot(a[0], a[1]) < reach) {
		return nil
	}
	xi = p.shifted(rest, a)
	at, ok := h.flyLogged(xi, run)
	if !ok {
		run.logL = math.Inf(-1)
		return nil
	}
	miss := at.Sub(h.c.Find).Norm() / sd
	run.logL += -0.5*(a[0]*a[0]+a[1]*a[1]+miss*miss) - math.Log(2*math.Pi*math.Abs(det)) +
		(strayDegrees+2)/2*math.Log1p(e.Norm()*e.Norm()/strayDegrees)
	return xi
}

func (c *Case) findSD() float64 {
	if c.FindSD == 0 {
		return 5
	}
	return c.FindSD
}

func (l Link) ratio() float64 {
	if l.Ratio == 0 {
		return 1
	}
	return l.Ratio
}
