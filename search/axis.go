package search

import (
	"math"

	"windfall/geo"
	"windfall/geo/ground"
	"windfall/geo/plane"
)

// axes returns the directions of lanes that are worth a trial: along the cloud,
// half-way between along and across, and along the edges of fields and along the
// slopes where these agree on one. Lanes run both along and across an axis.
func (pl *planner) axes(p Problem) []geo.XY {
	long := momentsOf(p.Map).u
	out := []geo.XY{long, turned(long, math.Pi/4)}
	for _, q := range []quarter{pl.edges(p.Ground), pl.slopes(p.Terrain)} {
		if u, ok := q.axis(); ok && apart(u, out) {
			out = append(out, u)
		}
	}
	return out
}

// quarter sums directions that are the same a quarter turn apart, by the angle
// four times as wide.
type quarter struct{ x, y, all float64 }

func (q *quarter) add(d geo.XY, weight float64) {
	sn, cs := math.Sincos(4 * math.Atan2(d.Y, d.X))
	q.x, q.y, q.all = q.x+weight*cs, q.y+weight*sn, q.all+weight
}

// agreed is how much of what was summed must point one way to make an axis.
const agreed = 0.4

func (q quarter) axis() (geo.XY, bool) {
	return turned(geo.XY{X: 1}, math.Atan2(q.y, q.x)/4), math.Hypot(q.x, q.y) > agreed*q.all
}

// apart reports whether u is some ten degrees from the others and from their
// normals.
func apart(u geo.XY, others []geo.XY) bool {
	for _, o := range others {
		if c := math.Abs(u.X*o.X + u.Y*o.Y); c < 0.17 || c > 0.985 {
			return false
		}
	}
	return true
}

// edges sums the directions of the edges drawn on the likely ground.
func (pl *planner) edges(g *ground.Ground) (q quarter) {
	if g == nil {
		return q
	}
	var lines []plane.Line
	for _, c := range g.Covers {
		lines = append(lines, c.Area.Lines()...)
	}
	for _, n := range g.NoGo {
		lines = append(lines, n.Area.Lines()...)
	}
	for _, b := range g.Barriers {
		lines = append(lines, b.Line)
	}
	box := plane.Empty()
	for _, r := range pl.regions {
		box = box.Extend(r.at)
	}
	for _, l := range lines {
		for _, part := range box.ClipLine(l) {
			for k := 1; k < len(part); k++ {
				d := part[k].Sub(part[k-1])
				q.add(d, d.Norm())
			}
		}
	}
	return q
}

// steep is the mean slope over the likely ground from which lanes along it, or
// straight up and down, are thought of; slopeSpots are looked at.
const (
	steep      = 0.05
	slopeSpots = 400
)

// slopes sums the directions of the slope of the likely ground.
func (pl *planner) slopes(t Terrain) (q quarter) {
	if t == nil {
		return q
	}
	var sum float64
	n := 0
	for k := 0; k < len(pl.regions); k += 1 + len(pl.regions)/slopeSpots {
		at := pl.regions[k].at
		rise := func(d geo.XY) (float64, bool) {
			a, okA := t.Elevation(at.Sub(d))
			b, okB := t.Elevation(at.Add(d))
			return (b - a) / (2 * slopeStep), okA && okB
		}
		x, okX := rise(geo.XY{X: slopeStep})
		y, okY := rise(geo.XY{Y: slopeStep})
		if !okX || !okY {
			continue
		}
		g := geo.XY{X: x, Y: y}
		q.add(g, g.Norm())
		sum += g.Norm()
		n++
	}
	if n == 0 || sum < steep*float64(n) {
		return quarter{}
	}
	return q
}

func turned(u geo.XY, rad float64) geo.XY {
	sn, cs := math.Sincos(rad)
	return geo.XY{X: u.X*cs - u.Y*sn, Y: u.X*sn + u.Y*cs}
}

// fuss is what the turns of agent i on its way along the stops cost, and its legs
// that run neither along nor across the lanes.
func (pl *planner) fuss(i int, stops []stop) float64 {
	n := 0
	at, head := pl.agents[i].at, geo.XY{}
	for _, s := range stops {
		d := s.p.Sub(at)
		at = s.p
		if s.charge {
			head = geo.XY{}
			continue
		}
		m := d.Norm()
		if m == 0 {
			continue
		}
		d = d.Scale(1 / m)
		if d.X*head.X+d.Y*head.Y < 0.999 {
			n++
		}
		if pl.aslant(d) {
			n++
		}
		head = d
	}
	return pl.price * float64(n)
}

// aslant reports whether the unit vector d lies neither along nor across the
// lanes, to a degree.
func (pl *planner) aslant(d geo.XY) bool {
	c := math.Abs(d.X*pl.axis.X + d.Y*pl.axis.Y)
	return c > 0.02 && c < 0.9998
}
