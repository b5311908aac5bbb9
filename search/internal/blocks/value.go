package blocks

import "math"

// found is what one pass finds of the chance in its strip: 1 - 1/e.
const found = 0.63212055882855767840

// ledger takes passes off a copy of the raster's chance and puts it back.
type ledger struct {
	r      *raster
	left   []float64
	lo, hi int // columns that were touched, hi left out
	swept  int // cells, since the last time it was put back
}

func newLedger(r *raster) *ledger {
	return &ledger{r: r, left: append([]float64(nil), r.p...), lo: r.nu}
}

func (l *ledger) restore() {
	if a, b := l.lo*l.r.nv, l.hi*l.r.nv; a < b {
		copy(l.left[a:b], l.r.p[a:b])
	}
	l.lo, l.hi, l.swept = l.r.nu, 0, 0
}

// touch notes that columns i0 to i1 are no longer what they were.
func (l *ledger) touch(i0, i1 int) { l.lo, l.hi = min(l.lo, i0), max(l.hi, i1+1) }

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
		sum += l.row(i*stepN, stepM, &beam, found*way.share(i)) * (end - p.t0 - f*(p.t1-p.t0))
		low, high = min(low, beam.i0), max(high, beam.i1)
	}
	if high >= low {
		if steep {
			l.touch(low, high)
		} else {
			l.touch(way.i0, way.i1)
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
	if lo < 0 {
		lo = 0
	}
	if hi > float64(n) {
		hi = float64(n)
	}
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
	l.touch(way.i0, way.i1)
	for i := way.i0; i <= way.i1; i++ {
		if c := r.classAt(i*r.nv + row); c != class {
			class = c
			half = s.Width[c] / 2 / r.h
			if beam, ok = over(mid-half, mid+half, r.nv); !ok {
				beam = strip{i1: -1}
			}
		}
		t := end - p.t0 - slope*math.Abs((float64(i)+0.5)*r.h-p.a.u)
		sum += l.take(i*r.nv, &beam, found*way.share(i)) * t
	}
	return sum
}

// take takes the share of the cells of one column and returns what it got.
func (l *ledger) take(base int, beam *strip, share float64) (sum float64) {
	left := l.left[base+beam.i0 : base+beam.i1+1]
	l.swept += len(left)
	for j, v := range left {
		f := share
		if j == 0 {
			f *= beam.s0
		} else if j == len(left)-1 {
			f *= beam.s1
		}
		got := v * f
		sum += got
		left[j] = v - got
	}
	return sum
}

// row is the same for cells that lie step apart.
func (l *ledger) row(base, step int, beam *strip, share float64) (sum float64) {
	if step == 1 {
		return l.take(base, beam, share)
	}
	l.swept += beam.i1 + 1 - beam.i0
	for j, c := beam.i0, base+beam.i0*step; j <= beam.i1; j, c = j+1, c+step {
		f := share
		if j == beam.i0 {
			f *= beam.s0
		} else if j == beam.i1 {
			f *= beam.s1
		}
		got := l.left[c] * f
		sum += got
		l.left[c] -= got
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
		sum += l.row(j, r.nv, &beam, found*way.share(j)) * t
		low, high = min(low, beam.i0), max(high, beam.i1)
	}
	if high >= low {
		l.touch(low, high)
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
