package learn

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/floats"
)

// runs are flights of one case and outcome that agree with what was logged of
// it, weighted, under the belief that they were drawn with: importance sampling.
// A find is exact: they land on it.
type runs struct {
	width   int
	x       []float64 // the factors' values by column, in default spreads; width a run
	logW    []float64 // log of the likelihood that a run stands for; their sum is the whole
	entries int
	log     []float64 // log-likelihood of each entry; entries a run
	mistake []float64 // chance that it is a mistake
	off     []float64 // how far what it says lies from the run

	mean, sd []float64 // the belief by column
}

func (r *runs) len() int            { return len(r.logW) }
func (r *runs) row(i int) []float64 { return r.x[i*r.width : (i+1)*r.width] }

// weigh fills out with the log of what each run stands for under other factors,
// those of these means and standard deviations.
func (r *runs) weigh(mean, sd, out []float64) {
	shift := sumLogs(r.sd) - sumLogs(sd)
	for i, w := range r.logW {
		q := 0.0
		for l, v := range r.row(i) {
			was, is := (v-r.mean[l])/r.sd[l], (v-mean[l])/sd[l]
			q += was*was - is*is
		}
		out[i] = w + 0.5*q + shift
	}
}

// points are the runs of a way, smoothed: the likelihood under factors of means m
// and standard deviations s is the sum over them of
//
//	exp(c) integral exp(-x'K x/2 + h'x) prod_l N(x[l]; m[l], s[l]) dx
//
// with x in default spreads: each run has become a narrow normal, drawn toward
// their middle so that mean and covariance stay those of the runs (West 1993, J. R.
// Statist. Soc. B 55), over the belief that they were drawn with.
type points struct {
	width int
	k     []float64 // K, width x width
	h     []float64 // width a point
	c     []float64

	terms []float64 // of each point: the products of two of its h, then h: see weigh
}

// pairs calls do for each pair of columns in the order of terms.
func (p *points) pairs(do func(a, b int)) {
	for a := range p.width {
		for b := range a + 1 {
			do(a, b)
		}
	}
}

// ready fills the terms.
func (p *points) ready() {
	for i := range p.c {
		h := p.h[i*p.width : (i+1)*p.width]
		p.pairs(func(a, b int) { p.terms = append(p.terms, h[a]*h[b]) })
		p.terms = append(p.terms, h...)
	}
}

func (p *points) len() int { return len(p.c) }

// pull is the normal that points have under some factors.
type pull struct {
	root    []float64 // lower Cholesky factor of K + 1/s^2
	inverse []float64 // of the root
	by      []float64 // m/s^2
	on      []float64 // what it multiplies the terms with
	log     float64   // of the density, but for the points' own part
}

// under fills out with the pull of factors; ok is false where numbers fail.
func (p *points) under(mean, sd []float64, out *pull) (ok bool) {
	n := p.width
	if len(out.root) != n*n {
		out.root, out.inverse, out.by = make([]float64, n*n), make([]float64, n*n), make([]float64, n)
	}
	out.log = 0
	volume := 1.0 // log once, not at every column
	l := out.root
	for i := range n {
		inv := 1 / (sd[i] * sd[i])
		out.by[i] = mean[i] * inv
		out.log -= 0.5 * mean[i] * out.by[i]
		for j := 0; j <= i; j++ {
			v := p.k[i*n+j]
			if i == j {
				v += inv
			}
			for m := range j {
				v -= l[i*n+m] * l[j*n+m]
			}
			switch {
			case i != j:
				l[i*n+j] = v / l[j*n+j]
			case v <= 0:
				return false
			default:
				l[i*n+i] = math.Sqrt(v)
				volume *= sd[i] * l[i*n+i]
			}
		}
	}
	out.log -= math.Log(volume)
	return true
}

// weigh fills out with the weights of the points over the greatest and returns
// the log of the likelihood, -Inf for no points.
func (p *points) weigh(mean, sd []float64, at *pull, out []float64) float64 {
	if len(p.c) == 0 || !p.under(mean, sd, at) {
		return math.Inf(-1)
	}
	top := math.Inf(-1)
	p.multipliers(at)
	m := len(at.on)
	for i, c := range p.c {
		out[i] = c + floats.Dot(p.terms[i*m:(i+1)*m], at.on)
		top = max(top, out[i])
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
	return top + math.Log(sum) + at.log
}

// multipliers fills in the pull's multipliers: with A = K + 1/s^2 and b = m/s^2 a point's
// log is
//
//	c + (h + b)'A^-1(h + b)/2 = c + sum over pairs of h h' (A^-1)/2 + h'A^-1 b + b'A^-1 b/2
//
// of which the last goes into the pull's own log.
func (p *points) multipliers(at *pull) {
	n := p.width
	inverse := at.inverse // of the root, lower
	for j := range n {
		inverse[j*n+j] = 1 / at.root[j*n+j]
		for i := j + 1; i < n; i++ {
			v := 0.0
			for m := j; m < i; m++ {
				v -= at.root[i*n+m] * inverse[m*n+j]
			}
			inverse[i*n+j] = v / at.root[i*n+i]
		}
	}
	at.on = append(at.on[:0], make([]float64, len(p.terms)/len(p.c))...)
	by, on := at.on[len(at.on)-n:], 0
	p.pairs(func(a, b int) {
		v := 0.0
		for m := a; m < n; m++ {
			v += inverse[m*n+a] * inverse[m*n+b]
		}
		by[a] += v * at.by[b]
		if a != b {
			by[b] += v * at.by[a]
			v *= 2
		}
		at.on[on] = 0.5 * v
		on++
	})
	at.log += 0.5 * floats.Dot(by, at.by)
}

// draw fills x with a draw of point i under the pull.
func (p *points) draw(i int, at *pull, x []float64, r *rand.Rand) {
	n := p.width
	for a, v := range p.h[i*n : (i+1)*n] {
		v += at.by[a]
		for b := range a {
			v -= at.root[a*n+b] * x[b]
		}
		x[a] = v / at.root[a*n+a]
	}
	for a := range n {
		x[a] += r.NormFloat64()
	}
	for a := n - 1; a >= 0; a-- {
		for b := a + 1; b < n; b++ {
			x[a] -= at.root[b*n+a] * x[b]
		}
		x[a] /= at.root[a*n+a]
	}
}

// logDensity is the log of the likelihood.
func (p *points) logDensity(mean, sd []float64) float64 {
	return p.weigh(mean, sd, &pull{}, make([]float64, p.len()))
}

func sumLogs(x []float64) (sum float64) {
	for _, v := range x {
		sum += math.Log(v)
	}
	return sum
}
