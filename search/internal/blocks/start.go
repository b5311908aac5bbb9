package blocks

import (
	"math"
	"sort"
)

// begin puts the chain on the best of a few layouts made by rule: the cloud is
// cut into a part for each searcher, in one direction, in the other or in both
// by turns, and everybody has a block in the middle of their part first and one
// over more of it next.
func (c *chain) begin() {
	var best [][]Block
	value := math.Inf(-1)
	for _, cut := range []cutting{{true, false}, {false, false}, {true, true}, {false, true}} {
		for _, reach := range [][2]float64{{0.9, 1.8}, {1.3, 2.1}} {
			bs := c.parts(cut, reach)
			if c.start(bs); c.value > value {
				value, best = c.value, bs
			}
		}
		if len(c.now) == 1 {
			break
		}
	}
	c.start(best)
}

// cutting says in which direction the cloud is cut first, and whether the next
// cut goes the other way.
type cutting struct{ alongU, alternate bool }

// share is a searcher's share of the work.
type share struct {
	who    int
	effort float64 // m2 that can be swept
	at     point   // where they set out
}

// parts cuts the cloud and gives everybody two blocks, which reach so many
// standard deviations from the middle.
func (c *chain) parts(cut cutting, reach [2]float64) [][]Block {
	var ss []share
	for i := range c.task.Searchers {
		s := &c.task.Searchers[i]
		ss = append(ss, share{i, math.Max(1, s.End-s.Begin) * s.Speed[0] * s.Width[0], c.r.in(s.At)})
	}
	out := make([][]Block, len(ss))
	mean, spread := c.moments()
	c.divide(ss, box{0, 1, 0, 1}, cut, func(who int, q box) {
		for _, k := range reach {
			z := box{quantile(q.u0, k), quantile(q.u1, k), quantile(q.v0, k), quantile(q.v1, k)}
			x := box{mean.u + z.u0*spread.u, mean.u + z.u1*spread.u, mean.v + z.v0*spread.v, mean.v + z.v1*spread.v}
			if n := len(out[who]); n > 0 && c.r.worlds[worldOf(&c.task.Searchers[who])].offU != nil {
				x = c.open(who, x, out[who][n-1].box())
			} else {
				x = c.open(who, x, box{})
			}
			out[who] = append(out[who], c.fill(who, x))
		}
	})
	return out
}

// divide gives every searcher a part of the unit square, in proportion to their
// effort, those who set out nearer to its low side the low side.
func (c *chain) divide(ss []share, q box, cut cutting, give func(int, box)) {
	if len(ss) == 1 {
		give(ss[0].who, q)
		return
	}
	sort.SliceStable(ss, func(a, b int) bool {
		if cut.alongU {
			return ss[a].at.u < ss[b].at.u
		}
		return ss[a].at.v < ss[b].at.v
	})
	var sum, low float64
	for k, s := range ss {
		if sum += s.effort; k < len(ss)/2 {
			low = sum
		}
	}
	x, y := q, q
	if cut.alongU {
		x.u1 = q.u0 + (q.u1-q.u0)*low/sum
		y.u0 = x.u1
	} else {
		x.v1 = q.v0 + (q.v1-q.v0)*low/sum
		y.v0 = x.v1
	}
	if cut.alternate {
		cut.alongU = !cut.alongU
	}
	c.divide(ss[:len(ss)/2], x, cut, give)
	c.divide(ss[len(ss)/2:], y, cut, give)
}

// fill is a block whose strips fill the box as well as lanes a sweep width apart
// do, or nearer when there would be too few.
func (c *chain) fill(who int, x box) Block {
	s := &c.task.Searchers[who]
	width := s.Width[c.r.classAt(c.cell(point{(x.u0 + x.u1) / 2, (x.v0 + x.v1) / 2}))]
	n := max(c.least, int((x.v1-x.v0)/width+0.5))
	gap := math.Min(width, math.Max(tuned.GapLeast*width*1.01, (x.v1-x.v0)/float64(n)))
	rim := 0.35 * gap
	least := 1.02 * c.task.leastLane(s.Foot, width)
	mid, half := (x.u0+x.u1)/2, math.Max(least, x.u1-x.u0-2*rim)/2
	return Block{Lo: mid - half, Hi: mid + half, N: n, Gap: gap, V: (x.v0+x.v1)/2 - gap*float64(n-1)/2}
}

// open returns a rectangle of free ground within x, round the likeliest free cell
// of it that does not lie in taken; x itself when all of it is free.
func (c *chain) open(who int, x, taken box) box {
	r, l := c.r, c.r.worlds[worldOf(&c.task.Searchers[who])]
	if l.offU == nil {
		return x
	}
	best, at := -1.0, -1
	for n, p := range r.p {
		i, j := n/r.nv, n%r.nv
		u, v := (float64(i)+0.5)*r.h, (float64(j)+0.5)*r.h
		if u < x.u0 || u > x.u1 || v < x.v0 || v > x.v1 || u >= taken.u0 && u <= taken.u1 && v >= taken.v0 && v <= taken.v1 {
			continue
		}
		if p > best && l.offU[j*(r.nu+1)+i+1] == l.offU[j*(r.nu+1)+i] {
			best, at = p, n
		}
	}
	if at < 0 {
		return x
	}
	return c.expand(l, point{(float64(at/r.nv) + 0.5) * r.h, (float64(at%r.nv) + 0.5) * r.h}, x)
}

// expand lets a rectangle grow from a free cell to every side, turn by turn, as
// long as all of it is free and within the limits.
func (c *chain) expand(l *layer, at point, limit box) box {
	h := c.r.h
	x := box{at.u - h/2, at.u + h/2, at.v - h/2, at.v + h/2}
	free := func(y box) bool {
		i0, i1, j0, j1 := int(y.u0/h+0.5), int(y.u1/h+0.5), int(y.v0/h+0.5), int(y.v1/h+0.5)
		if i0 < 0 || j0 < 0 || i1 > c.r.nu || j1 > c.r.nv ||
			y.u0 < limit.u0-h || y.u1 > limit.u1+h || y.v0 < limit.v0-h || y.v1 > limit.v1+h {
			return false
		}
		for j := j0; j < j1; j++ {
			if l.offU[j*(c.r.nu+1)+i1] != l.offU[j*(c.r.nu+1)+i0] {
				return false
			}
		}
		return true
	}
	for grown := true; grown; {
		grown = false
		for _, d := range [4]box{{u0: -h}, {u1: h}, {v0: -h}, {v1: h}} {
			if y := (box{x.u0 + d.u0, x.u1 + d.u1, x.v0 + d.v0, x.v1 + d.v1}); free(y) {
				x, grown = y, true
			}
		}
	}
	return x
}

// quantile of the standard normal, kept within k standard deviations.
func quantile(p, k float64) float64 {
	return math.Max(-k, math.Min(k, math.Sqrt2*math.Erfinv(2*math.Max(1e-9, math.Min(1-1e-9, p))-1)))
}
