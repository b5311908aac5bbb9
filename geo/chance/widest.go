package chance

import (
	"container/heap"
	"math"

	"windfall/geo"
	"windfall/geo/plane"
)

// Widest returns the centre and the diameter in metres of the largest circle
// that fits into the polygons, to 0.5 m or 0.1 % of their width: for a circle
// its diameter, for a rectangle its shortest side. It is found by halving
// squares, those first that may still hold a larger one. Zero for no area.
func Widest(a plane.Polygons) (centre geo.XY, diameter float64) {
	b := a.Bound()
	w, h := b.Size().X, b.Size().Y
	if len(a) == 0 || !(w > 0 && h > 0) {
		return geo.XY{}, 0
	}
	within := math.Max(0.25, math.Max(w, h)*0.0005)
	side := math.Min(w, h)
	q := &squares{}
	add := func(x, y, half float64) {
		c := geo.XY{X: x, Y: y}
		d := a.Edge(c)
		if !a.Contains(c) {
			d = -d
		}
		if 2*d > diameter {
			centre, diameter = c, 2*d
		}
		if most := d + half*math.Sqrt2; most > diameter/2+within {
			heap.Push(q, square{x, y, half, most})
		}
	}
	for x := b.Min.X; x < b.Max.X; x += side {
		for y := b.Min.Y; y < b.Max.Y; y += side {
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
