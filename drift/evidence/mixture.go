package evidence

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// mixture is a proposal over the standard normal inputs of one outcome: in the
// r directions that the evidence bears on a mixture of normals, in all others
// the prior itself, which then cancels from the weights. A share of the prior
// in all directions bounds the weights (defensive sampling, Hesterberg 1995).
type mixture struct {
	dim   int
	u     []float64 // dim x r, row-major, orthonormal columns
	r     int
	parts []normal
}

// normal is one component: weight, mean and the lower Cholesky factor of its
// covariance, row-major r x r.
type normal struct {
	weight  float64
	mean    []float64
	chol    []float64
	logNorm float64 // log weight - sum(log diagonal)
}

// add appends a component; it is left out when cov is not positive definite.
func (m *mixture) add(weight float64, mean []float64, cov *mat.SymDense, scale float64) bool {
	var ch mat.Cholesky
	if !ch.Factorize(cov) {
		return false
	}
	var l mat.TriDense
	ch.LTo(&l)
	n := normal{weight: weight, mean: mean, chol: make([]float64, m.r*m.r)}
	logDet := 0.0
	for i := range m.r {
		for j := range i + 1 {
			n.chol[i*m.r+j] = l.At(i, j) * scale
		}
		logDet += math.Log(n.chol[i*m.r+i])
	}
	n.logNorm = math.Log(weight) - logDet
	m.parts = append(m.parts, n)
	return true
}

// priorMixture returns the mixture that is the prior itself.
func priorMixture(dim int) *mixture {
	m := &mixture{dim: dim}
	m.parts = []normal{{weight: 1}}
	return m
}

// addPrior appends the prior as a component.
func (m *mixture) addPrior(weight float64) {
	eye := make([]float64, m.r*m.r)
	for i := range m.r {
		eye[i*m.r+i] = 1
	}
	m.parts = append(m.parts, normal{weight: weight, mean: make([]float64, m.r), chol: eye, logNorm: math.Log(weight)})
}

// draw fills z with a point of m. scratch has room for 2 r numbers.
func (m *mixture) draw(rng *rand.Rand, z, scratch []float64) {
	pick := rng.Float64()
	for i := range z {
		z[i] = rng.NormFloat64()
	}
	if m.r == 0 {
		return
	}
	c := &m.parts[len(m.parts)-1]
	for i := range m.parts {
		if pick -= m.parts[i].weight; pick < 0 {
			c = &m.parts[i]
			break
		}
	}
	y, e := scratch[:m.r], scratch[m.r:2*m.r]
	m.project(z, y) // the prior's coordinates in the r directions
	for i := range e {
		s := c.mean[i]
		for j := range i + 1 {
			s += c.chol[i*m.r+j] * y[j]
		}
		e[i] = s - y[i]
	}
	for i := range z {
		for j := range m.r {
			z[i] += m.u[i*m.r+j] * e[j]
		}
	}
}

func (m *mixture) project(z, y []float64) {
	for j := range y {
		y[j] = 0
	}
	for i, v := range z {
		row := m.u[i*m.r : (i+1)*m.r]
		for j, w := range row {
			y[j] += v * w
		}
	}
}

// logRatio returns the logarithm of the density of m at z over the prior's.
// scratch has room for 2 r numbers.
func (m *mixture) logRatio(z, scratch []float64) float64 {
	if m.r == 0 {
		return 0
	}
	y, e := scratch[:m.r], scratch[m.r:2*m.r]
	m.project(z, y)
	return m.logDensity(y, e) + floats.Dot(y, y)/2
}

// logDensity is the density of the mixture at y but for the factor (2 pi)^(-r/2).
func (m *mixture) logDensity(y, e []float64) float64 {
	var room [32]float64
	logs := room[:0]
	for i := range m.parts {
		logs = append(logs, m.parts[i].logAt(y, e))
	}
	return floats.LogSumExp(logs)
}

func (n *normal) logAt(y, e []float64) float64 {
	r, q := len(y), 0.0
	for i := range r {
		s := y[i] - n.mean[i]
		row := n.chol[i*r : i*r+i+1]
		for j := range i {
			s -= row[j] * e[j]
		}
		e[i] = s / row[i]
		q += e[i] * e[i]
	}
	return n.logNorm - q/2
}

// logAdd returns log(exp a + exp b).
func logAdd(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	if math.IsInf(b, -1) {
		return a
	}
	return a + math.Log1p(math.Exp(b-a))
}
