package route

import (
	"math"

	"windfall/geo"
	"windfall/geo/plane"
)

// ringCorners returns points just outside the corners of a ring round which a
// shortest way may turn. Both senses of a ring are served: the side is tested
// later, by what is clear.
func ringCorners(p []geo.XY) []geo.XY {
	n := len(p) - 1 // the last point is the first
	var out []geo.XY
	var area float64
	for i := 0; i < n; i++ {
		area += p[i].Cross(p[(i+1)%n])
	}
	for i := 0; i < n; i++ {
		in, on := p[i].Sub(p[(i+n-1)%n]).Unit(), p[(i+1)%n].Sub(p[i]).Unit()
		turn := in.Cross(on)
		if area < 0 {
			turn = -turn
		}
		if math.Abs(turn) < 0.02 && in.Dot(on) > 0 {
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
			e := p[i].Sub(p[j]).Unit()
			side := geo.XY{X: -e.Y, Y: e.X}
			for _, d := range []geo.XY{side, side.Add(e).Unit(), e, e.Sub(side).Unit(), side.Scale(-1)} {
				out = append(out, p[i].Add(d.Scale(corner)))
			}
		default:
			in, on := p[i].Sub(p[i-1]).Unit(), p[i+1].Sub(p[i]).Unit()
			if math.Abs(in.Cross(on)) < 0.02 && in.Dot(on) > 0 {
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
	if in.Cross(on) > 0 {
		sgn = -1 // turns left: the outer side is on the right
	}
	n1 := geo.XY{X: -in.Y, Y: in.X}.Scale(sgn)
	n2 := geo.XY{X: -on.Y, Y: on.X}.Scale(sgn)
	b := n1.Add(n2).Unit()
	if b == (geo.XY{}) {
		b = in
	}
	if cosHalf := b.Dot(n1); cosHalf > 0.7 {
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
				if d := plane.Distance(c, s.a, s.b); d < best {
					best, dir = d, s.b.Sub(s.a).Unit()
				}
			}
		}
	}
	n := geo.XY{X: -dir.Y, Y: dir.X}.Scale(2 * corner)
	return []geo.XY{c.Add(n), c.Sub(n)}
}
