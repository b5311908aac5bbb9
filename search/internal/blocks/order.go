package blocks

import "math"

// order is what a layout costs beside time, searcher by searcher and pair by
// pair, so that a move makes only what it changes be reckoned anew.
type order struct {
	own     []float64 // what makes a searcher's list hard to follow
	ground  []float64 // m2 of a walker's blocks, half a spacing beyond the lanes
	between []trouble // of walkers i and j < i: number i*n+j
}

// trouble is what two walkers' schedules get in each other's way by: what that
// costs, what of it is amiss (the share of the ground on which one's lanes lie on
// the other's, and a little for each bent way over it), and the ground (m2) that
// both look at.
type trouble struct{ price, amiss, common float64 }

func newOrder(n int) *order {
	return &order{make([]float64, n), make([]float64, n), make([]trouble, n*n)}
}

// take makes o what from is, but for the searchers named, whose schedules are
// looked at.
func (o *order) take(c *chain, from *order, ss []*schedule, changed []int) {
	copy(o.own, from.own)
	copy(o.ground, from.ground)
	copy(o.between, from.between)
	for _, i := range changed {
		o.own[i] = c.follow(ss[i])
		if !c.task.Searchers[i].Foot {
			continue
		}
		o.own[i] += c.bends(ss[i])
		o.ground[i] = ss[i].ground()
		for j := range ss {
			if j != i && c.task.Searchers[j].Foot {
				a, b := max(i, j), min(i, j)
				o.between[a*len(ss)+b] = c.between(ss[a], ss[b])
			}
		}
	}
}

// price is what makes the layout hard to follow, in the mean of all searchers,
// and what walkers get in each other's way by. legal is false when one's lanes
// lie on another's ground.
func (c *chain) price(o *order) (sum float64, legal bool) {
	var amiss, common, ground float64
	for i := range o.own {
		sum += o.own[i]
		ground += o.ground[i]
	}
	for _, t := range o.between {
		sum, amiss, common = sum+t.price, amiss+t.amiss, common+t.common
	}
	sum = sum/float64(len(o.own)) + tuned.PriceShare*max(0, common/max(1, ground)-tuned.Shared)
	return sum + c.strict*amiss, amiss == 0
}

func (s *schedule) ground() (m2 float64) {
	for k := range s.boxes {
		m2 += s.boxes[k].grow(math.Abs(s.blocks[k].Gap) / 2).area()
	}
	return m2
}

// follow is what a searcher's blocks cost.
func (c *chain) follow(s *schedule) (sum float64) {
	for k := range s.blocks {
		b := &s.blocks[k]
		if b.Spiral {
			sum += tuned.PriceSpiral
		}
		sum += tuned.PriceBlock + float64(b.N)*(tuned.PriceLane+tuned.PriceShort*max(0, 1-(b.Hi-b.Lo)/tuned.LaneLong))
	}
	own := float64(s.tangled())
	return sum + tuned.PriceOwn*own + tuned.PriceTangle*max(0, own-tuned.Own)
}

// tangled counts the crossings of a searcher's own courses, but for ways that
// everybody takes for one.
func (s *schedule) tangled() (n int) {
	for k := range s.blocks {
		for j := range k {
			n += crossings(&s.blocks[j], &s.blocks[k])
		}
	}
	for i := range s.ways {
		w := &s.ways[i]
		if !w.stray {
			continue
		}
		for k := range s.boxes {
			if s.boxes[k].cuts(w.a, w.b) {
				n += s.blocks[k].crossedBy(w.a, w.b)
			}
		}
	}
	return n
}

// bends is what the ways of a walker that are not straight cost, and what a list
// costs that is longer than one can keep in mind.
func (c *chain) bends(s *schedule) (sum float64) {
	if len(s.passes) == 0 {
		return 0
	}
	var bent, stray, along float64
	for i := range s.ways {
		if s.ways[i].bent {
			bent++
		}
		if s.ways[i].stray {
			stray++
		}
		if s.ways[i].along {
			along++
		}
	}
	hours := (s.passes[len(s.passes)-1].t1 - s.passes[0].t0) / 3600
	rows := float64(len(s.blocks) + len(s.ways))
	return tuned.PriceBend*bent + tuned.PriceRow*max(0, rows-tuned.RowsHour*hours) +
		tuned.PriceTangle*(max(0, stray-tuned.Strays)+along)
}

func (c *chain) between(a, b *schedule) (t trouble) {
	for i := range a.blocks {
		ga := math.Abs(a.blocks[i].Gap)
		for j := range b.blocks {
			gb := math.Abs(b.blocks[j].Gap)
			t.amiss += a.boxes[i].grow(tuned.Apart*ga).meet(b.boxes[j].grow(tuned.Apart*gb)).area() / c.ground
			t.common += a.boxes[i].grow(ga / 2).meet(b.boxes[j].grow(gb / 2)).area()
		}
	}
	n, stray := tangle(a.ways, b.boxes)
	m, more := tangle(b.ways, a.boxes)
	for i := range a.ways {
		w := &a.ways[i]
		for j := range b.ways {
			if v := &b.ways[j]; cross(w.a, w.b, v.a, v.b) {
				m++
				if w.stray && v.stray {
					more++
				}
			}
		}
	}
	t.amiss += tuned.BentShare * float64(stray+more)
	t.price = tuned.PriceOther * float64(n+m)
	return t
}

// tangle counts the ways that lead through boxes, and of those the ones that
// nobody takes for a way.
func tangle(ways []wayLeg, boxes []box) (n, stray int) {
	for i := range ways {
		w := &ways[i]
		lo, hi := point{min(w.a.u, w.b.u), min(w.a.v, w.b.v)}, point{max(w.a.u, w.b.u), max(w.a.v, w.b.v)}
		for k := range boxes {
			x := &boxes[k]
			if x.u0 >= hi.u || x.u1 <= lo.u || x.v0 >= hi.v || x.v1 <= lo.v || !x.cuts(w.a, w.b) {
				continue
			}
			n++
			if w.stray {
				stray++
			}
		}
	}
	return n, stray
}
