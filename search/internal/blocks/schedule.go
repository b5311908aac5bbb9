package blocks

import "math"

// pass is one straight course of a block, along (v fixed) or across (u fixed),
// with its times.
type pass struct {
	a, b   point
	t0, t1 float64 // s
}

// schedule is a searcher's work in time: the blocks that fit, their passes, and
// the ways between them.
type schedule struct {
	blocks []Block
	boxes  []box
	passes []pass
	ways   []wayLeg // in, between and home
}

// wayLeg is a straight part of a way; bent says that the way has several, stray
// that it is neither the first nor the last of all: nobody takes it for a way.
// along is one that goes straight on along a lane.
type wayLeg struct {
	a, b               point
	bent, stray, along bool
}

func (s *schedule) reset() {
	s.blocks, s.boxes, s.passes, s.ways = s.blocks[:0], s.boxes[:0], s.passes[:0], s.ways[:0]
}

// clock is where a searcher stands while a schedule is made.
type clock struct {
	at         point
	now, flown float64
}

// plan makes out, in the order given, when the searcher walks which block.
// Lanes for which there is no time are taken off the end, blocks that do not fit
// are left out; ok is false when a block cannot be walked at all.
func (c *chain) plan(who int, blocks []Block, out *schedule) (ok bool) {
	s := &c.task.Searchers[who]
	out.reset()
	home := c.r.in(s.Start)
	k := clock{at: c.r.in(s.At), now: s.Begin, flown: s.Flown}
	for _, b := range blocks {
		if len(out.blocks) == s.Most {
			break
		}
		if !c.fits(s, &b) {
			return false
		}
		before, mark, ways := k, len(out.passes), len(out.ways)
		if s.Sortie > 0 && !c.lasts(s, &k, &b) && !c.charge(s, &k, &b, out) {
			k, out.passes, out.ways = before, out.passes[:mark], out.ways[:ways]
			continue
		}
		if !c.goTo(s, &k, b.begin(), out) {
			return false
		}
		first := len(out.passes)
		out.passes = c.courses(s, &b, k.now, out.passes)
		if !c.cut(s, &b, out, first) {
			k, out.passes, out.ways = before, out.passes[:mark], out.ways[:ways]
			continue
		}
		last := out.passes[len(out.passes)-1]
		out.blocks, out.boxes = append(out.blocks, b), append(out.boxes, b.box())
		k.flown += last.t1 - k.now
		k.at, k.now = last.b, last.t1
	}
	if len(out.blocks) > 0 {
		c.goTo(s, &k, home, out)
		out.ways[0].stray, out.ways[len(out.ways)-1].stray = false, false
		out.runOn()
	}
	return true
}

// goTo adds the way to q; who goes looks out on it.
func (c *chain) goTo(s *Searcher, k *clock, q point, out *schedule) bool {
	var room [16]leg
	legs, ok := c.legs(s, k.at, q, room[:0])
	bent := bends(legs)
	for _, l := range legs {
		t := k.now + s.Turn
		k.flown += s.Turn + l.sec
		k.now = t + l.sec
		p := pass{c.r.in(l.a), c.r.in(l.b), t, k.now}
		out.passes = append(out.passes, p)
		out.ways = append(out.ways, wayLeg{a: p.a, b: p.b, bent: bent, stray: bent})
	}
	k.at = q
	return ok
}

// runOn marks the ways that go straight on along a lane: they look like a part of
// it.
func (s *schedule) runOn() {
	for i := range s.ways {
		if d := s.ways[i].b.sub(s.ways[i].a); math.Abs(d.v) < 1.5*straight*math.Abs(d.u) {
			s.ways[i].stray, s.ways[i].along = true, true
		}
	}
}

// straight is the sine of the turn up to which a way goes straight on.
const straight = 0.07

// bends reports whether a way turns.
func bends(legs []leg) bool {
	for i := 1; i < len(legs); i++ {
		a, b := legs[i-1].b.Sub(legs[i-1].a), legs[i].b.Sub(legs[i].a)
		if math.Abs(a.X*b.Y-a.Y*b.X) > straight*a.Norm()*b.Norm() || a.X*b.X+a.Y*b.Y < 0 {
			return true
		}
	}
	return false
}

// lasts reports whether a drone's charge lasts for the block and the way home.
func (c *chain) lasts(s *Searcher, k *clock, b *Block) bool {
	var room [128]pass
	ps := c.courses(s, b, 0, room[:0])
	back, _ := c.way(s, b.end(), c.r.in(s.Start))
	way, _ := c.way(s, k.at, b.begin())
	return k.flown+way+ps[len(ps)-1].t1+back <= s.Sortie
}

// charge brings a drone home for a new battery; it reports whether that lasts
// for the block.
func (c *chain) charge(s *Searcher, k *clock, b *Block, out *schedule) bool {
	c.goTo(s, k, c.r.in(s.Start), out)
	k.now += s.Recharge
	k.flown = 0
	return c.lasts(s, k, b)
}

// cut takes lanes off the end of the block, whose passes are the last of out,
// until the searcher is home in time; it reports whether a block is left.
func (c *chain) cut(s *Searcher, b *Block, out *schedule, first int) bool {
	home := c.r.in(s.Start)
	for {
		last := out.passes[len(out.passes)-1]
		if last.t1 < s.End {
			back, ok := c.way(s, last.b, home)
			if !ok {
				return false
			}
			if last.t1+back <= s.End {
				return true
			}
		}
		if b.N--; b.N < c.leastLanes(s, b) {
			return false
		}
		n := 2*b.N - 1
		if b.Spiral {
			n = b.N
		}
		out.passes = out.passes[:first+n]
	}
}

func (c *chain) leastLanes(s *Searcher, b *Block) int {
	switch {
	case b.Spiral:
		return tuned.LeastSpiral
	}
	return c.least
}

// courses appends the passes of a block begun at the given time.
func (c *chain) courses(s *Searcher, b *Block, now float64, out []pass) []pass {
	l := c.r.worlds[worldOf(s)]
	var room [128]point
	cs := b.corners(room[:0])
	for i := 1; i < len(cs); i++ {
		t := now + s.Turn
		now = t + c.r.takes(l, cs[i-1], cs[i])/s.Speed[0]
		out = append(out, pass{cs[i-1], cs[i], t, now})
	}
	return out
}

// legs appends the straight parts of the way from p to q.
func (c *chain) legs(s *Searcher, p, q point, room []leg) (legs []leg, ok bool) {
	c.spent += c.task.world(s).Toil
	return c.ways.legs(s, c.r.out(p), c.r.out(q), room)
}

// way returns the time (s) from p to q.
func (c *chain) way(s *Searcher, p, q point) (sec float64, ok bool) {
	var room [16]leg
	legs, ok := c.legs(s, p, q, room[:0])
	for _, l := range legs {
		sec += s.Turn + l.sec
	}
	return sec, ok
}

// fits reports whether a block may be walked by the searcher: its size, its
// ground, its reach.
func (c *chain) fits(s *Searcher, b *Block) bool {
	length := b.Hi - b.Lo
	if b.N < c.leastLanes(s, b) || b.N > tuned.MostLanes || length < c.task.leastLane(s.Foot, 0) {
		return false
	}
	l := c.r.worlds[worldOf(s)]
	var room [128]point
	cs := b.corners(room[:0])
	for i := 1; i < len(cs); i++ {
		if !c.r.free(l, cs[i-1], cs[i]) {
			return false
		}
	}
	if s.Reach > 0 && !c.inReach(s, b) {
		return false
	}
	w := c.widest(s, cs)
	gap := math.Abs(b.Gap)
	return w > 0 && gap >= tuned.GapLeast*w && gap <= tuned.GapMost*w && length >= c.task.leastLane(s.Foot, w)
}

func (c *chain) inReach(s *Searcher, b *Block) bool {
	x, home := b.box(), c.r.in(s.Start)
	far := math.Hypot(max(math.Abs(x.u0-home.u), math.Abs(x.u1-home.u)), max(math.Abs(x.v0-home.v), math.Abs(x.v1-home.v)))
	return far < s.Reach-0.1
}

// widest returns the widest sweep width (m) on the courses.
func (c *chain) widest(s *Searcher, cs []point) float64 {
	if c.r.class == nil {
		return s.Width[0]
	}
	w := 0.0
	for i := 1; i < len(cs); i++ {
		d := cs[i].sub(cs[i-1])
		n := int(d.norm()/c.r.h) + 1
		for k := -1; k <= n; k++ { // a cell beyond the ends: what is cut there counts as well
			f := (float64(k) + 0.5) / float64(n)
			w = max(w, s.Width[c.r.class[c.cell(point{cs[i-1].u + f*d.u, cs[i-1].v + f*d.v})]])
		}
	}
	return w
}
