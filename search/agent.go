package search

import (
	"math"
	"sort"

	"windfall/geo"
	"windfall/geo/ground"
	"windfall/geo/plane"
	"windfall/search/detect"
	"windfall/search/route"
)

// Times and distances of the way people move: choices of ours.
const (
	turnWalker = 4.0  // s lost at a sharp turn, on foot: stop, find the line, go on
	turnDrone  = 4.0  // s to stop and speed up again
	reserve    = 0.05 // share of a drone's sortie kept back
	slopeStep  = 25.0 // m between elevations along a leg
	maxSlope   = 1.5  // rise over run beyond which the slope is no longer believed
)

// terra is the ground as all agents share it: cover classes by number.
type terra struct {
	terrain Terrain
	classes []string       // class 0 is open
	number  map[string]int // of a class
	areas   []coverArea
}

type coverArea struct {
	class int
	bound plane.Box
	rings []plane.Line
	area  plane.Polygons
}

func newTerra(g *ground.Ground, t Terrain) *terra {
	out := &terra{terrain: t, classes: []string{ground.Open}, number: map[string]int{ground.Open: 0}}
	if g == nil {
		return out
	}
	for _, c := range g.Covers {
		n, ok := out.number[c.Class]
		if !ok {
			n = len(out.classes)
			out.number[c.Class] = n
			out.classes = append(out.classes, c.Class)
		}
		out.areas = append(out.areas, coverArea{class: n, bound: c.Area.Bound(), rings: c.Area.Lines(), area: c.Area})
	}
	return out
}

// classAt returns the number of the cover class at q.
func (t *terra) classAt(q geo.XY) int {
	if len(t.areas) == 0 {
		return 0
	}
	for i := len(t.areas) - 1; i >= 0; i-- {
		if ca := &t.areas[i]; ca.bound.Contains(q) && ca.area.Contains(q) {
			return ca.class
		}
	}
	return 0
}

// piece is a part of a straight leg in one cover class.
type piece struct {
	a, b  geo.XY
	class int
}

// split cuts the leg from a to b at the edges of covers. Pieces shorter than
// half a metre join the next.
func (t *terra) split(a, b geo.XY) []piece {
	if len(t.areas) == 0 {
		return []piece{{a, b, 0}}
	}
	d := b.Sub(a)
	n := d.Norm()
	if n == 0 {
		return []piece{{a, b, t.classAt(a)}}
	}
	box := plane.Line{a, b}.Bound()
	var cuts []float64
	for _, ca := range t.areas {
		if !ca.bound.Intersects(box) {
			continue
		}
		for _, r := range ca.rings {
			for i := 1; i < len(r); i++ {
				if u, ok := cutAt(a, d, r[i-1], r[i]); ok {
					cuts = append(cuts, u)
				}
			}
		}
	}
	sort.Float64s(cuts)
	cuts = append(cuts, 1)
	var out []piece
	from := 0.0
	for _, u := range cuts {
		if (u-from)*n < 0.5 && u < 1 || u <= from {
			continue
		}
		class := t.classAt(a.Add(d.Scale((from + u) / 2)))
		p, q := a.Add(d.Scale(from)), a.Add(d.Scale(u))
		if u == 1 {
			q = b
		}
		if k := len(out); k > 0 && out[k-1].class == class {
			out[k-1].b = q
		} else {
			out = append(out, piece{p, q, class})
		}
		from = u
	}
	return out
}

// cutAt returns where along a + u d the segment from p to q is met.
func cutAt(a, d, p, q geo.XY) (float64, bool) {
	e := q.Sub(p)
	den := d.X*e.Y - d.Y*e.X
	if den == 0 {
		return 0, false
	}
	w := p.Sub(a)
	u, v := (w.X*e.Y-w.Y*e.X)/den, (w.X*d.Y-w.Y*d.X)/den
	return u, u > 0 && u < 1 && v >= 0 && v <= 1
}

// agent is a searcher made ready: sweep width and speed by cover class, the
// ways of its world, and its time.
type agent struct {
	Searcher
	t      *terra
	world  *route.World
	home   *route.From
	at     geo.XY    // where it is at begin
	width  []float64 // m by class
	speed  []float64 // m/s by class, on the level
	unseen []float64 // share by class that nobody can see at all
	turn   float64   // s
	begin  float64   // s
	end    float64   // s: back by then
	sortie float64   // s on a charge, reserve taken off; +Inf on foot
	noted  []string  // classes whose sweep width is a default
}

// drone reports whether the agent flies.
func (a *agent) drone() bool { return a.Kind == Drone }

// along returns the time (s) from p to q within one class.
func (a *agent) along(pc piece) float64 {
	d := pc.b.Sub(pc.a).Norm()
	v := a.speed[pc.class]
	if a.drone() || a.t.terrain == nil || d == 0 {
		return d / v
	}
	n := int(math.Ceil(d / slopeStep))
	step := d / float64(n)
	var s float64
	z0, ok0 := a.t.terrain.Elevation(pc.a)
	for i := 1; i <= n; i++ {
		z1, ok1 := a.t.terrain.Elevation(pc.a.Add(pc.b.Sub(pc.a).Scale(float64(i) / float64(n))))
		f := 1.0
		if ok0 && ok1 {
			f = tobler((z1 - z0) / step)
		}
		s += step / (v * f)
		z0, ok0 = z1, ok1
	}
	return s
}

// tobler returns walking speed on a slope (rise over run along the way, up
// positive) as a share of that on the level, at most 1: Tobler's hiking
// function, 6 exp(-3.5 |s + 0.05|) km/h, over its value at 0 (Tobler, Three
// presentations on geographical analysis and modeling, NCGIA TR 93-1, 1993).
// The little it gains on gentle descents is not claimed.
func tobler(slope float64) float64 {
	s := math.Max(-maxSlope, math.Min(maxSlope, slope))
	return math.Min(1, math.Exp(-3.5*(math.Abs(s+0.05)-0.05)))
}

// travel returns the time (s) from p to q by the straight line, turns not
// counted.
func (a *agent) travel(p, q geo.XY) float64 {
	var s float64
	for _, pc := range a.t.split(p, q) {
		s += a.along(pc)
	}
	return s
}

// homeward returns the corners and the time of the way home from p.
func (a *agent) homeward(p geo.XY) ([]geo.XY, float64, bool) {
	pts, _, ok := a.home.To(p)
	if !ok {
		return nil, 0, false
	}
	back := make([]geo.XY, 0, len(pts))
	for i := len(pts) - 2; i >= 0; i-- {
		back = append(back, pts[i])
	}
	back = append(back, a.Start)
	var s float64
	from := p
	for _, q := range back {
		s += a.travel(from, q)
		from = q
	}
	// every piece is rounded up to a tick, and the last steps are a leg of their own
	return back, s + (a.turn+2*tick)*float64(len(back)) + 10*tick, true
}

// inReach reports whether the agent may be at q: reach and no-go.
func (a *agent) inReach(q geo.XY) bool {
	if a.Reach > 0 && a.drone() && q.Sub(a.Start).Norm() > a.Reach-0.02 {
		return false
	}
	return a.world.Empty() || !a.world.Near(q, route.Clearance)
}

// unseen is the share of targets in a class of cover that nobody can see.
func (tg Target) unseen(class string) float64 {
	if v, ok := tg.Unseen[class]; ok {
		return v
	}
	c, _ := detect.CoverOf(class)
	return c.Unseen
}

// widths fills sweep widths and speeds by class.
func (a *agent) widths(tg Target) {
	length, width := tg.Length, tg.Width
	if length <= 0 || width <= 0 {
		length, width = 1.5, 0.075
	}
	vis := detect.ColourVisibility(tg.Colour)
	for _, class := range a.t.classes {
		c, known := detect.CoverOf(class)
		a.unseen = append(a.unseen, tg.unseen(class))
		if a.drone() {
			cam := detect.Camera{Height: a.Height, FieldDeg: a.FieldDeg, Pixels: a.Pixels, Speed: a.Speed}
			a.width = append(a.width, cam.Width(length, width, c.Above))
			a.speed = append(a.speed, a.Speed)
			continue
		}
		rd, measured := detect.RangeIn(class, tg.SeenAt, length, width)
		if !measured {
			note := class
			if !known {
				note += " (taken as other)"
			}
			a.noted = append(a.noted, note)
		}
		a.width = append(a.width, detect.Walker(rd, vis, tg.HeardAt))
		a.speed = append(a.speed, a.Speed*c.Pace)
	}
}
