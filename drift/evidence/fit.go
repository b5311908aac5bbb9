package evidence

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// fitting holds what the fit of a proposal may choose.
type fitting struct {
	maxDirections int     // of the informed subspace
	maxParts      int     // components of the mixture
	inflate       float64 // of standard deviations
	wide, prior   float64 // shares of the widened components and of the prior
}

// fit makes a proposal from a sample of one outcome: z (n x dim, row-major)
// with weights w that sum to 1, and features f (n x nf) that the evidence
// looks at (landing place, times, positions). The informed directions are those
// along which the features change (least squares, all points counting the
// same: z keeps its spread in every direction) and those along which the
// weighted sample has moved or narrowed by more than chance would.
func fit(z, f, w []float64, dim, nf int, o fitting, rng *rand.Rand) *mixture {
	neff := effective(w)
	u := featureDirections(z, f, dim, nf, o.maxDirections)
	u = addMoved(u, z, w, dim, neff, 4)
	r := len(u)
	m := &mixture{dim: dim, r: r, u: make([]float64, dim*r)}
	for j, col := range u {
		for i, v := range col {
			m.u[i*r+j] = v
		}
	}
	if r == 0 {
		return priorMixture(dim)
	}
	n := len(w)
	y := make([]float64, n*r)
	for i := range n {
		m.project(z[i*dim:(i+1)*dim], y[i*r:(i+1)*r])
	}
	parts := bestParts(y, w, r, neff, o.maxParts, rng)
	for _, p := range parts {
		m.add(p.weight*(1-o.wide-o.prior), p.mean, p.cov, o.inflate)
		if o.wide > 0 {
			m.add(p.weight*o.wide, p.mean, p.cov, 2.5)
		}
	}
	m.addPrior(o.prior)
	m.settle()
	return m
}

// settle makes the weights sum to one after components were dropped.
func (m *mixture) settle() {
	sum := 0.0
	for _, p := range m.parts {
		sum += p.weight
	}
	for i := range m.parts {
		p := &m.parts[i]
		p.logNorm -= math.Log(sum)
		p.weight /= sum
	}
}

// effective returns (sum w)^2 / sum w^2 (Kish 1965).
func effective(w []float64) float64 {
	var s, q float64
	for _, v := range w {
		s += v
		q += v * v
	}
	if q == 0 {
		return 0
	}
	return s * s / q
}

// featureDirections returns orthonormal directions in z along which the
// features change, the strongest first: the left singular vectors of the
// least-squares coefficients of the features, each scaled to unit variance.
func featureDirections(z, f []float64, dim, nf, most int) [][]float64 {
	n := len(z) / dim
	z = centred(z, dim) // where sharp sightings have narrowed z its mean would drown its spread
	gram := mat.NewSymDense(dim, nil)
	gram.SymOuterK(1, mat.NewDense(n, dim, z).T())
	for i := range dim {
		gram.SetSym(i, i, gram.At(i, i)+1e-10*float64(n))
	}
	cross := mat.NewDense(dim, nf, nil)
	for k := range nf {
		mean, sd := moments(f, nf, k)
		if !(sd > 0) {
			continue
		}
		for i := range n {
			v := f[i*nf+k]
			if math.IsNaN(v) {
				continue
			}
			v = (v - mean) / sd
			for j, zj := range z[i*dim : (i+1)*dim] {
				cross.Set(j, k, cross.At(j, k)+v*zj)
			}
		}
	}
	var ch mat.Cholesky
	if !ch.Factorize(gram) {
		return nil
	}
	var coef mat.Dense
	if ch.SolveTo(&coef, cross) != nil {
		return nil
	}
	var svd mat.SVD
	if !svd.Factorize(&coef, mat.SVDThin) {
		return nil
	}
	var left mat.Dense
	svd.UTo(&left)
	values := svd.Values(nil)
	var out [][]float64
	for k, v := range values {
		if k >= most || v < 2e-2*values[0] {
			break
		}
		out = append(out, mat.Col(nil, k, &left))
	}
	return out
}

// centred returns z (n x dim) less the mean of each column.
func centred(z []float64, dim int) []float64 {
	n := len(z) / dim
	mean := make([]float64, dim)
	for i, v := range z {
		mean[i%dim] += v / float64(n)
	}
	out := make([]float64, len(z))
	for i, v := range z {
		out[i] = v - mean[i%dim]
	}
	return out
}

// moments returns mean and standard deviation of feature k, NaN left out.
func moments(f []float64, nf, k int) (mean, sd float64) {
	var s, q, n float64
	for i := k; i < len(f); i += nf {
		if v := f[i]; !math.IsNaN(v) {
			s += v
			n++
		}
	}
	if n < 2 {
		return 0, 0
	}
	mean = s / n
	for i := k; i < len(f); i += nf {
		if v := f[i]; !math.IsNaN(v) {
			q += (v - mean) * (v - mean)
		}
	}
	return mean, math.Sqrt(q / n)
}

// addMoved appends to the directions u those in their complement along which
// the weighted sample departs from the prior: the mean, when it is longer than
// chance makes it, and eigenvectors of the covariance outside the
// Marchenko-Pastur edges (1 +- sqrt(dim/neff))^2 with a margin.
func addMoved(u [][]float64, z, w []float64, dim int, neff float64, most int) [][]float64 {
	n := len(w)
	rest := make([]float64, len(z))
	copy(rest, z)
	for i := range n {
		row := rest[i*dim : (i+1)*dim]
		for _, col := range u {
			d := dot(row, col)
			for j := range row {
				row[j] -= d * col[j]
			}
		}
	}
	mean := make([]float64, dim)
	for i := range n {
		for j, v := range rest[i*dim : (i+1)*dim] {
			mean[j] += w[i] * v
		}
	}
	free := float64(dim - len(u))
	if l := dot(mean, mean); free > 0 && l > (free+4*math.Sqrt(2*free))/neff {
		u = appendDirection(u, mean)
		scale := math.Sqrt(l)
		for i := range n {
			row := rest[i*dim : (i+1)*dim]
			d := dot(row, mean) / scale
			for j := range row {
				row[j] -= d * mean[j] / scale
			}
		}
	}
	return addNarrowed(u, rest, w, dim, neff, most)
}

// addNarrowed appends those directions of rest, the points without their parts
// along u, whose weighted covariance lies outside the edges.
func addNarrowed(u [][]float64, rest, w []float64, dim int, neff float64, most int) [][]float64 {
	n, free := len(w), dim-len(u)
	for i, v := range w {
		root := math.Sqrt(v)
		for j := range dim {
			rest[i*dim+j] *= root
		}
	}
	cov := mat.NewSymDense(dim, nil)
	cov.SymOuterK(1, mat.NewDense(n, dim, rest).T())
	var eig mat.EigenSym
	if !eig.Factorize(cov, true) {
		return u
	}
	var vec mat.Dense
	eig.VectorsTo(&vec)
	values := eig.Values(nil)
	edge := 1.25 * math.Sqrt(float64(dim)/neff)
	low := math.Pow(math.Max(0, 1-edge), 2)
	high := math.Pow(1+edge, 2)
	type moved struct {
		by float64
		k  int
	}
	var found []moved
	for k, v := range values {
		if k < dim-free && v < 1e-8 { // the directions already taken
			continue
		}
		if v > 1e-8 && (v < low || v > high) {
			found = append(found, moved{math.Abs(math.Log(v)), k})
		}
	}
	slices.SortStableFunc(found, func(a, b moved) int {
		if a.by > b.by {
			return -1
		}
		return 1
	})
	for i, m := range found {
		if i >= most {
			break
		}
		u = appendDirection(u, mat.Col(nil, m.k, &vec))
	}
	return u
}

// appendDirection appends v made orthonormal to u, unless little of it is left.
func appendDirection(u [][]float64, v []float64) [][]float64 {
	c := slices.Clone(v)
	before := math.Sqrt(dot(c, c))
	for range 2 {
		for _, col := range u {
			d := dot(c, col)
			for j := range c {
				c[j] -= d * col[j]
			}
		}
	}
	l := math.Sqrt(dot(c, c))
	if l < 1e-3*before || l == 0 {
		return u
	}
	for j := range c {
		c[j] /= l
	}
	return append(u, c)
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i, v := range a {
		s += v * b[i]
	}
	return s
}
