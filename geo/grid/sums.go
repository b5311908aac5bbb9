package grid

import "windfall/geo"

// Sums adds up weighted points one by one, for their mean and covariance. It
// keeps its figures when About, set before the first point, lies among them:
// the first point will do.
type Sums struct {
	About geo.XY  // m
	W     float64 // the sum of the weights
	W2    float64 // the sum of their squares

	x, y, xx, xy, yy float64
}

// Add takes a point of weight w in.
func (s *Sums) Add(q geo.XY, w float64) {
	d := q.Sub(s.About)
	s.W += w
	s.W2 += w * w
	s.x += w * d.X
	s.y += w * d.Y
	s.xx += w * d.X * d.X
	s.xy += w * d.X * d.Y
	s.yy += w * d.Y * d.Y
}

// Less returns the sums without those of o, which are part of them and about
// the same point.
func (s Sums) Less(o Sums) Sums {
	return Sums{s.About, s.W - o.W, s.W2 - o.W2, s.x - o.x, s.y - o.y, s.xx - o.xx, s.xy - o.xy, s.yy - o.yy}
}

// Mean returns the mean of the points; NaN without any weight.
func (s Sums) Mean() geo.XY { return s.About.Add(geo.XY{X: s.x / s.W, Y: s.y / s.W}) }

// Cov returns the covariance of the points themselves, divided by the sum of
// the weights; NaN without any.
func (s Sums) Cov() Cov {
	return Cov{s.xx, s.xy, s.yy}.Plus(Outer(geo.XY{X: s.x, Y: s.y}).Times(-1 / s.W)).Times(1 / s.W)
}

// Sample returns the covariance of what equally weighted points of weight 1
// are a sample of, divided by one less than their number.
func (s Sums) Sample() Cov { return s.Cov().Times(s.W / (s.W - 1)) }
