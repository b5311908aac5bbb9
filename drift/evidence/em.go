package evidence

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// blob is a component under fitting.
type blob struct {
	weight float64
	mean   []float64
	cov    *mat.SymDense
}

// points are n points of r coordinates, row-major, with weights that sum to 1.
type points struct {
	y, w []float64
	r    int
}

func (p points) row(i int) []float64 { return p.y[i*p.r : (i+1)*p.r] }

// bestBlobs fits mixtures of growing size to the points, by expectation and
// maximisation (Dempster, Laird and Rubin 1977), and keeps the one with the
// lowest Bayesian information criterion for neff independent points, at half
// the usual penalty: too many components cost a proposal little, too few leave
// a ridge unfollowed.
func (p points) bestBlobs(neff float64, most int, rng *rand.Rand) []blob {
	p = p.heavy()
	all := p.whole()
	best := []blob{all}
	bestScore, worse := math.Inf(1), 0
	perBlob := float64(1 + p.r + p.r*(p.r+1)/2)
	for k := 1; k <= most; k++ {
		if k > 1 && neff < 2.5*float64(k*p.r) {
			break
		}
		blobs, ll := p.expectMaximise(k, neff, all, rng)
		score := -2*neff*ll + float64(k)*perBlob*math.Log(math.Max(neff, 2))*0.5
		if score < bestScore {
			best, bestScore, worse = blobs, score, 0
		} else if worse++; worse >= 2 {
			break
		}
	}
	return best
}

// whole is the one component that has the mean and covariance of the points,
// drawn a little toward the prior's unit covariance.
func (p points) whole() blob {
	b := blob{weight: 1, mean: make([]float64, p.r), cov: mat.NewSymDense(p.r, nil)}
	for i, v := range p.w {
		floats.AddScaled(b.mean, v, p.row(i))
	}
	p.addScatter(b.cov, p.w, b.mean)
	for j := range p.r {
		b.cov.SetSym(j, j, b.cov.At(j, j)*1.001+1e-9)
	}
	return b
}

// expectMaximise returns k components and the mean log-likelihood of the
// points. Each covariance is drawn toward the whole cloud's, shrunk, with the
// weight of r + 2 points, so that no component falls onto a single point.
func (p points) expectMaximise(k int, neff float64, all blob, rng *rand.Rand) ([]blob, float64) {
	blobs := p.seeds(k, all, rng)
	resp := make([][]float64, k) // of each component, its share of each point's weight
	for j := range resp {
		resp[j] = make([]float64, len(p.w))
	}
	m := &mixture{r: p.r}
	last, ll := math.Inf(-1), math.Inf(-1)
	for step := range 40 {
		m.parts = m.parts[:0]
		for _, b := range blobs {
			if !m.add(math.Max(b.weight, 1e-12), b.mean, b.cov, 1) {
				return []blob{all}, math.Inf(-1)
			}
		}
		ll = p.expect(m, resp)
		if k == 1 || step > 2 && ll-last < 1e-3 {
			break
		}
		last = ll
		for j := range blobs {
			p.maximise(&blobs[j], resp[j], float64(p.r+2)/neff, shrunk(k, all.cov))
		}
	}
	return blobs, ll
}

// expect fills resp and returns the mean log-likelihood.
func (p points) expect(m *mixture, resp [][]float64) (ll float64) {
	e, logs := make([]float64, p.r), make([]float64, len(resp))
	for i, w := range p.w {
		for j := range m.parts {
			logs[j] = m.parts[j].logAt(p.row(i), e)
		}
		sum := floats.LogSumExp(logs)
		for j, v := range logs {
			resp[j][i] = w * math.Exp(v-sum)
		}
		ll += w * sum
	}
	return ll
}

// shrunk is a covariance as one of k components would have it.
func shrunk(k int, cov *mat.SymDense) *mat.SymDense {
	r := cov.SymmetricDim()
	out := mat.NewSymDense(r, nil)
	out.ScaleSym(math.Pow(float64(k), -2/float64(r)), cov)
	return out
}

// maximise refits a component to its shares of the points, with a pull of the
// given weight toward a covariance.
func (p points) maximise(b *blob, share []float64, pull float64, toward *mat.SymDense) {
	b.weight = floats.Sum(share)
	cov := mat.NewSymDense(p.r, nil)
	if b.weight > 0 {
		mean := make([]float64, p.r)
		for i, v := range share {
			floats.AddScaled(mean, v, p.row(i))
		}
		floats.Scale(1/b.weight, mean)
		b.mean = mean
		p.addScatter(cov, share, mean)
	}
	var t mat.SymDense
	t.ScaleSym(pull, toward)
	cov.AddSym(cov, &t)
	cov.ScaleSym(1/(b.weight+pull), cov)
	b.cov = cov
}

// seeds spreads k first means over the points, each new one with a chance in
// proportion to weight and squared distance from those before it (Arthur and
// Vassilvitskii 2007), distances in units of the cloud's own spread.
func (p points) seeds(k int, all blob, rng *rand.Rand) []blob {
	near := make([]float64, len(p.w))
	for i := range near {
		near[i] = math.Inf(1)
	}
	blobs := make([]blob, k)
	for j := range blobs {
		mean := slices.Clone(all.mean)
		if k > 1 {
			copy(mean, p.row(pick(p.w, near, rng)))
		}
		blobs[j] = blob{weight: 1 / float64(k), mean: mean, cov: shrunk(k, all.cov)}
		for i := range near {
			d := 0.0
			for c, v := range p.row(i) {
				t := v - mean[c]
				d += t * t / all.cov.At(c, c)
			}
			near[i] = math.Min(near[i], d)
		}
	}
	return blobs
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

// addScatter adds to cov the sum of w d d', d the offset of a point from mean.
func (p points) addScatter(cov *mat.SymDense, w, mean []float64) {
	r := p.r
	d, sum := make([]float64, r), make([]float64, r*r)
	for i, v := range w {
		if v < 1e-12 {
			continue
		}
		floats.SubTo(d, p.row(i), mean)
		for a := range r {
			floats.AddScaled(sum[a*r:a*r+a+1], v*d[a], d[:a+1])
		}
	}
	for a := range r {
		for b := range a + 1 {
			cov.SetSym(a, b, cov.At(a, b)+sum[a*r+b])
		}
	}
}

// heavy returns the points that have any weight to speak of.
func (p points) heavy() points {
	out := points{r: p.r}
	least := 1e-4 / float64(len(p.w))
	for i, v := range p.w {
		if v > least {
			out.y = append(out.y, p.row(i)...)
			out.w = append(out.w, v)
		}
	}
	floats.Scale(1/floats.Sum(out.w), out.w)
	return out
}
