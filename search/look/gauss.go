package look

import "math"

// moments are sums of colours and of their products.
type moments struct {
	n  float64
	s  [3]float64
	ss [6]float64 // LL La Lb aa ab bb
}

func (m *moments) add(c []float32) {
	l, a, b := float64(c[0]), float64(c[1]), float64(c[2])
	m.n++
	m.s[0] += l
	m.s[1] += a
	m.s[2] += b
	m.ss[0] += l * l
	m.ss[1] += l * a
	m.ss[2] += l * b
	m.ss[3] += a * a
	m.ss[4] += a * b
	m.ss[5] += b * b
}

// plus adds k times o.
func (m *moments) plus(o *moments, k float64) {
	m.n += k * o.n
	for i := range m.s {
		m.s[i] += k * o.s[i]
	}
	for i := range m.ss {
		m.ss[i] += k * o.ss[i]
	}
}

// Least variance of a background, by axis: what a camera and its JPEG add to
// ground of one colour (two and one levels of 255 or so).
var least = [3]float64{0.012 * 0.012, 0.006 * 0.006, 0.006 * 0.006}

// gauss is a background's mean and the matrix that makes its spread one in
// every direction (inverse of the lower Cholesky factor).
type gauss struct {
	mean [3]float32
	w    [6]float32 // lower triangle: 00 10 11 20 21 22
}

// gauss returns the mean and spread of what was summed; room widens the least
// spread, which shrinks as pixels are averaged.
func (m *moments) gauss(room float64) gauss {
	var g gauss
	if m.n == 0 {
		m = &moments{n: 1}
	}
	var u [3]float64
	for i := range u {
		u[i] = m.s[i] / m.n
		g.mean[i] = float32(u[i])
	}
	v := func(k, i, j int) float64 { return m.ss[k]/m.n - u[i]*u[j] }
	a := math.Sqrt(math.Max(v(0, 0, 0), 0) + room*least[0])
	b := v(1, 1, 0) / a
	d := v(2, 2, 0) / a
	c := math.Sqrt(math.Max(v(3, 1, 1)-b*b, 0) + room*least[1])
	e := (v(4, 2, 1) - d*b) / c
	f := math.Sqrt(math.Max(v(5, 2, 2)-d*d-e*e, 0) + room*least[2])
	g.w = [6]float32{
		float32(1 / a), float32(-b / (a * c)), float32(1 / c),
		float32((b*e - d*c) / (a * c * f)), float32(-e / (c * f)), float32(1 / f),
	}
	return g
}

// far2 returns the squared Mahalanobis distance of a colour: the RX detector's
// statistic (Reed and Yu 1990, "Adaptive multiple-band CFAR detection of an
// optical pattern with unknown spectral distribution").
func (g *gauss) far2(c []float32) float32 {
	l, a, b := c[0]-g.mean[0], c[1]-g.mean[1], c[2]-g.mean[2]
	x := g.w[0] * l
	y := g.w[1]*l + g.w[2]*a
	z := g.w[3]*l + g.w[4]*a + g.w[5]*b
	return x*x + y*y + z*z
}
