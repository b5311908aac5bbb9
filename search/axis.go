package search

import (
	"math"
	"sort"

	"windfall/geo"
	"windfall/geo/grid"
	"windfall/geo/ground"
	"windfall/geo/plane"
)

// axes returns the directions of lanes that are worth a trial: along the cloud
// and across it, half-way between, and along and across the edges of fields and
// the slopes where these agree on one.
func axes(p Problem) []geo.XY {
	long := momentsOf(p.Map).u
	cells := likelyGround(p.Map)
	out := []geo.XY{long, turned(long, math.Pi/4)}
	for _, q := range []quarter{edges(p.Ground, cells), slopes(p.Terrain, cells)} {
		if u, ok := q.axis(); ok && apart(u, out) {
			out = append(out, u)
		}
	}
	for _, u := range out {
		out = append(out, turned(u, math.Pi/2))
	}
	return out
}

// likelyGround returns the middles of the likeliest cells, which hold 95 % of
// what the map holds.
func likelyGround(m *grid.Map) []geo.XY {
	order := make([]int, 0, len(m.P))
	for c, v := range m.P {
		if v > 0 {
			order = append(order, c)
		}
	}
	sort.SliceStable(order, func(i, j int) bool { return m.P[order[i]] > m.P[order[j]] })
	var out []geo.XY
	var got float64
	for _, c := range order {
		out = append(out, m.Centre(c%m.NX, c/m.NX))
		if got += m.P[c]; got > 0.95*(1-m.Outside) {
			break
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
func edges(g *ground.Ground, cells []geo.XY) (q quarter) {
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
	for _, at := range cells {
		box = box.Extend(at)
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
func slopes(t Terrain, cells []geo.XY) (q quarter) {
	if t == nil {
		return q
	}
	var sum float64
	n := 0
	for k := 0; k < len(cells); k += 1 + len(cells)/slopeSpots {
		at := cells[k]
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
