package learn

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// smoothed makes points of runs: those that take every entry for right, and the
// rest, where some entry is a mistake, each of its own shape. most is how many
// of the former, the latter are a quarter.
func (r *runs) smoothed(most int) (out []points) {
	if r.len() == 0 {
		return nil
	}
	right, some := make([]float64, r.len()), make([]float64, r.len())
	for i, w := range r.logW {
		all := 1.0
		for _, m := range r.mistake[i*r.entries : (i+1)*r.entries] {
			all *= 1 - m
		}
		right[i], some[i] = w+math.Log(all), w+math.Log1p(-all)
	}
	whole := floats.LogSumExp(r.logW)
	for k, logs := range [][]float64{right, some} {
		if floats.LogSumExp(logs) > whole-negligible {
			out = append(out, r.smooth(logs, []int{most, most / 4}[k]))
		}
	}
	return out
}

// smooth makes points of runs that stand for exp(logs), at most so many.
func (r *runs) smooth(logs []float64, most int) points {
	n := r.width
	whole := floats.LogSumExp(logs)
	w := make([]float64, len(logs))
	for i, v := range logs {
		w[i] = math.Exp(v - whole)
	}
	mean, cov := r.moments(w)
	at, share := r.fewer(w, most, mean, cov)
	p := points{width: n}
	narrow, ok := r.narrowed(cov)
	if !ok {
		return p
	}
	base := whole - 0.5*narrow.logDet
	for l := range n {
		base += 0.5 * r.mean[l] * r.mean[l] / (r.sd[l] * r.sd[l])
	}
	for i, x := range at {
		v := narrow.toward(x, mean)
		var h mat.VecDense
		h.MulVec(&narrow.inverse, v)
		p.c = append(p.c, base+math.Log(share[i])-0.5*mat.Dot(&h, v))
		for l := range n {
			p.h = append(p.h, h.AtVec(l)-r.mean[l]/(r.sd[l]*r.sd[l]))
		}
	}
	p.k = make([]float64, n*n)
	for i := range n {
		for j := range n {
			p.k[i*n+j] = narrow.inverse.At(i, j)
		}
		p.k[i*n+i] -= 1 / (r.sd[i] * r.sd[i])
	}
	p.ready()
	return p
}

// narrow is the covariance that each point has of its own.
type narrow struct {
	inverse mat.Dense
	shrink  mat.Dense // what brings runs toward their middle by as much
	logDet  float64   // of the covariance over the belief's
}

// narrowed takes a share of the runs' covariance, in any direction less than the
// belief's, so that K stays positive: what was logged never makes a factor more
// likely the farther out it is.
func (r *runs) narrowed(cov *mat.SymDense) (out narrow, ok bool) {
	n := r.width
	unit := mat.NewSymDense(n, nil)
	for i := range n {
		for j := range i + 1 {
			unit.SetSym(i, j, cov.At(i, j)/(r.sd[i]*r.sd[j]))
		}
	}
	var eig mat.EigenSym
	if !eig.Factorize(unit, true) {
		return out, false
	}
	var v mat.Dense
	eig.VectorsTo(&v)
	inverse, shrink := mat.NewDiagDense(n, nil), mat.NewDiagDense(n, nil)
	for k, l := range eig.Values(nil) {
		l = max(l, fitLeast)
		own := min(smoothing*l, mostOwn)
		inverse.SetDiag(k, 1/own)
		shrink.SetDiag(k, math.Sqrt(1-own/l))
		out.logDet += math.Log(own)
	}
	back := func(d *mat.DiagDense, into *mat.Dense, left, right func(sd float64) float64) {
		into.Mul(&v, d)
		into.Mul(into, v.T())
		for i := range n {
			for j := range n {
				into.Set(i, j, into.At(i, j)*left(r.sd[i])*right(r.sd[j]))
			}
		}
	}
	over, times := func(s float64) float64 { return 1 / s }, func(s float64) float64 { return s }
	back(inverse, &out.inverse, over, over)
	back(shrink, &out.shrink, times, over)
	return out, true
}

// toward brings x toward the middle.
func (w *narrow) toward(x, mean []float64) *mat.VecDense {
	d := mat.NewVecDense(len(x), nil)
	floats.SubTo(d.RawVector().Data, x, mean)
	var v mat.VecDense
	v.MulVec(&w.shrink, d)
	floats.Add(v.RawVector().Data, mean)
	return &v
}

// moments are the weighted mean and covariance of the runs, the latter never
// singular.
func (r *runs) moments(w []float64) ([]float64, *mat.SymDense) {
	n := r.width
	mean := make([]float64, n)
	for i, v := range w {
		floats.AddScaled(mean, v, r.row(i))
	}
	cov := mat.NewSymDense(n, nil)
	d := mat.NewVecDense(n, nil)
	for i, v := range w {
		floats.SubTo(d.RawVector().Data, r.row(i), mean)
		cov.SymRankOne(cov, v, d)
	}
	for l := range n {
		cov.SetSym(l, l, cov.At(l, l)+fitLeast*r.sd[l]*r.sd[l])
	}
	return mean, cov
}

// fewer resamples the runs systematically (Kitagawa 1996, J. Comput. Graph.
// Stat. 5) where there are more than most, and moves them so that mean and
// covariance stay. It returns values and shares.
func (r *runs) fewer(w []float64, most int, mean []float64, cov *mat.SymDense) (at [][]float64, share []float64) {
	for i, v := range w {
		if v > 0 {
			at, share = append(at, append([]float64(nil), r.row(i)...)), append(share, v)
		}
	}
	if len(at) <= most {
		return at, share
	}
	step := 1 / float64(most)
	var few [][]float64
	sum, next := 0.0, step/2
	for i, v := range share {
		for sum += v; next < sum && len(few) < most; next += step {
			few = append(few, append([]float64(nil), at[i]...))
		}
	}
	n := r.width
	now := runs{width: n, sd: r.sd}
	for _, x := range few {
		now.x = append(now.x, x...)
	}
	equal := make([]float64, len(few))
	for i := range equal {
		equal[i] = 1 / float64(len(few))
	}
	was, spread := now.moments(equal)
	var a, b mat.Cholesky
	if a.Factorize(cov) && b.Factorize(spread) {
		la, lb := mat.NewTriDense(n, mat.Lower, nil), mat.NewTriDense(n, mat.Lower, nil)
		a.LTo(la)
		b.LTo(lb)
		var turn mat.Dense
		if turn.Solve(lb.T(), la.T()) == nil { // (la lb^-1)'
			for _, x := range few {
				floats.Sub(x, was)
				var y mat.VecDense
				y.MulVec(turn.T(), mat.NewVecDense(n, x))
				floats.AddTo(x, mean, y.RawVector().Data)
			}
		}
	}
	return few, equal
}
