package blocks

import "math"

// found is what one pass finds of the chance in its strip: 1 - 1/e.
const found = 0.63212055882855767840

// ledger takes passes off a copy of the raster's chance and puts it back.
type ledger struct {
	r       *raster
	left    []float64
	touched [][4]int // columns and rows: i0, i1, j0, j1
}

func newLedger(r *raster) *ledger {
	return &ledger{r: r, left: append([]float64(nil), r.p...)}
}

func (l *ledger) restore() {
	nv := l.r.nv
	for _, t := range l.touched {
		for i := t[0]; i <= t[1]; i++ {
			copy(l.left[i*nv+t[2]:i*nv+t[3]+1], l.r.p[i*nv+t[2]:i*nv+t[3]+1])
		}
	}
	l.touched = l.touched[:0]
}

// sweep takes out what the pass finds and returns it times the seconds that are
// left till the end.
func (l *ledger) sweep(p *pass, s *Searcher, end float64) float64 {
	switch {
	case p.a.v == p.b.v:
		return l.along(p, s, end)
	case p.a.u == p.b.u:
		return l.across(p, s, end)
	}
	return l.slant(p, s, end)
}

// slant is a pass of any direction: column by column, or row by row when it is
// steep. Its ends are cut along the raster, which is near enough for a way.
func (l *ledger) slant(p *pass, s *Searcher, end float64) float64 {
	r := l.r
	d := p.b.sub(p.a)
	steep := math.Abs(d.v) > math.Abs(d.u)
	a, n, m, stepN, stepM := p.a, r.nu, r.nv, r.nv, 1
	if steep {
		a, d, n, m, stepN, stepM = point{a.v, a.u}, point{d.v, d.u}, r.nv, r.nu, 1, r.nv
	}
	way, ok := over(min(a.u, a.u+d.u)/r.h, max(a.u, a.u+d.u)/r.h, n)
	if !ok {
		return 0
	}
	wide := d.norm() / math.Abs(d.u) / 2 / r.h
	var sum float64
	low, high := m, -1
	for i := way.i0; i <= way.i1; i++ {
		f := max(0, min(1, ((float64(i)+0.5)*r.h-a.u)/d.u))
		mid := (a.v + f*d.v) / r.h
		row := int(mid)
		if mid < 0 || row >= m {
			continue
		}
		half := s.Width[r.classAt(i*stepN+row*stepM)] * wide
		beam, ok := over(mid-half, mid+half, m)
		if !ok {
			continue
		}
		t := (end - p.t0 - f*(p.t1-p.t0)) * found * way.share(i)
		for j := beam.i0; j <= beam.i1; j++ {
			c := i*stepN + j*stepM
			got := l.left[c] * beam.share(j)
			sum += got * t
			l.left[c] -= got * found * way.share(i)
		}
		low, high = min(low, beam.i0), max(high, beam.i1)
	}
	if high >= low {
		if steep {
			l.touched = append(l.touched, [4]int{low, high, way.i0, way.i1})
		} else {
			l.touched = append(l.touched, [4]int{way.i0, way.i1, low, high})
		}
	}
	return sum
}

// strip is a range of cells with the share of the first and last.
type strip struct {
	i0, i1 int
	s0, s1 float64
}

// over returns the cells of n between lo and hi (in cells).
func over(lo, hi float64, n int) (s strip, ok bool) {
	lo, hi = max(lo, 0), min(hi, float64(n))
	if !(hi > lo) {
		return s, false
	}
	s.i0, s.i1 = int(lo), min(n-1, int(hi))
	s.s0, s.s1 = float64(s.i0+1)-lo, hi-float64(s.i1)
	if s.i0 == s.i1 {
		s.s0, s.s1 = hi-lo, hi-lo
	}
	return s, true
}

// share is that of cell i.
func (s *strip) share(i int) float64 {
	switch i {
	case s.i0:
		return s.s0
	case s.i1:
		return s.s1
	}
	return 1
}

func (l *ledger) along(p *pass, s *Searcher, end float64) float64 {
	r := l.r
	way, ok := over(min(p.a.u, p.b.u)/r.h, max(p.a.u, p.b.u)/r.h, r.nu)
	if !ok {
		return 0
	}
	mid, row := p.a.v/r.h, int(p.a.v/r.h)
	slope := (p.t1 - p.t0) / max(1e-9, math.Abs(p.b.u-p.a.u))
	var sum float64
	class, half := -1, 0.0
	var beam strip
	low, high := r.nv, -1
	for i := way.i0; i <= way.i1; i++ {
		if c := r.classAt(i*r.nv + row); c != class {
			class = c
			half = s.Width[c] / 2 / r.h
			if beam, ok = over(mid-half, mid+half, r.nv); !ok {
				beam.i0, beam.i1 = 0, -1
			}
			low, high = min(low, beam.i0), max(high, beam.i1)
		}
		t := end - p.t0 - slope*math.Abs((float64(i)+0.5)*r.h-p.a.u)
		sum += l.take(i*r.nv, &beam, found*way.share(i)) * t
	}
	if high >= low {
		l.touched = append(l.touched, [4]int{way.i0, way.i1, low, high})
	}
	return sum
}

// take takes the share of the cells of one column and returns what it got.
func (l *ledger) take(base int, beam *strip, share float64) float64 {
	var sum float64
	for j := beam.i0; j <= beam.i1; j++ {
		got := l.left[base+j] * share
		if j == beam.i0 {
			got *= beam.s0
		} else if j == beam.i1 {
			got *= beam.s1
		}
		sum += got
		l.left[base+j] -= got
	}
	return sum
}

func (l *ledger) across(p *pass, s *Searcher, end float64) float64 {
	r := l.r
	way, ok := over(min(p.a.v, p.b.v)/r.h, max(p.a.v, p.b.v)/r.h, r.nv)
	if !ok {
		return 0
	}
	mid, col := p.a.u/r.h, int(p.a.u/r.h)
	slope := (p.t1 - p.t0) / max(1e-9, math.Abs(p.b.v-p.a.v))
	var sum float64
	low, high := r.nu, -1
	for j := way.i0; j <= way.i1; j++ {
		half := s.Width[r.classAt(col*r.nv+j)] / 2 / r.h
		beam, ok := over(mid-half, mid+half, r.nu)
		if !ok {
			continue
		}
		t := end - p.t0 - slope*math.Abs((float64(j)+0.5)*r.h-p.a.v)
		share := found * way.share(j)
		for i := beam.i0; i <= beam.i1; i++ {
			got := l.left[i*r.nv+j] * share * beam.share(i)
			sum += got * t
			l.left[i*r.nv+j] -= got
		}
		low, high = min(low, beam.i0), max(high, beam.i1)
	}
	if high >= low {
		l.touched = append(l.touched, [4]int{low, high, way.i0, way.i1})
	}
	return sum
}

// worth sends all schedules over the ledger in the order of time and returns the
// integral over time of the chance found, as a share of the most there could be.
func (c *chain) worth(ss []*schedule) float64 {
	next := c.next
	for i := range next {
		next[i] = 0
	}
	var sum float64
	for {
		who := -1
		for i, s := range ss {
			if next[i] < len(s.passes) && (who < 0 || s.passes[next[i]].t0 < ss[who].passes[next[who]].t0) {
				who = i
			}
		}
		if who < 0 {
			break
		}
		p := ss[who].passes[next[who]]
		next[who]++
		sum += c.ledger.sweep(&p, &c.task.Searchers[who], c.end)
	}
	return sum / (c.end * c.r.mass)
}

// prices returns what a layout costs beside time: everything that makes it
// harder to follow.
func (c *chain) prices(ss []*schedule) (sum float64, legal bool) {
	legal = true
	for i, s := range ss {
		foot := c.task.Searchers[i].Foot
		for k := range s.blocks {
			b := &s.blocks[k]
			if b.Spiral {
				sum += tuned.PriceSpiral
			}
			sum += tuned.PriceBlock + float64(b.N)*(tuned.PriceLane+tuned.PriceShort*max(0, 1-(b.Hi-b.Lo)/tuned.LaneLong))
			for j := range k {
				sum += tuned.PriceOwn * float64(crossings(&s.blocks[j], b))
			}
		}
		if !foot {
			continue
		}
		sum += c.bends(s)
		for j := range i {
			if c.task.Searchers[j].Foot {
				p, ok := c.between(ss[j], s)
				sum, legal = sum+p, legal && ok
			}
		}
	}
	return sum, legal
}

// bends is what the ways of a searcher that are not straight cost, more where
// they lead through their own blocks, and what a list costs that is longer than
// one can keep in mind.
func (c *chain) bends(s *schedule) (sum float64) {
	bent := 0
	for _, w := range s.ways {
		if w.bent {
			bent++
			n, _ := tangle([]wayLeg{w}, s.boxes)
			sum += tuned.PriceBend + tuned.PriceThrough*float64(n)
		}
	}
	if len(s.passes) == 0 {
		return 0
	}
	hours := (s.passes[len(s.passes)-1].t1 - s.passes[0].t0) / 3600
	rows := float64(len(s.blocks) + len(s.ways))
	return sum + tuned.PriceRow*max(0, rows-tuned.RowsHour*hours) + tuned.PriceRow*max(0, float64(bent)-tuned.Bent)
}

// between is what two walkers' schedules cost by getting in each other's way.
// legal is false when one's lanes lie on the other's ground.
func (c *chain) between(a, b *schedule) (price float64, legal bool) {
	legal = true
	var common float64
	for i := range a.blocks {
		ga := math.Abs(a.blocks[i].Gap)
		for j := range b.blocks {
			gb := math.Abs(b.blocks[j].Gap)
			if x := a.boxes[i].grow(tuned.Apart * ga).meet(b.boxes[j].grow(tuned.Apart * gb)).area(); x > 0 {
				legal = false
				price += c.strict * x / c.ground
			}
			common += a.boxes[i].grow(ga / 2).meet(b.boxes[j].grow(gb / 2)).area()
		}
	}
	n, bent := tangle(a.ways, b.boxes)
	m, more := tangle(b.ways, a.boxes)
	for _, w := range a.ways {
		for _, v := range b.ways {
			if cross(w.a, w.b, v.a, v.b) {
				m++
				if w.bent || v.bent {
					m += 8 // as plain as lanes that cross
				}
			}
		}
	}
	if bent+more > 0 && c.task.lax {
		price += 4 * tuned.PriceOther * float64(bent+more)
	} else if bent+more > 0 {
		legal = false
		price += c.strict * tuned.BentShare * float64(bent+more)
	}
	return price + tuned.PriceOther*float64(n+m) + tuned.PriceShare*common/c.ground, legal
}

// tangle counts the ways that lead through boxes, and of those the ones with
// bends: nobody takes them for a way.
func tangle(ways []wayLeg, boxes []box) (n, bent int) {
	for _, w := range ways {
		for _, x := range boxes {
			if x.cuts(w.a, w.b) {
				n++
				if w.bent {
					bent++
				}
			}
		}
	}
	return n, bent
}
