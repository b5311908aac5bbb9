package blocks

import (
	"math"
	"slices"
)

// move changes the blocks of one or two searchers, in c.next-to-be, and returns
// who was changed; none when the move does not apply.
func (c *chain) move() (changed []int) {
	switch n := c.rng.IntN(100); {
	case n < 5:
		return c.insert()
	case n < 12:
		return c.warp()
	}
	who, k, ok := c.pick()
	if !ok {
		return c.insert()
	}
	c.take(who)
	b := &c.draft[who][k]
	one := []int{who}
	switch n := c.rng.IntN(100); {
	case n < 22:
		c.slide(b)
	case n < 42:
		c.lengthen(b)
	case n < 58:
		c.lanes(b)
	case n < 68:
		c.space(b)
	case n < 76:
		c.turn(b)
	case n < 82:
		c.reshape(b)
	case n < 85:
		c.draft[who] = slices.Delete(c.draft[who], k, k+1)
	case n < 88:
		c.spiral(b)
	case n < 92:
		return c.reorder(who, k)
	case n < 93:
		return c.again(who, k)
	case n < 95:
		return c.split(who, k)
	case n < 97:
		return c.merge(who, k)
	default:
		return c.hand(who, k)
	}
	return one
}

// pick draws one of all blocks.
func (c *chain) pick() (who, k int, ok bool) {
	n := 0
	for _, s := range c.now {
		n += len(s.blocks)
	}
	if n == 0 {
		return 0, 0, false
	}
	n = c.rng.IntN(n)
	for i, s := range c.now {
		if n < len(s.blocks) {
			return i, n, true
		}
		n -= len(s.blocks)
	}
	return 0, 0, false
}

// take copies the searcher's blocks to the draft.
func (c *chain) take(who int) {
	c.draft[who] = append(c.draft[who][:0], c.now[who].blocks...)
}

// step draws a length of about a spacing, now and then of several.
func (c *chain) step() float64 {
	return c.rng.NormFloat64() * c.width * math.Exp(c.rng.NormFloat64()-0.7)
}

func (c *chain) slide(b *Block) {
	switch c.rng.IntN(3) {
	case 0:
		c.shift(b, c.step(), 0)
	case 1:
		c.shift(b, 0, c.step())
	default:
		c.shift(b, c.step(), c.step())
	}
}

func (c *chain) shift(b *Block, u, v float64) {
	b.Lo, b.Hi, b.V = b.Lo+u, b.Hi+u, b.V+v
}

// lengthen moves one end of the lanes, or both.
func (c *chain) lengthen(b *Block) {
	d := c.step()
	switch c.rng.IntN(3) {
	case 0:
		b.Lo -= d
	case 1:
		b.Hi += d
	default:
		b.Lo, b.Hi = b.Lo-d, b.Hi+d
	}
}

// lanes adds or takes off lanes on either side.
func (c *chain) lanes(b *Block) {
	n := 1 + c.rng.IntN(2)
	if c.rng.IntN(2) == 0 {
		n = -n
	}
	b.N += n
	if !b.Spiral && c.rng.IntN(2) == 0 {
		b.V -= float64(n) * b.Gap
	}
}

// space changes the spacing, the middle standing fast.
func (c *chain) space(b *Block) {
	f := math.Exp(0.15 * c.rng.NormFloat64())
	if !b.Spiral {
		b.V += float64(b.N-1) * b.Gap * (1 - f) / 2
	}
	b.Gap *= f
}

// turn begins at another corner.
func (c *chain) turn(b *Block) {
	n := 1 + c.rng.IntN(3)
	if n&1 != 0 {
		b.Back = !b.Back
	}
	if n&2 != 0 {
		if !b.Spiral {
			b.V += float64(b.N-1) * b.Gap
		}
		b.Gap = -b.Gap
	}
}

// reshape keeps the ground about the same and trades lanes for length.
func (c *chain) reshape(b *Block) {
	d := 1 + c.rng.IntN(2)
	if c.rng.IntN(2) == 0 {
		d = -d
	}
	if b.N+d < 1 || b.Spiral {
		return
	}
	f := float64(b.N) / float64(b.N+d)
	mid, half := (b.Lo+b.Hi)/2, (b.Hi-b.Lo)/2*f
	b.Lo, b.Hi = mid-half, mid+half
	b.V -= float64(d) * b.Gap / 2
	b.N += d
}

// spiral makes an expanding rectangle of lanes or the other way round.
func (c *chain) spiral(b *Block) {
	x := b.box()
	u, v := (x.u0+x.u1)/2, (x.v0+x.v1)/2
	g := math.Abs(b.Gap)
	if b.Spiral {
		b.Spiral = false
		b.N = max(3, int((x.v1-x.v0)/g+0.5)+1)
		b.Lo, b.Hi, b.V, b.Gap = x.u0, x.u1, x.v0, g
		return
	}
	b.Spiral = true
	across := x.v1 - x.v0
	first := math.Max(tuned.LeastLane, (x.u1-x.u0)-across)
	b.Lo, b.Hi, b.V = u-first/2, u+first/2, v
	b.N = max(tuned.LeastSpiral, min(tuned.MostLanes, 2*int(across/g+0.5)+1))
}

// warp bends the ground: all blocks near a line are moved the same way, those at
// the line farthest, so that what lies side by side goes on doing so.
func (c *chain) warp() (changed []int) {
	at, d, s := c.spot(), c.step(), c.width*(1+6*c.rng.Float64())
	d = math.Max(-0.5*s, math.Min(0.5*s, d))
	alongU := c.rng.IntN(2) == 0
	bend := func(x, line float64) float64 {
		z := (x - line) / s
		return x + d*math.Exp(-z*z)
	}
	for i := range c.now {
		if !c.task.Searchers[i].Foot && len(c.now) > 1 {
			continue
		}
		c.take(i)
		moved := false
		for k := range c.draft[i] {
			b := &c.draft[i][k]
			old := *b
			switch {
			case b.Spiral && alongU:
				f := bend((b.Lo+b.Hi)/2, at.u) - (b.Lo+b.Hi)/2
				b.Lo, b.Hi = b.Lo+f, b.Hi+f
			case b.Spiral:
				b.V = bend(b.V, at.v)
			case alongU:
				b.Lo, b.Hi = bend(b.Lo, at.u), bend(b.Hi, at.u)
			default:
				last := bend(b.V+float64(b.N-1)*b.Gap, at.v)
				b.V = bend(b.V, at.v)
				b.Gap = (last - b.V) / float64(max(1, b.N-1))
			}
			moved = moved || math.Abs(old.Lo-b.Lo)+math.Abs(old.Hi-b.Hi)+math.Abs(old.V-b.V)+math.Abs(old.Gap-b.Gap) > 0.5
		}
		if moved {
			changed = append(changed, i)
		}
	}
	return changed
}

// reorder moves a block to another place in its searcher's order.
func (c *chain) reorder(who, k int) []int {
	d := c.draft[who]
	if len(d) < 2 {
		return nil
	}
	j := c.rng.IntN(len(d) - 1)
	if j >= k {
		j++
	}
	b := d[k]
	d = slices.Delete(d, k, k+1)
	c.draft[who] = slices.Insert(d, j, b)
	return []int{who}
}

// again adds a second look between the lanes of a block, its ends the same.
func (c *chain) again(who, k int) []int {
	b := c.draft[who][k]
	if len(c.draft[who]) >= c.task.Searchers[who].Most || b.Spiral || b.N < 4 {
		return nil
	}
	b.V += b.Gap / 2
	b.N--
	c.draft[who] = append(c.draft[who], b)
	return []int{who}
}

// split makes two blocks of one: the lanes of one side first, or every other
// lane first and those between them later.
func (c *chain) split(who, k int) []int {
	b := c.draft[who][k]
	if len(c.draft[who]) >= c.task.Searchers[who].Most || b.Spiral || b.N < 2*c.least {
		return nil
	}
	x, y := b, b
	if c.rng.IntN(2) == 0 {
		x.N = c.least + c.rng.IntN(b.N-2*c.least+1)
		y.N = b.N - x.N
		y.V += float64(x.N) * b.Gap
	} else {
		x.N, y.N = (b.N+1)/2, b.N/2
		x.Gap, y.Gap = 2*b.Gap, 2*b.Gap
		y.V += b.Gap
	}
	if c.rng.IntN(2) == 0 {
		x, y = y, x
	}
	c.draft[who][k] = x
	c.draft[who] = slices.Insert(c.draft[who], k+1, y)
	return []int{who}
}

// merge makes one block of two that follow each other, over the ground of both
// or with all their lanes on the ground of the first.
func (c *chain) merge(who, k int) []int {
	d := c.draft[who]
	if k+1 >= len(d) || d[k].Spiral || d[k+1].Spiral {
		return nil
	}
	x, y := d[k].box(), d[k+1].box()
	b := &d[k]
	if c.rng.IntN(2) == 0 {
		v0, v1 := math.Min(x.v0, y.v0), math.Max(x.v1, y.v1)
		b.Lo, b.Hi = math.Min(x.u0, y.u0), math.Max(x.u1, y.u1)
		g := math.Abs(b.Gap)
		b.N = int((v1-v0)/g+0.5) + 1
		b.V = v0
		if b.Gap < 0 {
			b.V = v1
		}
	} else {
		b.N *= 2
		b.Gap /= 2
	}
	c.draft[who] = slices.Delete(d, k+1, k+2)
	return []int{who}
}

// hand gives a block to somebody else, or swaps it for one of theirs.
func (c *chain) hand(who, k int) []int {
	if len(c.now) < 2 {
		return nil
	}
	to := c.rng.IntN(len(c.now) - 1)
	if to >= who {
		to++
	}
	c.take(to)
	b := c.draft[who][k]
	if n := len(c.draft[to]); n > 0 && c.rng.IntN(2) == 0 {
		j := c.rng.IntN(n)
		c.draft[who][k], c.draft[to][j] = c.draft[to][j], b
		return []int{who, to}
	}
	if len(c.draft[to]) >= c.task.Searchers[to].Most {
		return nil
	}
	c.draft[who] = slices.Delete(c.draft[who], k, k+1)
	c.draft[to] = slices.Insert(c.draft[to], c.rng.IntN(len(c.draft[to])+1), b)
	return []int{who, to}
}

// insert adds a block where chance is left.
func (c *chain) insert() []int {
	who := c.rng.IntN(len(c.now))
	s := &c.task.Searchers[who]
	if len(c.now[who].blocks) >= s.Most {
		return nil
	}
	c.take(who)
	at := c.spot()
	w := s.Width[c.r.classAt(c.cell(at))]
	if w <= 0 {
		return nil
	}
	gap := w * (0.7 + 0.6*c.rng.Float64())
	length := math.Max(1.1*c.task.leastLane(s.Foot, w), w*(1.5+5*c.rng.Float64()))
	n := c.least + c.rng.IntN(4)
	x := box{at.u - length/2, at.u + length/2, at.v - gap*float64(n)/2, at.v + gap*float64(n)/2}
	if l := c.r.worlds[worldOf(s)]; l.offU != nil {
		x = c.expand(l, at, x)
		n = max(c.least, int((x.v1-x.v0)/gap))
	}
	b := Block{Lo: x.u0, Hi: x.u1, N: n, Gap: gap, Back: c.rng.IntN(2) == 0, V: (x.v0+x.v1)/2 - gap*float64(n-1)/2}
	if c.rng.IntN(2) == 0 {
		b.V, b.Gap = b.V+gap*float64(n-1), -gap
	}
	c.draft[who] = slices.Insert(c.draft[who], c.rng.IntN(len(c.draft[who])+1), b)
	return []int{who}
}

// spot draws a place by the chance that the present layout leaves.
func (c *chain) spot() point {
	x := c.rng.Float64() * c.sums[len(c.sums)-1]
	n, _ := slices.BinarySearch(c.sums, x)
	n = min(n, len(c.sums)-1)
	return point{(float64(n/c.r.nv) + 0.5) * c.r.h, (float64(n%c.r.nv) + 0.5) * c.r.h}
}

func (c *chain) cell(p point) int {
	return max(0, min(c.r.nu-1, int(p.u/c.r.h)))*c.r.nv + max(0, min(c.r.nv-1, int(p.v/c.r.h)))
}
