package blocks

import "math"

// Block is a piece of a searcher's work, in metres along (u) and across (v) the
// layout's axis: N parallel lanes of equal spacing, walked to and fro, or, when
// Spiral, an expanding rectangle of N courses, each a spacing outside the fourth
// before it.
type Block struct {
	Lo, Hi float64 // where lanes end, along the axis; of a spiral: its first course
	V      float64 // the first lane or course, across the axis
	Gap    float64 // from a lane to the next; negative: toward smaller v
	N      int     // lanes, or courses of a spiral
	Back   bool    // the first lane goes from Hi to Lo
	Spiral bool
}

// point is a place in axis coordinates.
type point struct{ u, v float64 }

func (p point) sub(q point) point { return point{p.u - q.u, p.v - q.v} }
func (p point) norm() float64     { return math.Hypot(p.u, p.v) }

// corners appends the turning points of the block to dst, its beginning first.
func (b *Block) corners(dst []point) []point {
	from, to := b.Lo, b.Hi
	if b.Back {
		from, to = to, from
	}
	if b.Spiral {
		return b.spiral(dst, point{from, b.V}, math.Copysign(1, to-from))
	}
	for k := range b.N {
		v := b.V + float64(k)*b.Gap
		if k%2 == 0 {
			dst = append(dst, point{from, v}, point{to, v})
		} else {
			dst = append(dst, point{to, v}, point{from, v})
		}
	}
	return dst
}

func (b *Block) spiral(dst []point, at point, along float64) []point {
	g, across := math.Abs(b.Gap), math.Copysign(1, b.Gap)
	dst = append(dst, at)
	for k := range b.N {
		if k%2 == 0 {
			at.u += along * (b.Hi - b.Lo + float64(k/2)*g)
			along = -along
		} else {
			at.v += across * float64((k+1)/2) * g
			across = -across
		}
		dst = append(dst, at)
	}
	return dst
}

// After returns what is left of the block, which has lanes, when n of them are
// walked.
func (b Block) After(n int) Block {
	b.V += float64(n) * b.Gap
	b.N -= n
	b.Back = b.Back != (n%2 == 1)
	return b
}

// begin and end are where the block is entered and left.
func (b *Block) begin() point {
	if b.Back {
		return point{b.Hi, b.V}
	}
	return point{b.Lo, b.V}
}

func (b *Block) end() point {
	if b.Spiral {
		var room [64]point
		cs := b.corners(room[:0])
		return cs[len(cs)-1]
	}
	u := b.Hi
	if b.Back != (b.N%2 == 0) {
		u = b.Lo
	}
	return point{u, b.V + float64(b.N-1)*b.Gap}
}

// box is the least rectangle that holds the lanes.
type box struct{ u0, u1, v0, v1 float64 }

func (b *Block) box() box {
	if b.Spiral {
		var room [64]point
		out := box{math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)}
		for _, p := range b.corners(room[:0]) {
			out.u0, out.u1 = min(out.u0, p.u), max(out.u1, p.u)
			out.v0, out.v1 = min(out.v0, p.v), max(out.v1, p.v)
		}
		return out
	}
	v := b.V + float64(b.N-1)*b.Gap
	return box{b.Lo, b.Hi, min(b.V, v), max(b.V, v)}
}

func (b box) grow(d float64) box { return box{b.u0 - d, b.u1 + d, b.v0 - d, b.v1 + d} }

// area is 0 for boxes turned inside out.
func (b box) area() float64 { return max(0, b.u1-b.u0) * max(0, b.v1-b.v0) }

func (b box) meet(c box) box {
	return box{max(b.u0, c.u0), min(b.u1, c.u1), max(b.v0, c.v0), min(b.v1, c.v1)}
}

// cuts reports whether the straight way from p to q passes through the box.
func (b box) cuts(p, q point) bool {
	t0, t1 := 0.0, 1.0
	for _, s := range [2][4]float64{{p.u, q.u - p.u, b.u0, b.u1}, {p.v, q.v - p.v, b.v0, b.v1}} {
		if s[1] == 0 {
			if s[0] <= s[2] || s[0] >= s[3] {
				return false
			}
			continue
		}
		x, y := (s[2]-s[0])/s[1], (s[3]-s[0])/s[1]
		t0, t1 = max(t0, min(x, y)), min(t1, max(x, y))
	}
	return t0 < t1
}

// crossings counts the pairs of courses of two blocks that properly cross.
func crossings(a, b *Block) int {
	if x := a.box().meet(b.box()); x.u0 > x.u1 || x.v0 > x.v1 {
		return 0
	}
	var ra, rb [64]point
	pa, pb := a.corners(ra[:0]), b.corners(rb[:0])
	n := 0
	for i := 1; i < len(pa); i++ {
		for j := 1; j < len(pb); j++ {
			if cross(pa[i-1], pa[i], pb[j-1], pb[j]) {
				n++
			}
		}
	}
	return n
}

// crossedBy counts the courses of the block that the straight way from p to q
// properly crosses.
func (b *Block) crossedBy(p, q point) (n int) {
	var room [64]point
	cs := b.corners(room[:0])
	for i := 1; i < len(cs); i++ {
		if cross(cs[i-1], cs[i], p, q) {
			n++
		}
	}
	return n
}

// clear is how far (m) beyond each other's ends two ways must reach to cross.
const clear = 0.5

// cross reports whether p-q and r-s cross properly.
func cross(p, q, r, s point) bool {
	side := func(a, b, c point) float64 { return (b.u-a.u)*(c.v-a.v) - (b.v-a.v)*(c.u-a.u) }
	d1, d2, d3, d4 := side(p, q, r), side(p, q, s), side(r, s, p), side(r, s, q)
	if d1*d2 >= 0 || d3*d4 >= 0 {
		return false
	}
	return min(math.Abs(d1), math.Abs(d2)) > clear*q.sub(p).norm() &&
		min(math.Abs(d3), math.Abs(d4)) > clear*s.sub(r).norm()
}
