package learn

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"
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

// moveTarget is the share of steps taken that the size is tuned for.
const moveTarget = 0.25

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

// logTarget is the log posterior of the moved quantities given the others.
func (p *problem) logTarget(st *state) float64 {
	t := 0.0
	for k, f := range p.factors {
		median := spreadMedian
		if f.scaleOnly {
			median = 1
		} else {
			if !p.holds(k, st.mu[k]) {
				return math.Inf(-1)
			}
			m := st.mu[k] / p.factors[k].biasScale()
			t -= 0.5 * (biasDegrees + 1) * math.Log1p(m*m/biasDegrees)
		}
		d := math.Log(st.s[k]/median) / spreadLogSD
		t -= 0.5 * d * d
	}
	for i := range p.sites {
		t += p.weigh(st, i)
	}
	return t
}

// step makes one move, once the shape is known.
func (m *mover) step(p *problem, st *state, r *rand.Rand) {
	now := p.vector(st)
	if m.root == nil {
		m.seen = append(m.seen, now)
		return
	}
	n := len(now)
	e, next := make([]float64, n), make([]float64, n)
	for i := range e {
		e[i] = r.NormFloat64()
	}
	for i := range next {
		next[i] = now[i]
		for j := 0; j <= i; j++ {
			next[i] += m.size * m.root.At(i, j) * e[j]
		}
	}
	was := p.logTarget(st)
	p.setVector(st, next)
	accept := math.Exp(min(p.logTarget(st)-was, 0))
	if !(r.Float64() < accept) {
		p.setVector(st, now)
	}
	if !m.frozen && !math.IsNaN(accept) {
		m.size *= math.Exp(0.1 * (accept - moveTarget))
	}
}

// shape sets the steps' shape from what was seen.
func (m *mover) shape() {
	n := len(m.seen[0])
	rows := m.seen[len(m.seen)/4:]
	mean := make([]float64, n)
	for _, v := range rows {
		for i := range v {
			mean[i] += v[i] / float64(len(rows))
		}
	}
	c := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			s := 0.0
			for _, v := range rows {
				s += (v[i] - mean[i]) * (v[j] - mean[j]) / float64(len(rows))
			}
			if i == j {
				s += 1e-4 // of a default spread squared: never singular
			}
			c.SetSym(i, j, s)
		}
	}
	var ch mat.Cholesky
	if !ch.Factorize(c) {
		return // Gibbs steps alone then
	}
	m.root = mat.NewTriDense(n, mat.Lower, nil)
	ch.LTo(m.root)
	m.size, m.seen = 2.38/math.Sqrt(float64(n)), nil
}
