package route

import (
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"windfall/geo"
)

func contains(a orb.MultiPolygon, p orb.Point) bool { return planar.MultiPolygonContains(a, p) }

func dot(a, b geo.XY) float64   { return a.X*b.X + a.Y*b.Y }
func cross(a, b geo.XY) float64 { return a.X*b.Y - a.Y*b.X }

func unit(a geo.XY) geo.XY {
	n := a.Norm()
	if n == 0 {
		return geo.XY{}
	}
	return a.Scale(1 / n)
}

// pointSeg returns the distance from q to the segment ab.
func pointSeg(q, a, b geo.XY) float64 {
	d := b.Sub(a)
	t := 0.0
	if n := dot(d, d); n > 0 {
		t = math.Max(0, math.Min(1, dot(q.Sub(a), d)/n))
	}
	return q.Sub(a.Add(d.Scale(t))).Norm()
}

// segSeg returns the distance between two segments, 0 where they cross.
func segSeg(a, b, c, d geo.XY) float64 {
	if _, ok := meet(a, b, c, d); ok {
		return 0
	}
	return math.Min(math.Min(pointSeg(a, c, d), pointSeg(b, c, d)), math.Min(pointSeg(c, a, b), pointSeg(d, a, b)))
}

// meet returns where two segments that are not parallel cross.
func meet(a, b, c, d geo.XY) (geo.XY, bool) {
	r, s := b.Sub(a), d.Sub(c)
	den := cross(r, s)
	if den == 0 {
		return geo.XY{}, false
	}
	t, u := cross(c.Sub(a), s)/den, cross(c.Sub(a), r)/den
	if t < 0 || t > 1 || u < 0 || u > 1 {
		return geo.XY{}, false
	}
	return a.Add(r.Scale(t)), true
}

// ringCorners returns points just outside the corners of a ring round which a
// shortest way may turn. Both senses of a ring are served: the side is tested
// later, by what is clear.
func ringCorners(p []geo.XY) []geo.XY {
	n := len(p) - 1 // the last point is the first
	var out []geo.XY
	var area float64
	for i := 0; i < n; i++ {
		area += cross(p[i], p[(i+1)%n])
	}
	for i := 0; i < n; i++ {
		in, on := unit(p[i].Sub(p[(i+n-1)%n])), unit(p[(i+1)%n].Sub(p[i]))
		turn := cross(in, on)
		if area < 0 {
			turn = -turn
		}
		if math.Abs(turn) < 0.02 && dot(in, on) > 0 {
			continue // as good as straight
		}
		out = append(out, bend(p[i], in, on)...)
	}
	return out
}

// lineCorners returns points round the ends and bends of a line.
func lineCorners(p []geo.XY) []geo.XY {
	var out []geo.XY
	for i := range p {
		switch {
		case i == 0 || i == len(p)-1:
			j := 1
			if i > 0 {
				j = i - 1
			}
			e := unit(p[i].Sub(p[j]))
			side := geo.XY{X: -e.Y, Y: e.X}
			for _, d := range []geo.XY{side, unit(side.Add(e)), e, unit(e.Sub(side)), side.Scale(-1)} {
				out = append(out, p[i].Add(d.Scale(corner)))
			}
		default:
			in, on := unit(p[i].Sub(p[i-1])), unit(p[i+1].Sub(p[i]))
			if math.Abs(cross(in, on)) < 0.02 && dot(in, on) > 0 {
				continue
			}
			out = append(out, bend(p[i], in, on)...)
		}
	}
	return out
}

// bend returns up to three points at the outer side of a bend at c.
func bend(c, in, on geo.XY) []geo.XY {
	sgn := 1.0
	if cross(in, on) > 0 {
		sgn = -1 // turns left: the outer side is on the right
	}
	n1 := geo.XY{X: -in.Y, Y: in.X}.Scale(sgn)
	n2 := geo.XY{X: -on.Y, Y: on.X}.Scale(sgn)
	b := unit(n1.Add(n2))
	if b == (geo.XY{}) {
		b = in
	}
	if cosHalf := dot(b, n1); cosHalf > 0.7 {
		return []geo.XY{c.Add(b.Scale(corner / cosHalf))}
	}
	return []geo.XY{c.Add(n1.Scale(corner)), c.Add(b.Scale(corner)), c.Add(n2.Scale(corner))}
}

// beside returns a point on either side of the barrier at a crossing.
func (w *World) beside(c geo.XY) []geo.XY {
	best, dir := math.Inf(1), geo.XY{}
	for _, ch := range w.chunk {
		for _, s := range ch.segs {
			if s.barrier {
				if d := pointSeg(c, s.a, s.b); d < best {
					best, dir = d, unit(s.b.Sub(s.a))
				}
			}
		}
	}
	n := geo.XY{X: -dir.Y, Y: dir.X}.Scale(2 * corner)
	return []geo.XY{c.Add(n), c.Sub(n)}
}
