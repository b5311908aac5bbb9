package learn

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/floats"

	"windfall/geo"
)

// tangent is the flight model of one case and outcome made linear in its
// inputs at the likeliest of those that land on the find:
//
//	find = base + sum of j[l] x[l] + e,   e ~ N(0, w)
//
// with x the factors' values in default spreads (two more columns stand for
// the wind's shape) and e all other inputs and the error of the find's place.
// Under normal factors the density of the find is then a normal's; scale and
// slopes bring its logarithm, at the belief it was made with, to the value and
// the first derivatives of the model's own density: without them the small bends
// of the model, all to one side, would add up over many finds.
type tangent struct {
	ok            bool
	j             []geo.XY // m by default spread
	rest          geo.XY   // find - base, m
	wxx, wxy, wyy float64  // m2
	scale         float64  // log

	byMean, bySD []float64 // nil: none; slope by a column's mean and by the log of its sd
	mean, logSD  []float64 // where the slopes are taken
}

// width is the number of columns of a case: its links, and two directions of
// the wind's shape.
func (c *Case) width() int {
	if len(c.Shape) == 0 {
		return len(c.Links)
	}
	return len(c.Links) + 2
}

// tangent makes the tangent of the aim's outcome; hits is the number of flights
// from which its scale is found, 0 for none.
func (h *aim) tangent(hits int, r *rand.Rand) tangent {
	t, p, offset, met := h.touch()
	if !met || hits == 0 {
		return t
	}
	h.correct(&t, &p, offset, hits, r)
	if hits >= minSlopes {
		h.lean(&t)
	}
	return t
}

// touch makes the model linear at the likeliest inputs that land on the find.
// offset is the find less where the tangent lands the belief's centre; met is
// false when the find is out of reach: the tangent is then that at the centre,
// the density there is next to nothing.
func (h *aim) touch() (t tangent, p plane, offset geo.XY, met bool) {
	c := h.c
	xi := make([]float64, c.Dim)
	j := h.slopes(xi)
	first, ok := planeOf(j)
	if !ok {
		return t, p, offset, false
	}
	a, ok := h.solve(&first, xi, c.Find)
	if !ok {
		if at, ok := h.at(xi); ok {
			t = h.linear(j, xi, at)
		}
		return t, p, offset, false
	}
	xi = first.shifted(xi, a)
	j = h.slopes(xi)
	at, ok := h.at(xi)
	if !ok {
		return t, p, offset, false
	}
	// The likeliest inputs with this Jacobian: the shortest xi that lands there.
	if p, ok = planeOf(j); !ok {
		return t, p, offset, false
	}
	short := p.shifted(make([]float64, c.Dim), [2]float64{floats.Dot(xi, p.b[0]), floats.Dot(xi, p.b[1])})
	if near, ok := h.at(short); ok && near.Sub(c.Find).Norm() < shortMiss*h.spread(j) {
		xi, at = short, near
	}
	offset = c.Find.Sub(at)
	for i, d := range j {
		offset = offset.Add(d.Scale(xi[i]))
	}
	return h.linear(j, xi, at), p, offset, true
}

// lean finds the slopes by the means, which no chance is in: the tangent of a
// belief moved, at that belief, is off the model's density by a factor that
// hardly depends on where the belief is. Over many finds this tells wind from
// drag: the same drift with a longer fall is spread wider by the wind's shape,
// which the tangent itself does not know.
func (h *aim) lean(t *tangent) {
	mean, sd := h.columns()
	t.mean, t.byMean = mean, make([]float64, len(t.j))
	for l, link := range h.c.Links {
		var value, own [2]float64
		met := true
		for side, step := range [2]float64{-leanStep, leanStep} {
			q := belief{mean: append([]float64(nil), h.q.mean...), sd: h.q.sd}
			q.mean[link.Coord] += step * q.sd[link.Coord]
			var shape []geo.XY
			moved, ok := newAim(h.c, h.fly, h.in.Outcome, q, &shape)
			if !ok {
				met = false
				break
			}
			tm, _, _, ok := moved.touch()
			met = met && ok
			if !met {
				break
			}
			m, s := moved.columns()
			value[side] = tm.logDensity(m, s)
			own[side] = t.linearLogDensity(m, s)
		}
		if met {
			t.byMean[l] = (value[1] - value[0] - own[1] + own[0]) / (2 * leanStep * sd[l])
		}
	}
}

// correct finds the scale of a tangent and its slopes by the spreads. The slopes
// are means over hits of the belief's score; from each hit's the tangent's own for
// the same draw is taken, so that they carry little noise. offset is the find less
// where the tangent lands the belief's centre.
func (h *aim) correct(t *tangent, p *plane, offset geo.XY, n int, r *rand.Rand) {
	mean, sd := h.columns()
	det := p.a[0][0]*p.a[1][1] - p.a[0][1]*p.a[1][0]
	width := len(t.j)
	s, q := make([]float64, width), make([]float64, width) // scores: of the model, of the tangent
	var sw, qw float64
	for range n {
		rest, goal := h.drawRest(p, r)
		e := offset.Add(goal.Sub(h.c.Find))
		a := [2]float64{(p.a[1][1]*e.X - p.a[0][1]*e.Y) / det, (p.a[0][0]*e.Y - p.a[1][0]*e.X) / det}
		w := math.Exp(-0.5*(a[0]*a[0]+a[1]*a[1])) / (2 * math.Pi * math.Abs(det))
		got := h.hit(p, rest, goal)
		qw += w
		sw += got.weight
		h.addScore(q, t, p.shifted(rest, a), w)
		if got.weight > 0 {
			h.addScore(s, t, got.xi, got.weight)
		}
	}
	if !(sw > 0) || !(qw > 0) {
		return
	}
	t.scale = math.Log(sw/float64(n)) - t.linearLogDensity(mean, sd)
	if n < minSlopes {
		return
	}
	t.logSD, t.bySD = make([]float64, width), make([]float64, width)
	for l := range width {
		t.logSD[l] = math.Log(sd[l])
		t.bySD[l] = s[l]/sw - q[l]/qw
	}
}

// addScore adds to s, weighted, the square less 1 of each column's deviation in
// standard deviations.
func (h *aim) addScore(s []float64, t *tangent, xi []float64, w float64) {
	width := len(t.j)
	n := len(h.c.Links)
	for l, link := range h.c.Links {
		u := xi[link.Coord]
		s[l] += w * (u*u - 1)
	}
	if width == n || t.j[n].X == 0 || t.j[n+1].Y == 0 {
		return
	}
	var g geo.XY // the shape's move of the landing, then in the two columns
	for k, i := range h.c.Shape {
		g = g.Add(h.shape[k].Scale(xi[i]))
	}
	a := g.X / t.j[n].X
	b := (g.Y - t.j[n].Y*a) / t.j[n+1].Y
	s[n] += w * (a*a - 1)
	s[n+1] += w * (b*b - 1)
}

// spread is the size of the map that the Jacobian makes, m.
func (h *aim) spread(j []geo.XY) float64 {
	s := 0.0
	for _, d := range j {
		s += d.X*d.X + d.Y*d.Y
	}
	return math.Sqrt(s)
}

// linear turns the Jacobian at xi, which lands at at, into a tangent.
func (h *aim) linear(j []geo.XY, xi []float64, at geo.XY) tangent {
	c := h.c
	sd := c.findSD()
	t := tangent{ok: true, j: make([]geo.XY, c.width()), rest: c.Find.Sub(at), wxx: sd * sd, wyy: sd * sd}
	linked := make([]bool, c.Dim)
	for l, link := range c.Links {
		linked[link.Coord] = true
		t.j[l] = j[link.Coord].Scale(1 / (h.q.sd[link.Coord] * link.ratio()))
		z := h.q.mean[link.Coord] + h.q.sd[link.Coord]*xi[link.Coord]
		t.rest = t.rest.Add(t.j[l].Scale(z * link.ratio()))
	}
	var sxx, sxy, syy float64
	for _, i := range c.Shape {
		linked[i] = true
		sxx += j[i].X * j[i].X
		sxy += j[i].X * j[i].Y
		syy += j[i].Y * j[i].Y
		t.rest = t.rest.Add(j[i].Scale(xi[i]))
	}
	if n := len(c.Links); len(t.j) > n && sxx > 0 { // Cholesky: two directions with the same covariance
		l11 := math.Sqrt(sxx)
		l21 := sxy / l11
		t.j[n] = geo.XY{X: l11, Y: l21}
		t.j[n+1] = geo.XY{Y: math.Sqrt(max(syy-l21*l21, 0))}
	}
	for i, d := range j {
		if linked[i] {
			continue
		}
		t.rest = t.rest.Add(d.Scale(xi[i]))
		t.wxx += d.X * d.X
		t.wxy += d.X * d.Y
		t.wyy += d.Y * d.Y
	}
	return t
}

// columns is the belief by column, in default spreads.
func (h *aim) columns() (mean, sd []float64) {
	mean, sd = make([]float64, h.c.width()), make([]float64, h.c.width())
	for l := range sd {
		sd[l] = 1
	}
	for l, link := range h.c.Links {
		mean[l], sd[l] = h.q.mean[link.Coord]*link.ratio(), h.q.sd[link.Coord]*link.ratio()
	}
	return mean, sd
}

// residual is the find less its expectation, and its covariance, for factors
// of these means and standard deviations.
func (t *tangent) residual(mean, sd []float64) (d geo.XY, vxx, vxy, vyy float64) {
	d, vxx, vxy, vyy = t.rest, t.wxx, t.wxy, t.wyy
	for l, j := range t.j {
		d.X -= j.X * mean[l]
		d.Y -= j.Y * mean[l]
		v := sd[l] * sd[l]
		vxx += v * j.X * j.X
		vxy += v * j.X * j.Y
		vyy += v * j.Y * j.Y
	}
	return d, vxx, vxy, vyy
}

// linearLogDensity is the log of the find's density, per m2, as the tangent has
// it.
func (t *tangent) linearLogDensity(mean, sd []float64) float64 {
	d, vxx, vxy, vyy := t.residual(mean, sd)
	det := vxx*vyy - vxy*vxy
	return -0.5*(vyy*d.X*d.X-2*vxy*d.X*d.Y+vxx*d.Y*d.Y)/det - math.Log(2*math.Pi) - 0.5*math.Log(det)
}

// logDensity is the same, corrections included.
func (t *tangent) logDensity(mean, sd []float64) float64 {
	out := t.scale + t.linearLogDensity(mean, sd)
	for l, g := range t.byMean {
		out += g * (mean[l] - t.mean[l])
	}
	for l := range t.bySD {
		out += t.bendBySD(l, math.Log(sd[l]))
	}
	return out
}

func (t *tangent) slopeByMean(l int) float64 {
	if t.byMean == nil {
		return 0
	}
	return t.byMean[l]
}

func (t *tangent) bendBySD(l int, logSD float64) float64 {
	if t.bySD == nil {
		return 0
	}
	return t.bySD[l] * bounded(logSD-t.logSD[l], bendReach)
}

// bounded is x near zero and at most size: slopes with chance in them are no
// ground for going ever farther, whatever the number of finds that share them.
func bounded(x, size float64) float64 {
	x /= size
	return size * x / math.Sqrt(1+x*x)
}

// draw fills x with a draw of the factors given the find: a draw from before
// it, moved by what that one missed the find by (Matheron's rule).
func (t *tangent) draw(mean, sd, x []float64, r *rand.Rand) {
	_, vxx, vxy, vyy := t.residual(mean, sd)
	e := t.rest
	l11 := math.Sqrt(t.wxx)
	l21 := t.wxy / l11
	a, b := r.NormFloat64(), r.NormFloat64()
	e.X -= l11 * a
	e.Y -= l21*a + math.Sqrt(max(t.wyy-l21*l21, 0))*b
	for l, j := range t.j {
		x[l] = mean[l] + sd[l]*r.NormFloat64()
		e.X -= j.X * x[l]
		e.Y -= j.Y * x[l]
	}
	det := vxx*vyy - vxy*vxy
	g := geo.XY{X: (vyy*e.X - vxy*e.Y) / det, Y: (vxx*e.Y - vxy*e.X) / det}
	for l, j := range t.j {
		x[l] += sd[l] * sd[l] * (j.X*g.X + j.Y*g.Y)
	}
}
