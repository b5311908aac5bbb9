package learn

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
)

// mover makes Metropolis steps of all means and log spreads at once, with the
// flights' own values summed out: it moves along what finds leave open, such as
// more wind against less drag, where Gibbs steps are slow. The steps' shape is
// learned from the first half of the burn-in (Haario, Saksman and Tamminen 2001,
// Bernoulli 7), their size in the second half, then both stay as they are.
type mover struct {
	seen   [][]float64 // visited during the burn-in
	root   *mat.TriDense
	size   float64
	frozen bool
}

// vector reads the moved quantities from a state.
func (p *problem) vector(st *state) []float64 {
	var v []float64
	for k, f := range p.factors {
		if !f.scaleOnly {
			v = append(v, st.mu[k])
		}
		v = append(v, math.Log(st.s[k]))
	}
	return v
}

func (p *problem) setVector(st *state, v []float64) {
	i := 0
	for k, f := range p.factors {
		if !f.scaleOnly {
			st.mu[k] = v[i]
			i++
		}
		st.s[k] = math.Exp(v[i])
		i++
	}
}

// logTarget is the log posterior of the moved quantities given the others;
// weighed holds what the state makes of the sites.
func (p *problem) logTarget(st *state, weighed []weighing) float64 {
	t := p.logGauges(st)
	for k, f := range p.factors {
		if !f.scaleOnly {
			m := st.mu[k] / p.factors[k].biasScale()
			t -= 0.5 * (biasDegrees + 1) * math.Log1p(m*m/biasDegrees)
		}
		d := math.Log(st.s[k]/f.spreadMedian()) / spreadLogSD
		t -= 0.5 * d * d
	}
	for i := range weighed {
		t += weighed[i].log
	}
	return t
}

// allHold tells whether all means and spreads lie where the points are believed.
func (p *problem) allHold(st *state) bool {
	for k, f := range p.factors {
		if !f.scaleOnly && !p.holds(k, st.mu[k]) || st.s[k] > p.widest(k) {
			return false
		}
	}
	return true
}

// step makes one move, once the shape is known.
func (m *mover) step(p *problem, st *state, r *rand.Rand) {
	now := p.vector(st)
	if m.root == nil {
		m.seen = append(m.seen, now)
		return
	}
	e := make([]float64, len(now))
	for i := range e {
		e[i] = r.NormFloat64()
	}
	var move mat.VecDense
	move.MulVec(m.root, mat.NewVecDense(len(e), e))
	next := make([]float64, len(now))
	floats.AddScaledTo(next, now, m.size, move.RawVector().Data)
	was, accept := p.logTarget(st, st.now), 0.0
	p.setVector(st, next)
	if p.allHold(st) {
		for i := range p.sites {
			p.weigh(st, i, &st.next[i])
		}
		accept = math.Exp(min(p.logTarget(st, st.next)-was, 0))
	}
	if r.Float64() < accept {
		st.now, st.next = st.next, st.now
	} else {
		p.setVector(st, now)
	}
	if !m.frozen && !math.IsNaN(accept) {
		m.size *= math.Exp(moveRate * (accept - moveTarget))
	}
}

// shape sets the steps' shape from what was seen.
func (m *mover) shape() {
	n := len(m.seen[0])
	rows := m.seen[len(m.seen)/4:]
	var c mat.SymDense
	stat.CovarianceMatrix(&c, mat.NewDense(len(rows), n, slices.Concat(rows...)), nil)
	for i := range n {
		c.SetSym(i, i, c.At(i, i)+moveLeast)
	}
	var ch mat.Cholesky
	if !ch.Factorize(&c) {
		return // Gibbs steps alone then
	}
	m.root = mat.NewTriDense(n, mat.Lower, nil)
	ch.LTo(m.root)
	m.size, m.seen = moveSize/math.Sqrt(float64(n)), nil
}
