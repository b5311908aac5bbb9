package search

import (
	"math"
	"sort"

	"windfall/geo"
	"windfall/search/route"
)

// move is one state of the beam: where a partial route has come to and how it
// came there.
type move struct {
	parent int32
	node   int32 // homeNode: at the start, charged
	how    int8  // 0..3 edge, jump, charge
	dir    int8  // last direction, -1 none
	run    int8  // edges walked in it, no more counted than make a leg
	link   bool  // the turn before led to the lane beside, not to a leg
	grace  int8  // edges for which a jump is given time to pay
	t      float64
	flown  float64 // s of this sortie
	score  float64 // gained: chance x s
	look   float64 // m, sweep width of a straight jump; 0: the jump goes round
	hash   uint64
	seen   [2]int32 // of a jump kept: where its strip begins and ends in strips
}

const (
	jump     = 4
	charge   = 5
	homeNode = -1
)

// leapEvery is how many time steps lie between thoughts of going elsewhere.
const leapEvery = 3

// graceEdges is for how many edges after a jump a route is kept beside better
// ones: going elsewhere costs first.
const graceEdges = 10

// beam looks for the route of one agent that gains most: the integral over time
// of the chance found, given what the others do. It keeps the best `wide`
// partial routes of every time step.
type beam struct {
	*lattice
	*shadow // of the lattice's quads
	wide    int
	jumps   int
	least   int8    // edges of a leg a person accepts
	price   float64 // chance x s, what a turn costs beside its time
	states  []move
	targets []target
	strips  []inStrip
	bucket  [][]move
	dt      float64 // s, the time of the shortest edge
}

// inStrip is a quad in the strip of a jump, and the share of it that is.
type inStrip struct {
	q     int32
	share float64
}

// target is a node that a route may jump to, with the quads near it.
type target struct {
	node int
	near []int32
	from *route.From // ways from it, made when one is wanted
}

// run searches and returns the stops of the best route and its score.
func (b *beam) run() ([]stop, float64) {
	a := b.a
	b.dt = b.s / maxOf(a.speed)
	nb := int((a.end-a.begin)/b.dt) + 2
	b.bucket = make([][]move, nb)
	b.states = b.states[:0]
	b.findTargets()
	b.states = append(b.states, move{parent: -1, node: homeNode, how: charge, dir: -1, t: a.begin, flown: a.Flown})
	b.expand(0, a.at)
	best, bestScore := -1, 0.0
	for k := 0; k < nb; k++ {
		cand := b.prune(b.bucket[k])
		b.bucket[k] = nil
		for _, c := range cand {
			b.states = append(b.states, c)
			i := len(b.states) - 1
			if c.look > 0 {
				b.keepStrip(i)
			}
			if c.score > bestScore {
				best, bestScore = i, c.score
			}
			at := a.Start
			if c.node >= 0 {
				at = b.node(int(c.node))
			}
			b.expand(i, at)
		}
	}
	if best < 0 {
		return nil, 0
	}
	return b.stops(best), bestScore
}

func maxOf(v []float64) float64 {
	m := v[0]
	for _, x := range v {
		m = math.Max(m, x)
	}
	return m
}

// prune keeps the best of the candidates of one time step, one of each set of
// edges walked and place.
func (b *beam) prune(c []move) []move {
	sort.Slice(c, func(i, j int) bool {
		if c[i].score != c[j].score {
			return c[i].score > c[j].score
		}
		if c[i].hash != c[j].hash {
			return c[i].hash < c[j].hash
		}
		return c[i].parent < c[j].parent || c[i].parent == c[j].parent && c[i].how < c[j].how
	})
	seen := make(map[uint64]bool, b.wide)
	out := c[:0]
	late := 0 // jumps kept on top of the best, while they pay off
	for _, m := range c {
		if len(out)-late >= b.wide && m.grace == 0 {
			continue
		}
		h := m.hash ^ mix(uint64(m.node)*256+uint64(m.dir+1)*32+uint64(m.run))
		if seen[h] {
			continue
		}
		seen[h] = true
		if len(out)-late >= b.wide {
			late++
		}
		out = append(out, m)
		if late > b.wide/3 {
			break
		}
	}
	return out
}

// mix is the finalizer of splitmix64 (Steele, Lea and Flood 2014).
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// expand adds what may follow state i, which is at the given place.
func (b *beam) expand(i int, at geo.XY) {
	b.replay(i)
	st := b.states[i]
	a := b.a
	if st.node >= 0 {
		for d := range 4 {
			b.onward(i, d)
		}
	}
	if st.node < 0 || int(st.t/b.dt)%leapEvery == 0 {
		b.leap(i, at)
	}
	if !math.IsInf(a.sortie, 1) && st.node >= 0 && st.flown > a.sortie*0.3 {
		dt := b.home[st.node] + math.Max(a.Recharge, tick)
		m := move{parent: int32(i), node: homeNode, how: charge, dir: -1, t: st.t + dt, score: st.score, hash: st.hash}
		if m.t+60 < a.end {
			b.push(m)
		}
	}
	b.forget()
}

// onward adds the edge from state i in direction d. A leg goes on until it is
// long enough, save the step across to the lane beside, from which the way leads
// back.
func (b *beam) onward(i, d int) {
	st := b.states[i]
	e := b.toward(int(st.node), d)
	if e < 0 || math.IsInf(b.cost[d][st.node], 1) || st.dir >= 0 && d == int(st.dir+2)%4 {
		return
	}
	dt := b.cost[d][st.node]
	m := move{parent: int32(i), node: int32(e), how: int8(d), dir: int8(d), run: 1, link: st.link,
		grace: max(0, st.grace-1), score: st.score}
	switch {
	case st.dir < 0:
		m.link = false
	case d == int(st.dir):
		m.run = min(st.run+1, b.least)
	default:
		m.link = st.run < b.least
		if m.link && (st.link || b.before(i) != int8(d+2)%4) {
			return
		}
		dt += b.a.turn
		m.score -= b.price
	}
	m.t, m.flown = st.t+dt, st.flown+dt
	if !b.allowed(&m) {
		return
	}
	lo := int(st.node)
	if d >= 2 {
		lo = e
	}
	m.score += b.gain(int(st.node), d, st.t+dt*0.5)
	m.hash = st.hash ^ mix(uint64(lo*2+d%2)^0x55<<40)
	b.push(m)
}

// before returns the direction that the route to state i had before its present
// one, -1 when that was no edge.
func (b *beam) before(i int) int8 {
	d := b.states[i].dir
	for ; i > 0; i = int(b.states[i].parent) {
		if st := b.states[i]; st.how != d {
			if st.how < jump {
				return st.how
			}
			break
		}
	}
	return -1
}

// allowed reports whether the agent can still be home in time and on its
// charge.
func (b *beam) allowed(m *move) bool {
	h := b.home[m.node]
	return m.t+h <= b.a.end && m.flown+h <= b.a.sortie
}

// push files a candidate under its time.
func (b *beam) push(m move) {
	k := int((m.t - b.a.begin) / b.dt)
	if k >= len(b.bucket) {
		return
	}
	if len(b.bucket[k]) > 40*b.wide {
		return
	}
	b.bucket[k] = append(b.bucket[k], m)
}

// gain returns what the edge from node c toward d gains when its middle is
// passed at t.
func (b *beam) gain(c, d int, t float64) float64 {
	var sum float64
	b.footprint(c, d, func(q int, share float64) {
		if p := b.left[q] * b.own[q]; p > 0 {
			sum += p * share * b.worth(q, t)
		}
	})
	return sum * passGain
}

// footprint calls fn with the quads under the edge from c toward d.
func (b *beam) footprint(c, d int, fn func(q int, share float64)) {
	i, j := c%b.n, c/b.n
	switch d {
	case 2:
		i--
	case 3:
		j--
	}
	w := b.width[d][c] / b.s
	nx, ny := b.shadow.nx, b.shadow.ny
	for ring := 0; ring < 4; ring++ {
		share := math.Min(1, w-float64(ring))
		if share <= 0.02 {
			break
		}
		if d%2 == 0 {
			for _, y := range [2]int{2*j - ring, 2*j + 1 + ring} {
				if y >= 0 && y < ny {
					fn(y*nx+2*i+1, share)
					fn(y*nx+2*i+2, share)
				}
			}
			continue
		}
		for _, x := range [2]int{2*i - ring, 2*i + 1 + ring} {
			if x >= 0 && x < nx {
				fn((2*j+1)*nx+x, share)
				fn((2*j+2)*nx+x, share)
			}
		}
	}
}

// replay puts into own what the route to state i has taken.
func (b *beam) replay(i int) {
	for ; i >= 0; i = int(b.states[i].parent) {
		st := &b.states[i]
		switch {
		case st.parent < 0 || st.how == charge:
		case st.how == jump:
			for _, s := range b.strips[st.seen[0]:st.seen[1]] {
				b.take(int(s.q), s.share)
			}
		default:
			c := int(b.states[st.parent].node)
			b.footprint(c, int(st.how), b.take)
		}
	}
}

// keepStrip notes what is seen on the jump to state i: it is asked for again and
// again.
func (b *beam) keepStrip(i int) {
	st := &b.states[i]
	st.seen[0] = int32(len(b.strips))
	b.each(b.in(b.placeOf(st.parent)), b.in(b.node(int(st.node))), st.look, func(q int, share, _ float64) {
		b.strips = append(b.strips, inStrip{int32(q), share})
	})
	st.seen[1] = int32(len(b.strips))
}

// placeOf returns where state i is.
func (b *beam) placeOf(i int32) geo.XY {
	if i == 0 {
		return b.a.at
	}
	if b.states[i].node < 0 {
		return b.a.Start
	}
	return b.node(int(b.states[i].node))
}

// jumpWidth is the sweep width taken for a straight way between two places.
func (b *beam) jumpWidth(p, q geo.XY) float64 {
	return b.a.width[b.a.t.classAt(p.Add(q).Scale(0.5))]
}

// stops turns the route to state i into stops; straight runs become one leg.
func (b *beam) stops(i int) []stop {
	var chain []int
	for ; i > 0; i = int(b.states[i].parent) {
		chain = append(chain, i)
	}
	var out []stop
	last := int8(-1)
	for k := len(chain) - 1; k >= 0; k-- {
		st := b.states[chain[k]]
		if st.how == charge {
			out = append(out, stop{p: b.a.Start, charge: true})
			last = -1
			continue
		}
		s := stop{p: b.node(int(st.node)), look: true}
		if st.how < jump && st.how == last {
			out[len(out)-1] = s
		} else {
			out = append(out, s)
		}
		last = st.how
	}
	return out
}
