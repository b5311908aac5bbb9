package search

import (
	"math"
	"sort"

	"windfall/geo"
	"windfall/geo/grid"
)

// moments of a map: middle, axes of the covariance.
type moments struct {
	mean         geo.XY
	u            geo.XY // unit vector of the long axis
	major, minor float64
}

func momentsOf(m *grid.Map) moments {
	var s, x, y float64
	for c, p := range m.P {
		q := m.Centre(c%m.NX, c/m.NX)
		s, x, y = s+p, x+p*q.X, y+p*q.Y
	}
	if s == 0 {
		return moments{u: geo.XY{X: 1}}
	}
	mean := geo.XY{X: x / s, Y: y / s}
	var xx, xy, yy float64
	for c, p := range m.P {
		d := m.Centre(c%m.NX, c/m.NX).Sub(mean)
		xx, xy, yy = xx+p*d.X*d.X, xy+p*d.X*d.Y, yy+p*d.Y*d.Y
	}
	xx, xy, yy = xx/s, xy/s, yy/s
	th := 0.5 * math.Atan2(2*xy, xx-yy)
	half, diff := (xx+yy)/2, math.Hypot((xx-yy)/2, xy)
	sn, cs := math.Sincos(th)
	return moments{mean, geo.XY{X: cs, Y: sn}, math.Sqrt(half + diff), math.Sqrt(math.Max(0, half-diff))}
}

// pattern returns the stops of a standard pattern, shared out among the agents.
func pattern(m *grid.Map, t *terra, agents []*agent, kind Pattern) [][]stop {
	mo := momentsOf(m)
	switch kind {
	case ExpandingSquare:
		return expandingSquares(mo, t, agents)
	case Parallel:
		return parallels(mo, t, agents)
	case Sector:
		return sectors(mo, t, agents)
	}
	return nearest(m, t, agents)
}

// spacing is the track spacing of a pattern: the sweep width at the datum.
func (a *agent) spacing(mo moments) float64 {
	if w := a.width[a.t.classAt(mo.mean)]; w > 1 {
		return w
	}
	return 1
}

// expandingSquares: legs of S, S, 2S, 2S, 3S ... turning right, from the datum.
// Several searchers go abreast: each one's spacing is n times its own, its first
// leg beside the others'.
func expandingSquares(mo moments, t *terra, agents []*agent) [][]stop {
	out := make([][]stop, len(agents))
	n := float64(len(agents))
	for k, a := range agents {
		s := a.spacing(mo)
		at := mo.mean.Add(geo.XY{X: (float64(k) - (n-1)/2) * s})
		out[k] = append(out[k], stop{p: at})
		for leg, gone := 1, 0.0; gone < a.Speed*(a.end-a.begin) && leg < 4000; leg++ {
			d := n * s * math.Ceil(float64(leg)/2)
			at = at.Add(geo.Polar(d, float64(leg-1)*90))
			out[k] = append(out[k], stop{p: at, look: true})
			gone += d
		}
	}
	return out
}

// parallels: tracks along the long axis of the 90 % ellipse, one sweep width
// apart, the first half a spacing inside its edge; each searcher sweeps a strip
// of its own, and sweeps it back again when done.
func parallels(mo moments, t *terra, agents []*agent) [][]stop {
	k90 := math.Sqrt(-2 * math.Log(1-0.9))
	al, bl := k90*mo.major, k90*mo.minor
	v := geo.XY{X: -mo.u.Y, Y: mo.u.X}
	var share, total []float64
	sum := 0.0
	for _, a := range agents {
		e := a.spacing(mo) * a.Speed * (a.end - a.begin)
		share = append(share, e)
		sum += e
	}
	at := -bl
	for _, e := range share {
		total = append(total, at)
		if sum > 0 {
			at += 2 * bl * e / sum
		}
	}
	total = append(total, bl)
	out := make([][]stop, len(agents))
	for k, a := range agents {
		s := a.spacing(mo)
		lanes := max(1, int(math.Ceil((total[k+1]-total[k])/s-0.5)))
		step := (total[k+1] - total[k]) / float64(lanes)
		var pts []geo.XY
		for i := 0; i < lanes; i++ {
			y := total[k] + (float64(i)+0.5)*step
			x := al * math.Sqrt(math.Max(0, 1-(y/bl)*(y/bl)))
			p, q := mo.mean.Add(mo.u.Scale(-x)).Add(v.Scale(y)), mo.mean.Add(mo.u.Scale(x)).Add(v.Scale(y))
			if i%2 == 1 {
				p, q = q, p
			}
			pts = append(pts, p, q)
		}
		out[k] = backAndForth(pts, 3*a.Speed*(a.end-a.begin))
	}
	return out
}

// backAndForth goes along the points and back again until the way is long
// enough.
func backAndForth(pts []geo.XY, metres float64) []stop {
	out := []stop{{p: pts[0]}}
	gone, dir, i := 0.0, 1, 0
	for gone < metres && len(pts) > 1 && len(out) < 4000 {
		if i+dir < 0 || i+dir >= len(pts) {
			dir = -dir
		}
		i += dir
		d := pts[i].Sub(out[len(out)-1].p).Norm()
		out = append(out, stop{p: pts[i], look: true})
		gone += d + 0.1
	}
	return out
}

// sectors: three sectors of radius R, every change of course 120 degrees to the
// right, nine legs of R that pass the datum three times; then again, turned by
// half a sector. R is the radius in which half the chance of a normal cloud
// lies. Several searchers start on courses spread over a sector.
func sectors(mo moments, t *terra, agents []*agent) [][]stop {
	r := math.Sqrt(2*math.Ln2) * math.Sqrt(math.Max(mo.major*mo.minor, 1))
	out := make([][]stop, len(agents))
	for k, a := range agents {
		out[k] = []stop{{p: mo.mean}}
		first := 60 * float64(k) / float64(len(agents))
		gone := 0.0
		for round := 0; gone < a.Speed*(a.end-a.begin) && round < 400; round++ {
			for _, q := range sectorLegs(r, first+float64(round)*30) {
				out[k] = append(out[k], stop{p: mo.mean.Add(q), look: true})
				gone += r
			}
		}
	}
	return out
}

// sectorLegs returns the ends of the nine legs from the datum, the first on the
// given course.
func sectorLegs(r, course float64) []geo.XY {
	var out []geo.XY
	at := geo.XY{}
	for _, c := range []float64{0, 120, 240, 240, 0, 120, 120, 240, 0} {
		at = at.Add(geo.Polar(r, course+c))
		out = append(out, at)
	}
	out[2], out[5], out[8] = geo.XY{}, geo.XY{}, geo.XY{} // closed but for rounding
	return out
}

// nearest: the likely ground, in squares of one sweep width, nearest first:
// those of the 50 % area, then of the 75 %, 90 % and 97 % areas, then again.
func nearest(m *grid.Map, t *terra, agents []*agent) [][]stop {
	mo := momentsOf(m)
	out := make([][]stop, len(agents))
	taken := map[int]int{}
	s := 0.0
	for _, a := range agents {
		s += a.spacing(mo) / float64(len(agents))
	}
	cells := squares(m, s)
	at := make([]geo.XY, len(agents))
	now := make([]float64, len(agents))
	for k, a := range agents {
		at[k], now[k] = a.at, a.begin
	}
	limits := []float64{0.5, 0.75, 0.9, 0.97}
	for n := 0; n < 20000; n++ {
		k := -1
		for i, a := range agents {
			if now[i] < a.end && (k < 0 || now[i] < now[k]) {
				k = i
			}
		}
		if k < 0 {
			break
		}
		best := -1
		for round := 0; round < 3 && best < 0; round++ {
			for _, lim := range limits {
				d := math.Inf(1)
				for i, c := range cells {
					if c.level > lim || taken[i] != round {
						continue
					}
					if e := c.p.Sub(at[k]).Norm(); e < d && agents[k].inReach(c.p) {
						d, best = e, i
					}
				}
				if best >= 0 {
					break
				}
			}
		}
		if best < 0 {
			now[k] = math.Inf(1)
			continue
		}
		taken[best]++
		out[k] = append(out[k], stop{p: cells[best].p, look: true})
		now[k] += agents[k].travel(at[k], cells[best].p)
		at[k] = cells[best].p
	}
	return out
}

// square is a block of the map; level is the share of all chance in blocks at
// least as likely, itself not counted.
type square struct {
	p     geo.XY
	mass  float64
	level float64
}

func squares(m *grid.Map, s float64) []square {
	nx := max(1, int(math.Ceil(float64(m.NX)*m.Cell/s)))
	mass := map[int]float64{}
	for c, p := range m.P {
		q := m.Centre(c%m.NX, c/m.NX)
		mass[int((q.Y-m.South)/s)*nx+int((q.X-m.West)/s)] += p
	}
	var out []square
	for c, p := range mass {
		if p > 0 {
			out = append(out, square{p: geo.XY{X: m.West + (float64(c%nx)+0.5)*s, Y: m.South + (float64(c/nx)+0.5)*s}, mass: p})
		}
	}
	sort.Slice(out, func(i, j int) bool {
		if out[i].mass != out[j].mass {
			return out[i].mass > out[j].mass
		}
		return out[i].p.Y < out[j].p.Y || out[i].p.Y == out[j].p.Y && out[i].p.X < out[j].p.X
	})
	var sum float64
	for i := range out {
		out[i].level = sum
		sum += out[i].mass
	}
	return out
}
