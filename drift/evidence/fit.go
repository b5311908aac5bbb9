package evidence

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// fitting holds what the fit of a proposal may choose.
type fitting struct {
	maxDirections int     // of the informed subspace
	maxParts      int     // components of the mixture
	inflate       float64 // of standard deviations
	wide, prior   float64 // shares of the widened components and of the prior
}

// fitted is a sample of one outcome that a proposal is fitted to: n inputs z (n
// by dim, row-major) with weights w that sum to 1, and their features f (n by
// nf), which the evidence looks at: landing place, times, positions.
type fitted struct {
	z, f, w []float64
	dim, nf int
}

// fit makes a proposal. The informed directions are those along which the
// features change (least squares, all points counting the same: z keeps its
// spread in every direction) and those along which the weighted sample has
// moved or narrowed by more than chance would.
func (s *fitted) fit(o fitting, rng *rand.Rand) *mixture {
	neff := effective(s.w)
	u := s.addMoved(s.featureDirections(o.maxDirections), neff)
	r := len(u)
	if r == 0 {
		return priorMixture(s.dim)
	}
	m := &mixture{dim: s.dim, r: r, u: make([]float64, s.dim*r)}
	for j, col := range u {
		for i, v := range col {
			m.u[i*r+j] = v
		}
	}
	p := points{make([]float64, len(s.w)*r), s.w, r}
	for i := range s.w {
		m.project(s.z[i*s.dim:(i+1)*s.dim], p.row(i))
	}
	for _, b := range p.bestBlobs(neff, o.maxParts, rng) {
		m.add(b.weight*(1-o.wide-o.prior), b.mean, b.cov, o.inflate)
		if o.wide > 0 {
			m.add(b.weight*o.wide, b.mean, b.cov, tuned.widened)
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
func (s *fitted) featureDirections(most int) [][]float64 {
	f, dim, nf, n := s.f, s.dim, s.nf, len(s.w)
	z := centred(s.z, dim) // where sharp sightings have narrowed z its mean would drown its spread
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
		if k >= most || v < tuned.weakest*values[0] {
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
func (s *fitted) addMoved(u [][]float64, neff float64) [][]float64 {
	n, dim := len(s.w), s.dim
	rest := slices.Clone(s.z)
	remove := func(dir []float64, length float64) {
		for i := range n {
			row := rest[i*dim : (i+1)*dim]
			floats.AddScaled(row, -floats.Dot(row, dir)/(length*length), dir)
		}
	}
	for _, col := range u {
		remove(col, 1)
	}
	mean := make([]float64, dim)
	for i, w := range s.w {
		floats.AddScaled(mean, w, rest[i*dim:(i+1)*dim])
	}
	free := float64(dim - len(u))
	if l := floats.Dot(mean, mean); free > 0 && l > (free+4*math.Sqrt(2*free))/neff {
		u = appendDirection(u, mean)
		remove(mean, math.Sqrt(l))
	}
	return s.addNarrowed(u, rest, neff)
}

// addNarrowed appends those directions of rest, the points without their parts
// along u, whose weighted covariance lies outside the edges.
func (s *fitted) addNarrowed(u [][]float64, rest []float64, neff float64) [][]float64 {
	dim := s.dim
	n, free := len(s.w), dim-len(u)
	for i, v := range s.w {
		floats.Scale(math.Sqrt(v), rest[i*dim:(i+1)*dim])
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
	edge := tuned.edge * math.Sqrt(float64(dim)/neff)
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
	slices.SortStableFunc(found, func(a, b moved) int { return cmp.Compare(b.by, a.by) })
	for i, m := range found {
		if i >= tuned.mostNarrowed {
			break
		}
		u = appendDirection(u, mat.Col(nil, m.k, &vec))
	}
	return u
}

// appendDirection appends v made orthonormal to u, unless little of it is left.
func appendDirection(u [][]float64, v []float64) [][]float64 {
	c := slices.Clone(v)
	before := floats.Norm(c, 2)
	for range 2 {
		for _, col := range u {
			floats.AddScaled(c, -floats.Dot(c, col), col)
		}
	}
	l := floats.Norm(c, 2)
	if l < 1e-3*before || l == 0 {
		return u
	}
	floats.Scale(1/l, c)
	return append(u, c)
}
