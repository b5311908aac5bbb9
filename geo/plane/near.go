package plane

import (
	"math"

	"windfall/geo"
)

// Nearest returns the point of the segment a-b nearest to q.
func Nearest(q, a, b geo.XY) geo.XY {
	d := b.Sub(a)
	t := 0.0
	if n := d.Dot(d); n > 0 {
		t = math.Max(0, math.Min(1, q.Sub(a).Dot(d)/n))
	}
	return a.Add(d.Scale(t))
}

// Distance returns the distance in m from q to the segment a-b.
func Distance(q, a, b geo.XY) float64 { return q.Sub(Nearest(q, a, b)).Norm() }

// Between returns the distance in m between the segments a-b and c-d, 0 where
// they meet.
func Between(a, b, c, d geo.XY) float64 {
	if _, ok := Meet(a, b, c, d); ok {
		return 0
	}
	return min(Distance(a, c, d), Distance(b, c, d), Distance(c, a, b), Distance(d, a, b))
}

// Meet returns where the segments a-b and c-d meet; ok is false when they do
// not, or are parallel.
func Meet(a, b, c, d geo.XY) (at geo.XY, ok bool) {
	t, u, ok := Cross(a, b, c, d)
	if !ok || t < 0 || t > 1 || u < 0 || u > 1 {
		return geo.XY{}, false
	}
	return a.Add(b.Sub(a).Scale(t)), true
}

// Cross returns where the straight lines through a, b and through c, d cross:
// at a + t (b-a), which is c + u (d-c); ok is false when they are parallel.
func Cross(a, b, c, d geo.XY) (t, u float64, ok bool) {
	r, s, w := b.Sub(a), d.Sub(c), c.Sub(a)
	k := r.Cross(s)
	if k == 0 {
		return 0, 0, false
	}
	return w.Cross(s) / k, w.Cross(r) / k, true
}

// Nearest returns the point of the line nearest to q and its distance in m; of
// a line of fewer than two points nothing, at +Inf.
func (l Line) Nearest(q geo.XY) (at geo.XY, distance float64) {
	distance = math.Inf(1)
	for i := 1; i < len(l); i++ {
		p := Nearest(q, l[i-1], l[i])
		if d := q.Sub(p).Norm(); d < distance {
			at, distance = p, d
		}
	}
	return at, distance
}

// Within reports whether q is no farther than d (m) from the line.
func (l Line) Within(q geo.XY, d float64) bool {
	for i := 1; i < len(l); i++ {
		if Distance(q, l[i-1], l[i]) <= d {
			return true
		}
	}
	return false
}

// Contains reports whether q lies in the area, by the even-odd rule over all
// its rings: holes count out. On the very edge it is one or the other.
func (p Polygon) Contains(q geo.XY) bool {
	in := false
	for _, r := range p {
		for i := 1; i < len(r); i++ {
			a, b := r[i-1], r[i]
			if (a.Y > q.Y) != (b.Y > q.Y) && q.X < a.X+(q.Y-a.Y)/(b.Y-a.Y)*(b.X-a.X) {
				in = !in
			}
		}
	}
	return in
}

// Contains reports whether q lies in any of the pieces.
func (ps Polygons) Contains(q geo.XY) bool {
	for _, p := range ps {
		if p.Contains(q) {
			return true
		}
	}
	return false
}

// Distance returns how far q is from the area in m; 0 inside, +Inf for no area.
func (ps Polygons) Distance(q geo.XY) float64 {
	if ps.Contains(q) {
		return 0
	}
	return ps.Edge(q)
}

// Edge returns the distance in m from q to the nearest ring.
func (ps Polygons) Edge(q geo.XY) float64 {
	best := math.Inf(1)
	for _, p := range ps {
		for _, r := range p {
			_, d := Line(r).Nearest(q)
			best = math.Min(best, d)
		}
	}
	return best
}
