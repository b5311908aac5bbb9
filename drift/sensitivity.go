package drift

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Share is the part of the landings' variance, east and north together, that
// one input causes by itself.
type Share struct {
	Name  string
	Share float64 // 0 to 1
}

// sensitivityRuns is how many runs are regressed at most.
const sensitivityRuns = 8192

// Sensitivity returns the first-order Sobol index of every input for the
// landing point of an unweighted cloud of this model, in the order of Coords,
// the outcome first and last "together": what is left for inputs acting
// together and for curvature beyond the second order. The shares sum to 1.
//
// The indices are estimated by regression on a polynomial chaos of degree two
// without products (Sudret 2008, Reliability Engineering and System Safety 93,
// 964-979): the squared coefficients of a coordinate's orthonormal Hermite
// polynomials, less what chance alone would give them. It costs no flights.
func (m *Model) Sensitivity(c *Cloud) ([]Share, error) {
	n := min(len(c.Landings), sensitivityRuns)
	b := m.newBasis()
	if n < 4*b.size || c.Weights != nil {
		return nil, fmt.Errorf("sensitivity needs an unweighted cloud of at least %d runs, not %d", 4*b.size, len(c.Landings))
	}
	gram := mat.NewSymDense(b.size, nil)
	right := mat.NewDense(b.size, 2, nil)
	row := make([]float64, b.size)
	var in Input
	var sum, square [2]float64
	for i := range n {
		m.Draw(c.Seed, i, &in)
		b.fill(in, row)
		gram.SymRankOne(gram, 1, mat.NewVecDense(b.size, row))
		at := &c.Landings[i].At
		for k, v := range [2]float64{at.X, at.Y} {
			sum[k] += v
			square[k] += v * v
			for j, r := range row {
				right.Set(j, k, right.At(j, k)+r*v)
			}
		}
	}
	for j := range b.size { // an outcome that no run had
		if gram.At(j, j) == 0 {
			gram.SetSym(j, j, 1)
		}
	}
	var chol mat.Cholesky
	var beta mat.Dense
	if !chol.Factorize(gram) {
		return nil, fmt.Errorf("sensitivity: %d runs do not tell the inputs apart", n)
	}
	if err := chol.SolveTo(&beta, right); err != nil {
		return nil, err
	}
	total, residual := 0.0, 0.0
	for k := range 2 {
		v := square[k] - sum[k]*sum[k]/float64(n)
		total += v / float64(n-1)
		fit := square[k]
		for j := range b.size {
			fit -= beta.At(j, k) * right.At(j, k)
		}
		residual += fit / float64(n-b.size)
	}
	if total <= 0 {
		return nil, nil
	}
	return b.shares(&beta, gram, total, max(residual, 0)/float64(n), n), nil
}

// basis is the columns of the regression: an indicator for each outcome, then
// first- and second-order Hermite polynomials of each coordinate, the wind's
// shape to first order.
type basis struct {
	m      *Model
	size   int
	groups []string
	group  []int // of each column after the outcomes
}

func (m *Model) newBasis() *basis {
	b := &basis{m: m, size: len(m.outcomes)}
	at := map[string]int{}
	for j, c := range m.coords {
		g, ok := at[c.Group]
		if !ok {
			g = len(b.groups)
			at[c.Group] = g
			b.groups = append(b.groups, c.Group)
		}
		b.group = append(b.group, g)
		if j < m.shapeFrom {
			b.group = append(b.group, g)
		}
	}
	b.size += len(b.group)
	return b
}

func (b *basis) fill(in Input, row []float64) {
	clear(row)
	row[in.Outcome] = 1
	k := len(b.m.outcomes)
	for j, z := range in.Z {
		row[k] = z
		k++
		if j < b.m.shapeFrom {
			row[k] = (z*z - 1) / math.Sqrt2
			k++
		}
	}
}

// shares turns coefficients into shares of the total variance; noise is the
// variance of each coefficient, both components together.
func (b *basis) shares(beta *mat.Dense, gram *mat.SymDense, total, noise float64, n int) []Share {
	outs := len(b.m.outcomes)
	between, seen := 0.0, 0
	for k := range 2 {
		mean := 0.0
		for j := range outs {
			mean += gram.At(j, j) / float64(n) * beta.At(j, k)
		}
		for j := range outs {
			between += gram.At(j, j) / float64(n) * sq(beta.At(j, k)-mean)
		}
	}
	for j := range outs {
		if gram.At(j, j) > 1 {
			seen++
		}
	}
	out := []Share{{"outcome", max(between-float64(seen-1)*noise, 0) / total}}
	sums := make([]float64, len(b.groups))
	for i, g := range b.group {
		sums[g] += sq(beta.At(outs+i, 0)) + sq(beta.At(outs+i, 1)) - noise
	}
	rest := 1 - out[0].Share
	for g, name := range b.groups {
		s := max(sums[g], 0) / total
		out = append(out, Share{name, s})
		rest -= s
	}
	return append(out, Share{"together", max(rest, 0)})
}
