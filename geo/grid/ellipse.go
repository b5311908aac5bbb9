package grid

import (
	"fmt"
	"math"

	"windfall/geo"
)

// Ellipse is a probability ellipse about a mean: that of a bivariate normal
// with the points' covariance, scaled by sqrt(-2 ln(1-p)).
type Ellipse struct {
	Probability float64 `json:"probability"`
	SemiMajor   float64 `json:"semi_major_m"`    // m
	SemiMinor   float64 `json:"semi_minor_m"`    // m
	AzimuthDeg  float64 `json:"azimuth_deg"`     // of the major axis, degrees true, in [0, 180)
	MajorSE     float64 `json:"semi_major_se_m"` // m, standard error
	MinorSE     float64 `json:"semi_minor_se_m"` // m, standard error
}

// Moments are the mean and covariance of weighted points.
type Moments struct {
	Mean      geo.XY
	Cov               // m2, unbiased for weights that say how much a point counts
	Effective float64 // Kish's effective sample size, (sum w)^2 / sum w^2
	MeanSE    geo.XY  // m, standard errors of Mean along east and along north

	kurtMajor, kurtMinor float64 // fourth moment over squared variance along the axes; 3 for a normal
}

// Measure returns the moments of points pts with weights w (nil: equal). The
// covariance divides by V1 - V2/V1, V1 and V2 the sums of the weights and of
// their squares, which is n-1 for equal weights; for one point it is zero.
// Weights must be finite and not negative, their sum above zero.
func Measure(pts []geo.XY, w []float64) (Moments, error) {
	v1, v2, err := check(pts, w)
	if err != nil {
		return Moments{}, err
	}
	at := func(i int) float64 {
		if w == nil {
			return 1
		}
		return w[i]
	}
	var m Moments
	for i, p := range pts {
		m.Mean.X += at(i) * p.X
		m.Mean.Y += at(i) * p.Y
	}
	m.Mean = m.Mean.Scale(1 / v1)
	m.Effective = v1 * v1 / v2
	var c Cov
	for i, p := range pts {
		c = c.Plus(Outer(p.Sub(m.Mean)).Times(at(i)))
	}
	m.kurtMajor, m.kurtMinor = 3, 3
	free := v1 - v2/v1
	if free <= 1e-12*v1 {
		return m, nil
	}
	l1, l2, u := c.Times(1 / v1).Eigen()
	m.Cov = c.Times(1 / free)
	m.MeanSE = geo.XY{X: math.Sqrt(m.XX / m.Effective), Y: math.Sqrt(m.YY / m.Effective)}
	var k1, k2 float64
	for i, p := range pts {
		d := p.Sub(m.Mean)
		a, b := d.X*u.X+d.Y*u.Y, d.Y*u.X-d.X*u.Y
		k1 += at(i) * a * a * a * a
		k2 += at(i) * b * b * b * b
	}
	if l2 > 0 {
		m.kurtMajor, m.kurtMinor = k1/v1/(l1*l1), k2/v1/(l2*l2)
	}
	return m, nil
}

// Ellipse returns the ellipse of probability p in (0, 1). The standard errors
// are those of a sample standard deviation along each axis, from its fourth
// moment: s sqrt((k-1)/(4n)), k the kurtosis (Kendall and Stuart, The Advanced
// Theory of Statistics, vol. 1, section 10.5).
func (m Moments) Ellipse(p float64) Ellipse {
	a, b, azimuth := m.Axes()
	k := math.Sqrt(-2 * math.Log1p(-p))
	e := Ellipse{Probability: p, SemiMajor: k * a, SemiMinor: k * b, AzimuthDeg: azimuth}
	e.MajorSE = e.SemiMajor * math.Sqrt(math.Max(m.kurtMajor-1, 0)/(4*m.Effective))
	e.MinorSE = e.SemiMinor * math.Sqrt(math.Max(m.kurtMinor-1, 0)/(4*m.Effective))
	return e
}

// check returns the sums of the weights and of their squares.
func check(pts []geo.XY, w []float64) (v1, v2 float64, err error) {
	if len(pts) == 0 {
		return 0, 0, fmt.Errorf("no points to map")
	}
	if w != nil && len(w) != len(pts) {
		return 0, 0, fmt.Errorf("%d points but %d weights", len(pts), len(w))
	}
	for i, p := range pts {
		if math.IsNaN(p.X+p.Y) || math.IsInf(p.X+p.Y, 0) {
			return 0, 0, fmt.Errorf("point %d is (%g, %g): want finite metres", i, p.X, p.Y)
		}
		if w == nil {
			continue
		}
		if !(w[i] >= 0) || math.IsInf(w[i], 0) {
			return 0, 0, fmt.Errorf("weight %d is %g: want a finite number, zero or more", i, w[i])
		}
		v1 += w[i]
		v2 += w[i] * w[i]
	}
	if w == nil {
		return float64(len(pts)), float64(len(pts)), nil
	}
	if v1 == 0 {
		return 0, 0, fmt.Errorf("all %d weights are zero", len(w))
	}
	return v1, v2, nil
}
