package chance

import (
	"container/heap"
	"math"

	"github.com/paulmach/orb"

	"windfall/geo"
)

// Widest returns the centre and the diameter in metres of the largest circle
// that fits into the polygons, to 0.5 m or 0.1 % of their width: for a circle
// its diameter, for a rectangle its shortest side. It is found by halving
// squares, those first that may still hold a larger one. Zero for no area.
func Widest(a orb.MultiPolygon) (centre geo.XY, diameter float64) {
	b := a.Bound()
	w, h := b.Max[0]-b.Min[0], b.Max[1]-b.Min[1]
	if len(a) == 0 || !(w > 0 && h > 0) {
		return geo.XY{}, 0
	}
	within := math.Max(0.25, math.Max(w, h)*0.0005)
	z := Area("", Field, a)
	side := math.Min(w, h)
	q := &squares{}
	add := func(x, y, half float64) {
		c := geo.XY{X: x, Y: y}
		d := edge(a, c)
		if !z.Contains(c) {
			d = -d
		}
		if 2*d > diameter {
			centre, diameter = c, 2*d
		}
		if most := d + half*math.Sqrt2; most > diameter/2+within {
			heap.Push(q, square{x, y, half, most})
		}
	}
	for x := b.Min[0]; x < b.Max[0]; x += side {
		for y := b.Min[1]; y < b.Max[1]; y += side {
			add(x+side/2, y+side/2, side/2)
		}
	}
	for n := 0; q.Len() > 0 && n < 20000; n++ {
		s := heap.Pop(q).(square)
		if s.most <= diameter/2+within {
			break
		}
		k := s.half / 2
		add(s.x-k, s.y-k, k)
		add(s.x+k, s.y-k, k)
		add(s.x-k, s.y+k, k)
		add(s.x+k, s.y+k, k)
	}
	return centre, diameter
}

// Distance returns how far q is from the polygons in metres; 0 inside.
func Distance(a orb.MultiPolygon, q geo.XY) float64 {
	z := Area("", Place, a)
	if z.Contains(q) {
		return 0
	}
	return edge(a, q)
}

// edge returns the distance from q to the nearest side of the polygons.
func edge(a orb.MultiPolygon, q geo.XY) float64 {
	best := math.Inf(1)
	for _, p := range a {
		for _, r := range p {
			for i := 1; i < len(r); i++ {
				best = math.Min(best, segment(r[i-1], r[i], q))
			}
		}
	}
	return best
}

// segment returns the distance in metres from q to the segment a-b.
func segment(a, b orb.Point, q geo.XY) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	t := 0.0
	if n := dx*dx + dy*dy; n > 0 {
		t = math.Max(0, math.Min(1, ((q.X-a[0])*dx+(q.Y-a[1])*dy)/n))
	}
	return math.Hypot(q.X-a[0]-t*dx, q.Y-a[1]-t*dy)
}

// square is a piece of the plane and the largest radius it may hold.
type square struct{ x, y, half, most float64 }

type squares []square

func (s squares) Len() int           { return len(s) }
func (s squares) Less(i, j int) bool { return s[i].most > s[j].most }
func (s squares) Swap(i, j int)      { s[i], s[j] = s[j], s[i] }
func (s *squares) Push(x any)        { *s = append(*s, x.(square)) }
func (s *squares) Pop() any {
	old := *s
	x := old[len(old)-1]
	*s = old[:len(old)-1]
	return x
}
