package grid

import (
	"math"

	"windfall/geo"
)

// Cov is a symmetric 2 x 2 matrix over east and north: a covariance, m2, or
// the sum that becomes one.
type Cov struct{ XX, XY, YY float64 }

// Outer returns d d', the covariance of a point d from a fixed mean.
func Outer(d geo.XY) Cov { return Cov{d.X * d.X, d.X * d.Y, d.Y * d.Y} }

// Plus returns a + b.
func (a Cov) Plus(b Cov) Cov { return Cov{a.XX + b.XX, a.XY + b.XY, a.YY + b.YY} }

// Times returns a times k.
func (a Cov) Times(k float64) Cov { return Cov{a.XX * k, a.XY * k, a.YY * k} }

// Det returns the determinant, m4.
func (a Cov) Det() float64 { return a.XX*a.YY - a.XY*a.XY }

// Inverse returns the inverse, 1/m2; the determinant must not be zero.
func (a Cov) Inverse() Cov { d := a.Det(); return Cov{a.YY / d, -a.XY / d, a.XX / d} }

// Quad returns d' a d.
func (a Cov) Quad(d geo.XY) float64 { return a.XX*d.X*d.X + 2*a.XY*d.X*d.Y + a.YY*d.Y*d.Y }

// Of returns a d.
func (a Cov) Of(d geo.XY) geo.XY { return geo.XY{X: a.XX*d.X + a.XY*d.Y, Y: a.XY*d.X + a.YY*d.Y} }

// SD returns the fourth root of the determinant, m: the standard deviation of
// the round normal that is as wide.
func (a Cov) SD() float64 { return math.Sqrt(math.Sqrt(math.Max(a.Det(), 0))) }

// Deviations returns how far d is from the mean in standard deviations in its
// direction (Mahalanobis 1936); 0 where the covariance has no area.
func (a Cov) Deviations(d geo.XY) float64 {
	det := a.Det()
	if det <= 0 {
		return 0
	}
	return math.Sqrt(Cov{a.YY, -a.XY, a.XX}.Quad(d) / det)
}

// Axes returns the standard deviations along the axes in m, the greater first,
// and the azimuth of the major axis in degrees true, in [0, 180).
func (a Cov) Axes() (major, minor, azimuthDeg float64) {
	l1, l2, u := a.Eigen()
	azimuthDeg = math.Mod(math.Atan2(u.X, u.Y)*180/math.Pi+360, 180)
	return math.Sqrt(math.Max(l1, 0)), math.Sqrt(math.Max(l2, 0)), azimuthDeg
}

// Eigen returns the eigenvalues, l1 >= l2, and the direction of the first;
// north when they are equal.
func (a Cov) Eigen() (l1, l2 float64, u geo.XY) {
	m, d := (a.XX+a.YY)/2, math.Hypot((a.XX-a.YY)/2, a.XY)
	l1, l2 = m+d, m-d
	if d == 0 {
		return l1, l2, geo.XY{Y: 1}
	}
	s, c := math.Sincos(0.5 * math.Atan2(2*a.XY, a.XX-a.YY))
	return l1, l2, geo.XY{X: c, Y: s}
}

func round(variance float64) Cov { return Cov{variance, 0, variance} }

func fromEigen(l1, l2 float64, u geo.XY) Cov {
	return Cov{l1*u.X*u.X + l2*u.Y*u.Y, (l1 - l2) * u.X * u.Y, l1*u.Y*u.Y + l2*u.X*u.X}
}

func (a Cov) positive() bool { return a.XX > 0 && a.YY > 0 && a.Det() > 0 }

// floor returns a with its eigenvalues raised to at least lo, and to at least
// the greater one over ratio.
func (a Cov) floor(lo, ratio float64) Cov {
	l1, l2, u := a.Eigen()
	l1 = math.Max(l1, lo)
	l2 = math.Max(math.Max(l2, lo), l1/ratio)
	return fromEigen(l1, l2, u)
}
