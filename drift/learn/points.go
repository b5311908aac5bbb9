package learn

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// points are runs of one case and outcome that agree with all that was logged of
// it, weighted: the likelihood of the log under factors of means m and standard
// deviations s is the sum over them of
//
//	exp(c) prod_l N(x[l]; m[l], s[l])
//
// which is importance sampling from the belief they were drawn with, whose
// density c is divided by. A find is exact: the runs land on it.
type points struct {
	width   int
	x       []float64 // the factors' values by column, in default spreads; width a point
	c       []float64 // log weight
	entries int
	log     []float64 // log-likelihood of each entry; entries a point
	mistake []float64 // chance that it is a mistake
}

func (p *points) len() int { return len(p.c) }

// weigh fills out with the weights of the points over the greatest and returns
// the log of the likelihood, -Inf for no points. minus is the sum of the logs of sd.
func (p *points) weigh(mean, sd []float64, minus float64, out []float64) float64 {
	var room [2 * maxWidth]float64
	inv, at := room[:maxWidth], room[maxWidth:]
	if p.width > maxWidth {
		inv, at = make([]float64, p.width), make([]float64, p.width)
	}
	for l := range p.width {
		inv[l] = 1 / sd[l]
		at[l] = mean[l] * inv[l]
	}
	top := math.Inf(-1)
	for i, c := range p.c {
		q := 0.0
		for l, v := range p.x[i*p.width : (i+1)*p.width] {
			d := v*inv[l] - at[l]
			q += d * d
		}
		v := c - 0.5*q
		out[i] = v
		top = max(top, v)
	}
	if math.IsInf(top, -1) {
		return top
	}
	sum := 0.0
	for i, v := range out[:len(p.c)] {
		if v -= top; v > -negligible {
			out[i] = math.Exp(v)
			sum += out[i]
		} else {
			out[i] = 0
		}
	}
	return top + math.Log(sum) - minus
}

// logDensity is the log of the likelihood.
func (p *points) logDensity(mean, sd []float64) float64 {
	return p.weigh(mean, sd, sumLogs(sd), make([]float64, p.len()))
}

func sumLogs(x []float64) (sum float64) {
	for _, v := range x {
		sum += math.Log(v)
	}
	return sum
}

// row is the values of point i.
func (p *points) row(i int) []float64 { return p.x[i*p.width : (i+1)*p.width] }

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
