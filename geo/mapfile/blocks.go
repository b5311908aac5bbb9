package mapfile

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"windfall/geo"
	"windfall/geo/plane"
)

// stage is a part of a route that is told in one breath: a block, or a way
// between blocks, in or home.
type stage struct {
	block *Block // nil: a way
	legs  []Leg
	later bool // little is gained from here on
}

// worthSaying is the least chance to find it on a way that is told: a choice of
// ours, what rounds to 1 %.
const worthSaying = 0.005

// stages parts a route into ways and blocks. Blocks that begin after the point
// where enough is done are marked, and the ways to and from them.
func (p *Plan) stages(r Route) (out []stage) {
	for _, g := range r.Legs {
		n := len(out)
		same := n > 0 && g.Kind != recharge && out[n-1].legs[0].Kind != recharge && out[n-1].name() == g.Block
		if same {
			out[n-1].legs = append(out[n-1].legs, g)
			continue
		}
		s := stage{legs: []Leg{g}}
		if i := slices.IndexFunc(r.Blocks, func(b Block) bool { return b.Name == g.Block }); i >= 0 {
			s.block = &r.Blocks[i]
		}
		out = append(out, s)
	}
	p.markLater(out)
	return out
}

func (p *Plan) markLater(ss []stage) {
	i := slices.IndexFunc(ss, func(s stage) bool { return s.block != nil && s.block.StartMin > p.Enough.Minutes-1e-6 })
	if i < 0 || p.Enough.Minutes <= 0 {
		return
	}
	for i > 0 && ss[i-1].block == nil {
		i--
	}
	for ; i < len(ss); i++ {
		ss[i].later = true
	}
}

const recharge = "recharge" // the Kind of a leg that stays at home for a new battery

func (s *stage) name() string {
	if s.block == nil {
		return ""
	}
	return s.block.Name
}

func (s *stage) last() Leg { return s.legs[len(s.legs)-1] }

// path is where the stage leads, without points that lie on a straight line.
func (s *stage) path() []geo.XY {
	out := []geo.XY{s.legs[0].From}
	for i, g := range s.legs {
		if i+1 < len(s.legs) {
			a, _ := g.Bearing()
			b, _ := s.legs[i+1].Bearing()
			if math.Abs(math.Remainder(a-b, 360)) < straightDeg {
				continue
			}
		}
		if g.To != out[len(out)-1] {
			out = append(out, g.To)
		}
	}
	return out
}

// pos is the chance to find it here.
func (s *stage) pos() (p float64) {
	if s.block != nil {
		return s.block.POS
	}
	for _, g := range s.legs {
		p += g.POS
	}
	return p
}

// tells says whether what is found here is worth telling.
func (s *stage) tells() bool { return s.block != nil || s.pos() >= worthSaying }

// length is the way in m.
func (s *stage) length() (m float64) {
	for _, g := range s.legs {
		_, d := g.Bearing()
		m += d
	}
	return m
}

// outline is the ground of a block: its lanes and half a spacing round them.
func (s *stage) outline() plane.Ring {
	u := geo.Polar(1, s.block.Out)
	v := geo.XY{X: -u.Y, Y: u.X}
	o := s.block.Begin
	box := plane.Empty()
	for _, q := range s.path() {
		d := q.Sub(o)
		box = box.Extend(geo.XY{X: d.Dot(u), Y: d.Dot(v)})
	}
	box = box.Pad(s.block.Spacing / 2)
	var out plane.Ring
	for _, c := range []geo.XY{box.Min, {X: box.Max.X, Y: box.Min.Y}, box.Max, {X: box.Min.X, Y: box.Max.Y}, box.Min} {
		out = append(out, o.Add(u.Scale(c.X)).Add(v.Scale(c.Y)))
	}
	return out
}

// middle is the middle of a block's ground.
func (s *stage) middle() geo.XY {
	r := s.outline()
	return r[0].Add(r[2]).Scale(0.5)
}

// text is the block in one line, with compass bearings where they are known and
// paces where the walker's pace is.
func (b *Block) text(l *Landing, r Route) string {
	dir := func(d float64) string {
		if l.Declination == nil {
			return bearing(d)
		}
		return fmt.Sprintf("%s (compass %s)", bearing(d), bearing(d-*l.Declination))
	}
	far := func(m float64) string {
		if r.Pace > 0 {
			return fmt.Sprintf("%s (%.0f paces)", metres(m), m/r.Pace)
		}
		return metres(m)
	}
	if b.Rectangle {
		turn := "right"
		if math.Remainder(b.Side-b.Out, 360) < 0 {
			turn = "left"
		}
		return fmt.Sprintf("expanding rectangle of %d courses: %s on %s, then always turn %s; each course %s outside the "+
			"one before on its side", b.Lanes, far(b.Lane), dir(b.Out), turn, far(b.Spacing))
	}
	if b.Lanes == 1 {
		return fmt.Sprintf("one lane of %s on %s", far(b.Lane), dir(b.Out))
	}
	return fmt.Sprintf("%d lanes of %s, %s apart, out on %s, back on %s, next lane toward %s", b.Lanes, far(b.Lane),
		far(b.Spacing), dir(b.Out), dir(b.Back), dir(b.Side))
}

// Distances (m) within which a landmark lies on a way: choices of ours.
const (
	atCrossing = 2.0
	atNoGo     = 4.0
)

// landmarks names what lies on a way: crossings that are used, ground to keep
// out of that is skirted.
func (l *Landing) landmarks(path []geo.XY) string {
	var out []string
	add := func(s string) {
		if s = clean(s); s != "" && !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	for i := 1; i < len(path); i++ {
		for _, c := range l.Crossings {
			if plane.Distance(c.At, path[i-1], path[i]) < atCrossing {
				name := c.Name
				if name == "" {
					name = "the crossing"
				}
				add("over " + name + l.barrierAt(c.At))
			}
		}
		for _, z := range l.NoGo {
			if z.For != "drones" && z.nearest(path[i]) < atNoGo {
				add("round " + z.Name)
			}
		}
	}
	return strings.Join(out, ", ")
}

// barrierAt names the barrier that a crossing is on.
func (l *Landing) barrierAt(q geo.XY) string {
	for _, b := range l.Barriers {
		if _, d := plane.Line(b.Path).Nearest(q); d < atCrossing && b.Name != "" {
			return " (" + b.Name + ")"
		}
	}
	return ""
}

// nearest is the distance (m) from q to the zone's edge.
func (z Zone) nearest(q geo.XY) float64 {
	best := math.Inf(1)
	for _, edge := range z.Shape.Lines() {
		if _, d := edge.Nearest(q); d < best {
			best = d
		}
	}
	return best
}

// wayText is a way in one line: straight on a bearing, or its length by its
// landmarks.
func (s *stage) wayText(l *Landing, r Route) string {
	first := s.legs[0]
	if first.Kind == recharge {
		return "change the battery, until " + minutes(first.EndMin)
	}
	path := s.path()
	what := "way on"
	switch {
	case s.last().Kind == "return":
		what = "way home"
	case first.From.Sub(r.Start).Norm() < 1:
		what = "way there"
	}
	t := what + ": " + metres(s.length())
	if len(path) == 2 {
		d := path[1].Sub(path[0])
		t += " on " + bearing(d.BearingDeg())
		if l.Declination != nil {
			t += fmt.Sprintf(" (compass %s)", bearing(d.BearingDeg()-*l.Declination))
		}
		if r.Pace > 0 {
			t += fmt.Sprintf(", %.0f paces", s.length()/r.Pace)
		}
	}
	if m := l.landmarks(path); m != "" && r.Kind != "drone" {
		t += ", " + m
	}
	if s.tells() {
		t += ", looking out"
	}
	return t
}

// widths are the sweep widths that hold on most of a route's ground, by cover:
// those of a tenth of the search way at least, the greatest share first.
func (r Route) widths() string {
	type part struct {
		cover string
		w, m  float64
	}
	var parts []part
	var all float64
	for _, g := range r.Legs {
		if g.Kind != Search {
			continue
		}
		_, m := g.Bearing()
		all += m
		i := slices.IndexFunc(parts, func(p part) bool { return p.cover == g.Cover })
		if i < 0 {
			i, parts = len(parts), append(parts, part{cover: g.Cover, w: g.SweepWidth})
		}
		parts[i].m += m
	}
	slices.SortStableFunc(parts, func(a, b part) int { return int(math.Copysign(1, b.m-a.m)) })
	var out []string
	for _, p := range parts {
		if p.m < all/10 {
			continue
		}
		if p.cover == "" {
			out = append(out, metres(p.w))
		} else {
			out = append(out, fmt.Sprintf("%s in %s", metres(p.w), p.cover))
		}
	}
	return strings.Join(out, ", ")
}
