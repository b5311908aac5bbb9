package drift

import (
	"math"

	"windfall/geo"
)

// Scatter is the centre and the one-sigma ellipse of landings, with standard
// errors that come from the scatter between the replicates of the runs.
type Scatter struct {
	Runs                     int
	Mean, MeanSE             geo.XY  // m
	SemiMajor, SemiMinor     float64 // m, one sigma
	AzimuthDeg               float64 // of the major axis, degrees true in [0, 180)
	SemiMajorSE, SemiMinorSE float64 // m
}

// sums are the moments of points about a shift.
type sums struct{ n, x, y, xx, xy, yy float64 }

func (s *sums) add(x, y float64) {
	s.n++
	s.x += x
	s.y += y
	s.xx += x * x
	s.xy += x * y
	s.yy += y * y
}

// Scatter returns centre and ellipse of the landings that keep says yes to; nil keeps
// all. Weights are not used: it is about the runs as drawn.
func (c *Cloud) Scatter(keep func(*Landing) bool) Scatter {
	var all sums
	var part [Replicates]sums
	if len(c.Landings) == 0 {
		return Scatter{}
	}
	shift := c.Landings[0].At
	for i := range c.Landings {
		l := &c.Landings[i]
		if keep != nil && !keep(l) {
			continue
		}
		d := l.At.Sub(shift)
		all.add(d.X, d.Y)
		part[i%Replicates].add(d.X, d.Y)
	}
	out := all.scatter(shift)
	// Jackknife over the replicates: leave one out.
	var mx, my, ma, mb, vx, vy, va, vb float64
	var k float64
	var left [Replicates]Scatter
	for j := range part {
		rest := all
		p := &part[j]
		rest.n, rest.x, rest.y = rest.n-p.n, rest.x-p.x, rest.y-p.y
		rest.xx, rest.xy, rest.yy = rest.xx-p.xx, rest.xy-p.xy, rest.yy-p.yy
		left[j] = rest.scatter(shift)
		mx, my, ma, mb, k = mx+left[j].Mean.X, my+left[j].Mean.Y, ma+left[j].SemiMajor, mb+left[j].SemiMinor, k+1
	}
	mx, my, ma, mb = mx/k, my/k, ma/k, mb/k
	for j := range left {
		vx += sq(left[j].Mean.X - mx)
		vy += sq(left[j].Mean.Y - my)
		va += sq(left[j].SemiMajor - ma)
		vb += sq(left[j].SemiMinor - mb)
	}
	f := (k - 1) / k
	out.MeanSE = geo.XY{X: math.Sqrt(f * vx), Y: math.Sqrt(f * vy)}
	out.SemiMajorSE, out.SemiMinorSE = math.Sqrt(f*va), math.Sqrt(f*vb)
	return out
}

func sq(x float64) float64 { return x * x }

// scatter returns centre and ellipse of the moments, about shift.
func (s *sums) scatter(shift geo.XY) Scatter {
	if s.n < 1 {
		return Scatter{}
	}
	mx, my := s.x/s.n, s.y/s.n
	out := Scatter{Runs: int(s.n), Mean: geo.XY{X: shift.X + mx, Y: shift.Y + my}}
	if s.n < 2 {
		return out
	}
	f := 1 / (s.n - 1)
	xx, xy, yy := (s.xx-s.n*mx*mx)*f, (s.xy-s.n*mx*my)*f, (s.yy-s.n*my*my)*f
	mid, half := 0.5*(xx+yy), math.Hypot(0.5*(xx-yy), xy)
	out.SemiMajor, out.SemiMinor = math.Sqrt(max(mid+half, 0)), math.Sqrt(max(mid-half, 0))
	// Angle from north, clockwise: tan 2a = 2 xy/(yy - xx).
	out.AzimuthDeg = math.Mod(geo.NormDeg(0.5*math.Atan2(2*xy, yy-xx)*180/math.Pi), 180)
	return out
}
