// Package route finds ways over ground with areas that must not be entered and
// barriers that can be crossed only at some points.
//
// Straight legs are tested against the drawn shapes themselves, not against a
// raster; ways round go by a visibility graph over their corners. Points are
// metres of one frame.
package route

import (
	"cmp"
	"math"
	"slices"

	"windfall/geo"
	"windfall/geo/ground"
	"windfall/geo/plane"
)

// Distances a leg keeps, m. Clearance is well above what rounding to a
// centimetre moves a leg by; corners are rounded farther out than it.
const (
	Clearance = 0.4
	corner    = 1.2
	atGate    = 1.5   // m beside a crossing where a leg may be close to its barrier
	fromGate  = 0.012 // m that a leg from a crossing keeps from the barrier beyond: what rounding may move it by
)

// World is the ground as one kind of searcher meets it. The zero value is open.
type World struct {
	areas []plane.Polygons
	boxes []plane.Box
	chunk []chunk
	gates []geo.XY
	nodes []geo.XY
	adj   [][]edge

	left int // corners there was no budget for
}

type seg struct {
	a, b    geo.XY
	barrier bool
}

// chunk is a run of neighbouring segments with the box that holds them.
type chunk struct {
	x0, y0, x1, y1 float64
	segs           []seg
	middle         geo.XY // of the box
	radius         float64
}

type edge struct {
	to int
	d  float64
}

// Foot returns the world of a walker, Air that of a drone: barriers do not stop
// it. A nil ground is open. Where there are more corners than can be joined
// within bounds, those nearest to near count.
func Foot(g *ground.Ground, near geo.XY) *World { return build(g, ground.Walkers, near) }

// Air returns the world of a drone.
func Air(g *ground.Ground, near geo.XY) *World { return build(g, ground.Drones, near) }

func build(g *ground.Ground, who ground.Who, near geo.XY) *World {
	w := &World{}
	if g == nil {
		return w
	}
	var cand []geo.XY
	for _, n := range g.NoGo {
		if n.For != ground.All && n.For != who {
			continue
		}
		w.areas, w.boxes = append(w.areas, n.Area), append(w.boxes, n.Area.Bound())
		for _, poly := range n.Area {
			for _, ring := range poly {
				w.add(ring, false)
				cand = append(cand, ringCorners(ring)...)
			}
		}
	}
	if who == ground.Walkers {
		for _, b := range g.Barriers {
			w.add(b.Line, true)
			cand = append(cand, lineCorners(b.Line)...)
		}
		w.gates = g.Crossings
		for _, c := range g.Crossings {
			cand = append(cand, c)
			cand = append(cand, w.beside(c)...)
		}
	}
	for _, q := range w.within(cand, near) {
		if w.isGate(q) || !w.Near(q, Clearance) {
			w.nodes = append(w.nodes, q)
		}
	}
	w.link()
	return w
}

// Joining n corners takes n n/2 looks along all runs of edges: at most linkWork
// of them, some 5 s. mostCorners keeps the table of ways under 200 MB.
const (
	linkWork    = 4e8
	mostCorners = 3000
)

// within returns the corners that there is budget for.
func (w *World) within(cand []geo.XY, near geo.XY) []geo.XY {
	most := int(min(mostCorners, math.Sqrt(2*linkWork/float64(1+len(w.chunk)))))
	if w.left = len(cand) - most; w.left <= 0 {
		w.left = 0
		return cand
	}
	cand = slices.Clone(cand)
	slices.SortStableFunc(cand, func(a, b geo.XY) int { return cmp.Compare(a.Sub(near).Norm(), b.Sub(near).Norm()) })
	return cand[:most]
}

// LeftOut is how many corners of no-go areas and barriers no way is looked for
// round, because there are too many. Legs keep clear of all of them.
func (w *World) LeftOut() int { return w.left }

// Toil is what a question for a way costs, in runs of edges looked at.
func (w *World) Toil() float64 { return float64(len(w.chunk)) }

// Empty reports whether nothing stands in the way anywhere.
func (w *World) Empty() bool { return len(w.chunk) == 0 }

// Inside reports whether q lies in an area that must not be entered.
func (w *World) Inside(q geo.XY) bool {
	for i, a := range w.areas {
		if w.boxes[i].Contains(q) && a.Contains(q) {
			return true
		}
	}
	return false
}

// Near reports whether q is inside an area or closer than d (m) to an edge of
// one or to a barrier.
func (w *World) Near(q geo.XY, d float64) bool {
	for i := range w.chunk {
		c := &w.chunk[i]
		if q.X < c.x0-d || q.X > c.x1+d || q.Y < c.y0-d || q.Y > c.y1+d {
			continue
		}
		for _, s := range c.segs {
			if plane.Distance(q, s.a, s.b) < d {
				return true
			}
		}
	}
	return w.Inside(q)
}

// Free reports whether the straight leg from a to b is allowed: it keeps clear
// of every no-go edge and barrier. A leg that begins or ends at a crossing may
// touch the barrier there and nowhere else.
func (w *World) Free(a, b geo.XY) bool {
	if len(w.chunk) == 0 {
		return true
	}
	ga, gb := w.isGate(a), w.isGate(b)
	const m = Clearance
	x0, x1 := math.Min(a.X, b.X)-m, math.Max(a.X, b.X)+m
	y0, y1 := math.Min(a.Y, b.Y)-m, math.Max(a.Y, b.Y)+m
	l := lineOf(a, b)
	ca, cb, long := a, b, true
	if ga || gb {
		ca, cb, long = trim(a, b, ga, gb)
	}
	for i := range w.chunk {
		c := &w.chunk[i]
		if x0 > c.x1 || x1 < c.x0 || y0 > c.y1 || y1 < c.y0 || math.Abs(l.side(c.middle)) > l.far+c.radius*l.n {
			continue
		}
		for j := range c.segs {
			s := &c.segs[j]
			if math.Min(s.a.X, s.b.X) > x1 || math.Max(s.a.X, s.b.X) < x0 ||
				math.Min(s.a.Y, s.b.Y) > y1 || math.Max(s.a.Y, s.b.Y) < y0 || l.passes(s) {
				continue
			}
			if s.barrier && (ga || gb) {
				if long && plane.Between(ca, cb, s.a, s.b) < fromGate || crossesAway(a, b, s, ga, gb) {
					return false
				}
				continue
			}
			if plane.Between(a, b, s.a, s.b) < m {
				return false
			}
		}
	}
	return len(w.areas) == 0 || !w.Inside(a)
}

// straight is a leg's line, for a quick look whether something lies near it.
type straight struct {
	a, d   geo.XY
	n, far float64 // m, and m2 that are well beyond Clearance
}

func lineOf(a, b geo.XY) straight {
	d := b.Sub(a)
	n := d.Norm()
	return straight{a, d, n, 1.01 * Clearance * n}
}

// side is q's distance from the line times the leg's length, positive to the left.
func (l *straight) side(q geo.XY) float64 { return l.d.Cross(q.Sub(l.a)) }

// passes reports whether the segment lies wholly on one side, well clear of the line.
func (l *straight) passes(s *seg) bool {
	p, q := l.side(s.a), l.side(s.b)
	return p > l.far && q > l.far || p < -l.far && q < -l.far
}

func (w *World) isGate(q geo.XY) bool {
	for _, g := range w.gates {
		if math.Abs(g.X-q.X) < 0.02 && math.Abs(g.Y-q.Y) < 0.02 {
			return true
		}
	}
	return false
}

// trim cuts the ends that lie at crossings off a leg; long is false when
// nothing is left.
func trim(a, b geo.XY, ga, gb bool) (ca, cb geo.XY, long bool) {
	d := b.Sub(a)
	n := d.Norm()
	t0, t1 := 0.0, 1.0
	if ga {
		t0 = atGate / n
	}
	if gb {
		t1 = 1 - atGate/n
	}
	if n == 0 || t0 >= t1 {
		return a, b, false
	}
	return a.Add(d.Scale(t0)), a.Add(d.Scale(t1)), true
}

// crossesAway reports whether the leg meets the barrier segment elsewhere than
// at its own crossing ends.
func crossesAway(a, b geo.XY, s *seg, ga, gb bool) bool {
	q, ok := plane.Meet(a, b, s.a, s.b)
	if !ok {
		return false
	}
	return !(ga && q.Sub(a).Norm() < 0.1 || gb && q.Sub(b).Norm() < 0.1)
}

func (w *World) add(pts []geo.XY, barrier bool) {
	const run = 12
	for i := 1; i < len(pts); i += run {
		c := chunk{x0: math.Inf(1), y0: math.Inf(1), x1: math.Inf(-1), y1: math.Inf(-1)}
		for j := i; j < i+run && j < len(pts); j++ {
			c.segs = append(c.segs, seg{pts[j-1], pts[j], barrier})
			for _, p := range pts[j-1 : j+1] {
				c.x0, c.x1 = math.Min(c.x0, p.X), math.Max(c.x1, p.X)
				c.y0, c.y1 = math.Min(c.y0, p.Y), math.Max(c.y1, p.Y)
			}
		}
		c.middle = geo.XY{X: (c.x0 + c.x1) / 2, Y: (c.y0 + c.y1) / 2}
		c.radius = math.Hypot(c.x1-c.x0, c.y1-c.y0) / 2
		w.chunk = append(w.chunk, c)
	}
}
