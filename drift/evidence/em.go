package evidence

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"
)

// blob is a component under fitting.
type blob struct {
	weight float64
	mean   []float64
	cov    *mat.SymDense
}

// bestParts fits mixtures of growing size to the points y (n x r) with weights
// w that sum to 1, by expectation and maximisation (Dempster, Laird and Rubin
// 1977), and keeps the one with the lowest Bayesian information criterion for
// neff independent points, at half the usual penalty: too many components cost
// a proposal little, too few leave a ridge unfollowed.
func bestParts(y, w []float64, r int, neff float64, most int, rng *rand.Rand) []blob {
	y, w = heavy(y, w, r)
	all := spread(y, w, r)
	best := []blob{all}
	bestScore, worse := math.Inf(1), 0
	perPart := float64(1 + r + r*(r+1)/2)
	for k := 1; k <= most; k++ {
		if k > 1 && neff < 2.5*float64(k*r) {
			break
		}
		parts, ll := expectMaximise(y, w, r, k, neff, all, rng)
		score := -2*neff*ll + float64(k)*perPart*math.Log(math.Max(neff, 2))*0.5
		if score < bestScore {
			best, bestScore, worse = parts, score, 0
		} else if worse++; worse >= 2 {
			break
		}
	}
	return best
}

// spread is the one component that has the mean and covariance of the points,
// drawn a little toward the prior's unit covariance.
func spread(y, w []float64, r int) blob {
	b := blob{weight: 1, mean: make([]float64, r), cov: mat.NewSymDense(r, nil)}
	for i, v := range w {
		for j := range r {
			b.mean[j] += v * y[i*r+j]
		}
	}
	addScatter(b.cov, y, w, 1, 0, b.mean)
	for j := range r {
		b.cov.SetSym(j, j, b.cov.At(j, j)*1.001+1e-9)
	}
	return b
}

// expectMaximise returns k components and the mean log-likelihood of the
// points. Each covariance is drawn toward the whole cloud's, shrunk, with the
// weight of r + 2 points, so that no component falls onto a single point.
func expectMaximise(y, w []float64, r, k int, neff float64, all blob, rng *rand.Rand) ([]blob, float64) {
	n := len(w)
	parts := seedParts(y, w, r, k, all, rng)
	resp := make([]float64, n*k)
	m := &mixture{r: r}
	e := make([]float64, r)
	logs := make([]float64, k)
	last := math.Inf(-1)
	ll := last
	for step := range 40 {
		m.parts = m.parts[:0]
		for _, p := range parts {
			if !m.add(math.Max(p.weight, 1e-12), p.mean, p.cov, 1) {
				return []blob{all}, math.Inf(-1)
			}
		}
		ll = 0
		for i := range n {
			yi := y[i*r : (i+1)*r]
			top := math.Inf(-1)
			for j := range m.parts {
				logs[j] = m.parts[j].logAt(yi, e)
				top = math.Max(top, logs[j])
			}
			sum := 0.0
			for j, v := range logs {
				logs[j] = math.Exp(v - top)
				sum += logs[j]
			}
			for j, v := range logs {
				resp[i*k+j] = w[i] * v / sum
			}
			ll += w[i] * (top + math.Log(sum))
		}
		if k == 1 || step > 2 && ll-last < 1e-3 {
			break
		}
		last = ll
		maximise(parts, y, resp, r, k, neff, all)
	}
	return parts, ll
}

// maximise refits the parts to their shares of the points.
func maximise(parts []blob, y, resp []float64, r, k int, neff float64, all blob) {
	n := len(resp) / k
	shrink := math.Pow(float64(k), -2/float64(r))
	for j := range parts {
		p := &parts[j]
		sum := 0.0
		mean := make([]float64, r)
		for i := range n {
			if v := resp[i*k+j]; v > 0 {
				sum += v
				for c := range r {
					mean[c] += v * y[i*r+c]
				}
			}
		}
		p.weight = sum
		cov := mat.NewSymDense(r, nil)
		pull := float64(r+2) / neff
		if sum > 0 {
			for c := range mean {
				mean[c] /= sum
			}
			p.mean = mean
			addScatter(cov, y, resp, k, j, mean)
		}
		var toward mat.SymDense
		toward.ScaleSym(pull*shrink, all.cov)
		cov.AddSym(cov, &toward)
		cov.ScaleSym(1/(sum+pull), cov)
		p.cov = cov
	}
}

// seedParts spreads k first means over the points, each new one with a chance
// in proportion to weight and squared distance from those before it (Arthur
// and Vassilvitskii 2007), distances in units of the cloud's own spread.
func seedParts(y, w []float64, r, k int, all blob, rng *rand.Rand) []blob {
	n := len(w)
	near := make([]float64, n)
	for i := range near {
		near[i] = math.Inf(1)
	}
	parts := make([]blob, k)
	shrink := math.Pow(float64(k), -2/float64(r))
	for j := range parts {
		cov := mat.NewSymDense(r, nil)
		cov.ScaleSym(shrink, all.cov)
		mean := make([]float64, r)
		if k == 1 {
			copy(mean, all.mean)
		} else {
			copy(mean, y[pick(w, near, rng)*r:])
		}
		parts[j] = blob{weight: 1 / float64(k), mean: mean, cov: cov}
		for i := range n {
			d := 0.0
			for c := range r {
				t := y[i*r+c] - mean[c]
				d += t * t / all.cov.At(c, c)
			}
			near[i] = math.Min(near[i], d)
		}
	}
	return parts
}

// pick draws an index with chance in proportion to w times near, where near is finite.
func pick(w, near []float64, rng *rand.Rand) int {
	weight := func(i int) float64 {
		if math.IsInf(near[i], 1) {
			return w[i]
		}
		return w[i] * near[i]
	}
	total := 0.0
	for i := range w {
		total += weight(i)
	}
	x := rng.Float64() * total
	for i := range w {
		if x -= weight(i); x < 0 {
			return i
		}
	}
	return len(w) - 1
}

// addScatter adds to cov the sum of w[i*k+j] d d', d the offset of point i of
// y from mean.
func addScatter(cov *mat.SymDense, y, w []float64, k, j int, mean []float64) {
	r := len(mean)
	d, sum := make([]float64, r), make([]float64, r*r)
	for i := range len(w) / k {
		v := w[i*k+j]
		if v < 1e-12 {
			continue
		}
		for c := range r {
			d[c] = y[i*r+c] - mean[c]
		}
		for a := range r {
			row, va := sum[a*r:a*r+a+1], v*d[a]
			for b := range row {
				row[b] += va * d[b]
			}
		}
	}
	for a := range r {
		for b := range a + 1 {
			cov.SetSym(a, b, cov.At(a, b)+sum[a*r+b])
		}
	}
}

// heavy returns the points that have any weight to speak of, n x r, and their
// weights, which sum to 1.
func heavy(y, w []float64, r int) (hy, hw []float64) {
	least, sum := 1e-4/float64(len(w)), 0.0
	for i, v := range w {
		if v > least {
			hy = append(hy, y[i*r:(i+1)*r]...)
			hw = append(hw, v)
			sum += v
		}
	}
	for i := range hw {
		hw[i] /= sum
	}
	return hy, hw
}
