package grid

import "math"

// cov is a symmetric 2 x 2 matrix, m2 where it is a covariance.
type cov struct{ xx, xy, yy float64 }

func round(variance float64) cov        { return cov{variance, 0, variance} }
func (a cov) plus(b cov) cov            { return cov{a.xx + b.xx, a.xy + b.xy, a.yy + b.yy} }
func (a cov) times(k float64) cov       { return cov{a.xx * k, a.xy * k, a.yy * k} }
func (a cov) det() float64              { return a.xx*a.yy - a.xy*a.xy }
func (a cov) inverse() cov              { d := a.det(); return cov{a.yy / d, -a.xy / d, a.xx / d} }
func (a cov) quad(x, y float64) float64 { return a.xx*x*x + 2*a.xy*x*y + a.yy*y*y }
func fromEigen(l1, l2, c, s float64) cov {
	return cov{l1*c*c + l2*s*s, (l1 - l2) * c * s, l1*s*s + l2*c*c}
}
func (a cov) positive() bool { return a.xx > 0 && a.yy > 0 && a.det() > 0 }
func (a cov) sd() float64    { return math.Sqrt(math.Sqrt(math.Max(a.det(), 0))) }

// eigen returns the eigenvalues, l1 >= l2, and the direction (c, s) = (x, y)
// of the first; (0, 1), north, when they are equal.
func (a cov) eigen() (l1, l2, c, s float64) {
	m, d := (a.xx+a.yy)/2, math.Hypot((a.xx-a.yy)/2, a.xy)
	l1, l2 = m+d, m-d
	if d == 0 {
		return l1, l2, 0, 1
	}
	angle := 0.5 * math.Atan2(2*a.xy, a.xx-a.yy)
	s, c = math.Sincos(angle)
	return l1, l2, c, s
}

// floor returns a with its eigenvalues raised to at least lo, and to at least
// the greater one over ratio.
func (a cov) floor(lo, ratio float64) cov {
	l1, l2, c, s := a.eigen()
	l1 = math.Max(l1, lo)
	l2 = math.Max(math.Max(l2, lo), l1/ratio)
	return fromEigen(l1, l2, c, s)
}
