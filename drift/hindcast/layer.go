package hindcast

import (
	"math"

	"windfall/drift/wind"
	"windfall/drift/wind/spread"
)

// layers is into how many slices a layer is cut for its mean.
const layers = 20

// Layer is the error of the mean wind between the ground and a height: what
// moves a landing, for something that falls evenly.
type Layer struct {
	Along, Across float64 // m/s, truth less the mean of the runs, along that mean and to its left
	VarAlong      float64 // m2/s2, variance of the runs
	VarAcross     float64
	Field         float64 // the part of either that is the field's
	Tail          float64
}

// LayerError sets the runs' mean wind of the layer up to top (m) against the
// truth's.
func LayerError(m *spread.Model, c *Case, top float64) Layer {
	p, s := c.Spread(m)
	return layerError(p, s, c.Truth, top)
}

// layerError is LayerError of a profile with its spread; nil: the default.
func layerError(p wind.Profile, s *wind.Spread, truth *Profile, top float64) Layer {
	s = s.For(top)
	reach, share := wind.ShapeScale, 1.0
	if s != nil {
		reach, share = s.Reach, s.Carried
	}
	var mean, miss complex128
	var sd [layers]float64
	var sum, tails float64
	for i := range layers {
		z := top * (float64(i) + 0.5) / layers
		u, v := p.At(z)
		if s == nil {
			sd[i] = p.ShapeSD(z)
		} else {
			r := s.At(z)
			u, v, sd[i] = u+r.U, v+r.V, r.SD
			tails += r.SD * r.Tail
		}
		sum += sd[i]
		tu, tv := truth.At(z)
		mean += complex(u, v) / layers
		miss += complex(tu-u, tv-v) / layers
	}
	field := layerVariance(&sd, top, reach)
	speed := math.Hypot(real(mean), imag(mean))
	carried := share * speed
	way := complex(1, 0)
	if speed > 1e-9 {
		way = mean / complex(speed, 0)
	}
	e := miss * complex(real(way), -imag(way))
	turn := wind.DirectionSpread * math.Pi / 180
	return Layer{Along: real(e), Across: imag(e), Field: field, Tail: tails / sum,
		VarAlong: field + math.Pow(wind.SpeedSpread*carried, 2), VarAcross: field + math.Pow(turn*carried, 2)}
}

// layerVariance is the variance of the mean over evenly spaced heights of a
// field of the given deviations that correlates as exp(-|dz|/reach): the sum
// over all pairs, made in one pass since the correlation is a power of that of
// neighbours.
func layerVariance(sd *[layers]float64, top, reach float64) float64 {
	step := math.Exp(-top / layers / reach)
	sum, below := 0.0, 0.0
	for _, s := range sd {
		below *= step
		sum += s*s + 2*s*below
		below += s
	}
	return sum / (layers * layers)
}

// sizes and weights are Gauss-Hermite nodes for a standard normal, 7 points
// (Abramowitz and Stegun 25.4.46, scaled).
var (
	sizes = [...]float64{0, 1.1544053947399682, -1.1544053947399682, 2.3667594107345415, -2.3667594107345415,
		3.7504397177257425, -3.7504397177257425}
	weights = [...]float64{0.45714285714285713, 0.2401231786050127, 0.2401231786050127, 0.03075712396758651,
		0.03075712396758651, 0.0005482688559722178, 0.0005482688559722178}
)

// LogScore is the logarithm of the runs' density at the truth, 1/(m/s)2.
func (l *Layer) LogScore() float64 {
	sum := 0.0
	for i, x := range sizes {
		k := math.Exp(2 * (l.Tail*x - l.Tail*l.Tail))
		a, b := l.VarAlong+(k-1)*l.Field, l.VarAcross+(k-1)*l.Field
		sum += weights[i] * math.Exp(-(l.Along*l.Along/a+l.Across*l.Across/b)/2) / (2 * math.Pi * math.Sqrt(a*b))
	}
	return math.Log(max(sum, 1e-300))
}

// Inside is the probability of the highest-density area that just reaches the
// truth, the two axes taken for alike.
func (l *Layer) Inside() float64 {
	r := l.Along*l.Along/l.VarAlong + l.Across*l.Across/l.VarAcross
	beyond := 0.0
	v := (l.VarAlong + l.VarAcross) / 2
	for i, x := range sizes {
		k := math.Exp(2 * (l.Tail*x - l.Tail*l.Tail))
		beyond += weights[i] * math.Exp(-r/2*v/(v+(k-1)*l.Field))
	}
	return 1 - beyond
}
