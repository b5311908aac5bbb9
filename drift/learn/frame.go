package learn

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// frame is an orthonormal basis of directions of xi-space.
type frame [][]float64

// add appends v made orthonormal, unless little of it is left.
func (f frame) add(v []float64) frame {
	v = append([]float64(nil), v...)
	for range 2 {
		for _, b := range f {
			floats.AddScaled(v, -floats.Dot(v, b), b)
		}
	}
	n := floats.Norm(v, 2)
	if n < 1e-3 {
		return f
	}
	floats.Scale(1/n, v)
	return append(f, v)
}

// of is xi's part along each direction.
func (f frame) of(xi []float64) []float64 {
	y := make([]float64, len(f))
	for k, b := range f {
		y[k] = floats.Dot(xi, b)
	}
	return y
}

// columnsOf are the unit directions of xi-space that the columns stand for: the
// linked inputs, and the two ways in which the wind's shape moves the landing.
func (h *aim) columnsOf() frame {
	var f frame
	for _, l := range h.c.Links {
		e := make([]float64, h.c.Dim)
		e[l.Coord] = 1
		f = append(f, e)
	}
	if len(h.c.Shape) == 0 {
		return f
	}
	ways := make([][]float64, 2, 2+len(h.c.Shape))
	for k := range ways {
		ways[k] = make([]float64, h.c.Dim)
	}
	for k, i := range h.c.Shape {
		ways[0][i], ways[1][i] = h.shape[k].X, h.shape[k].Y
		e := make([]float64, h.c.Dim) // in place of a way that moves nothing
		e[i] = 1
		ways = append(ways, e)
	}
	for _, e := range ways {
		if n := floats.Norm(e, 2); n > 0 && len(f) < h.c.width() {
			floats.Scale(1/n, e)
			f = f.add(e)
		}
	}
	return f
}

// values are the columns of xi in default spreads.
func (h *aim) values(columns frame, xi []float64) []float64 {
	x := columns.of(xi)
	for l, link := range h.c.Links {
		x[l] = (h.q.mean[link.Coord] + h.q.sd[link.Coord]*xi[link.Coord]) * link.ratio()
	}
	return x
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

// width is the number of columns of a case: its links, and two directions of
// the wind's shape.
func (c *Case) width() int {
	return len(c.Links) + min(len(c.Shape), 2)
}

// normal is a normal distribution of standard coordinates.
type normal struct {
	mean   []float64
	root   *mat.TriDense // lower
	logDet float64       // of root
}

// standard has mean 0 and unit covariance.
func standard(n int) normal {
	g := normal{mean: make([]float64, n), root: mat.NewTriDense(max(n, 1), mat.Lower, nil)}
	for i := range n {
		g.root.SetTri(i, i, 1)
	}
	return g
}

// at is mean + root u.
func (g *normal) at(u []float64) []float64 {
	y := append([]float64(nil), g.mean...)
	for i := range y {
		for j := 0; j <= i; j++ {
			y[i] += g.root.At(i, j) * u[j]
		}
	}
	return y
}

// logRatio is the log of the density over that of the standard normal.
func (g *normal) logRatio(y []float64) float64 {
	u := make([]float64, len(y))
	q := 0.0
	for i := range y {
		u[i] = y[i] - g.mean[i]
		for j := range i {
			u[i] -= g.root.At(i, j) * u[j]
		}
		u[i] /= g.root.At(i, i)
		q += u[i]*u[i] - y[i]*y[i]
	}
	return -0.5*q - g.logDet
}

// fitNormal has mean and covariance of weighted y (rows), the covariance widened.
func fitNormal(y [][]float64, w []float64, widen float64) (normal, bool) {
	n := len(y[0])
	g := normal{mean: make([]float64, n), root: mat.NewTriDense(n, mat.Lower, nil)}
	total := floats.Sum(w)
	for i, v := range y {
		floats.AddScaled(g.mean, w[i]/total, v)
	}
	c := mat.NewSymDense(n, nil)
	d := make([]float64, n)
	for i, v := range y {
		floats.SubTo(d, v, g.mean)
		c.SymRankOne(c, widen*widen*w[i]/total, mat.NewVecDense(n, d))
	}
	for i := range n {
		c.SetSym(i, i, c.At(i, i)+fitLeast)
	}
	var ch mat.Cholesky
	if !ch.Factorize(c) {
		return g, false
	}
	ch.LTo(g.root)
	for i := range n {
		g.logDet += math.Log(g.root.At(i, i))
	}
	return g, true
}
