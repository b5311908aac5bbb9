package search

import (
	"math"
	"sort"

	"windfall/geo"
	"windfall/geo/grid"
	"windfall/search/detect"
)

// field is the chance on a raster at least as fine as the map's, fine enough
// for the narrowest sweep width; passes take chance out of it.
type field struct {
	west, south, h float64 // m
	nx, ny, k      int     // cells; k of them along the side of a map cell
	law            detect.Law
	left           []float64
	hidden         []float64 // what nobody can see, taken out of left by the first pass; nil: nothing
}

// maxField bounds the raster's size.
const maxField = 4 << 20

// newField spreads the map over a raster whose cells are at most fine metres
// wide, as far as memory allows.
func newField(m *grid.Map, fine float64, law detect.Law) *field {
	k := max(1, int(math.Ceil(m.Cell/fine-1e-9)))
	for k > 1 && m.NX*m.NY*k*k > maxField {
		k--
	}
	f := &field{west: m.West, south: m.South, h: m.Cell / float64(k), nx: m.NX * k, ny: m.NY * k, k: k, law: law}
	f.left = make([]float64, f.nx*f.ny)
	q := 1 / float64(k*k)
	for j := 0; j < f.ny; j++ {
		row := m.P[(j/k)*m.NX : (j/k+1)*m.NX]
		for i := 0; i < f.nx; i++ {
			f.left[j*f.nx+i] = row[i/k] * q
		}
	}
	return f
}

// pass takes out of the field what one straight pass from a to b of sweep width
// w finds where a share of targets cannot be seen. It returns the chance that
// was in its strip, what it found, and what it found times the share of the way
// at which each part lay abeam.
func (f *field) pass(a, b geo.XY, w, unseen float64) (in, found, moment float64) {
	n := b.Sub(a).Norm()
	if unseen > 0 && f.hidden == nil {
		f.hidden = make([]float64, len(f.left))
	}
	f.strip(a, b, w, func(c int, share, hit, s float64) {
		if unseen > 0 && f.hidden[c] == 0 {
			f.hidden[c] = unseen * f.left[c]
			f.left[c] -= f.hidden[c]
		}
		p := f.left[c]
		got := p * hit
		in += f.all(c) * share
		found += got
		moment += got * s
		f.left[c] = p - got
	})
	return in, found, moment / math.Max(n, 1e-12)
}

// all is the chance in a cell, seen or not.
func (f *field) all(c int) float64 {
	if f.hidden == nil {
		return f.left[c]
	}
	return f.left[c] + f.hidden[c]
}

// strip calls fn for every cell with chance in the strip of a straight pass: the
// cell, the share of it in the strip, the chance that what lies there is
// detected, and how far along (m) it is abeam.
func (f *field) strip(a, b geo.XY, w float64, fn func(c int, share, hit, s float64)) {
	d := b.Sub(a)
	n := d.Norm()
	if n == 0 || w <= 0 {
		return
	}
	ux, uy := d.X/n, d.Y/n
	he := f.h * (math.Abs(ux) + math.Abs(uy)) // a cell's width square to the way
	r := f.law.Range(w)
	reach := r + he/2
	yTop := math.Max(a.Y, b.Y) + reach*math.Abs(ux)
	yBot := math.Min(a.Y, b.Y) - reach*math.Abs(ux)
	j0 := max(0, int(math.Ceil((yBot-f.south)/f.h-0.5)))
	j1 := min(f.ny-1, int(math.Floor((yTop-f.south)/f.h-0.5)))
	gain := -math.Expm1(-1)
	for j := j0; j <= j1; j++ {
		y := f.south + (float64(j)+0.5)*f.h - a.Y
		lo, hi := f.span(y, beam{a.X, ux, uy, n, reach})
		for i := lo; i <= hi; i++ {
			c := j*f.nx + i
			if f.left[c] == 0 {
				continue
			}
			x := f.west + (float64(i)+0.5)*f.h - a.X
			s := x*ux + y*uy
			if s < 0 || s >= n {
				continue
			}
			across := math.Abs(x*uy - y*ux)
			if f.law == detect.InverseCube {
				fn(c, 1, 1-f.law.PassMiss(w, across), s)
			} else if share := math.Min(1, (r-across)/he+0.5); share > 0 {
				fn(c, share, gain*share, s)
			}
		}
	}
}

// within returns the chance that lies in the strips of the steps of one block.
func (f *field) within(a *agent, steps []step, block int) float64 {
	most := map[int]float64{}
	for _, s := range steps {
		if s.block == block {
			f.strip(s.a, s.b, a.width[s.class], func(c int, share, _, _ float64) {
				most[c] = math.Max(most[c], share)
			})
		}
	}
	cells := make([]int, 0, len(most))
	for c := range most {
		cells = append(cells, c)
	}
	sort.Ints(cells)
	var sum float64
	for _, c := range cells {
		sum += f.all(c) * most[c]
	}
	return sum
}

// beam is a strip n m long from x metres east, along the unit vector (ux, uy), to
// reach m beside it.
type beam struct{ x, ux, uy, n, reach float64 }

// span returns the columns of the row at height y above the strip's beginning
// that the strip may touch.
func (f *field) span(y float64, b beam) (lo, hi int) {
	ux, uy, n, reach := b.ux, b.uy, b.n, b.reach
	o := b.x - f.west
	x0, x1 := -o-f.h, float64(f.nx+1)*f.h-o
	clip := func(p, q float64) {
		if p > q {
			p, q = q, p
		}
		if p > x0 {
			x0 = p
		}
		if q < x1 {
			x1 = q
		}
	}
	if uy != 0 { // |x uy - y ux| <= reach
		clip((y*ux-reach)/uy, (y*ux+reach)/uy)
	}
	if ux != 0 { // 0 <= x ux + y uy <= n
		clip(-y*uy/ux, (n-y*uy)/ux)
	}
	return max(0, int(math.Ceil((x0+o)/f.h-0.5-1e-9))), min(f.nx-1, int(math.Floor((x1+o)/f.h-0.5+1e-9)))
}

// sum returns the chance left in the field, in index order.
func (f *field) sum() float64 {
	var s float64
	for c := range f.left {
		s += f.all(c)
	}
	return s
}

// slice is a short part of a search step, in the order of time.
type slice struct {
	who, step int
	u0, u1    float64 // share of the step
	t         float64 // s, middle
}

// sliceS is how long (s) a part of a leg may be for the order of passes over
// the same ground to be kept.
const sliceS = 15.0

// tally is the account of timed routes.
type tally struct {
	legs   [][]passed
	blocks [][]passed // by agent and block
	gains  []gain     // in the order of time
	pos    float64
	moment float64 // sum of found x time, s
}

// gain is what was found at a time.
type gain struct{ t, pos float64 }

// passed is what one step or one block met and found.
type passed struct{ in, pos float64 }

// account sends the routes over the field in the order of time, legs cut into
// parts of at most the given time (s).
func account(f *field, agents []*agent, routes [][]step, sliceS float64) tally {
	tl := tally{legs: make([][]passed, len(routes)), blocks: make([][]passed, len(routes))}
	var parts []slice
	for w, r := range routes {
		tl.legs[w] = make([]passed, len(r))
		for i, s := range r {
			if s.kind != SearchLeg {
				continue
			}
			n := max(1, int(math.Ceil((s.t1-s.t0)/sliceS)))
			for k := 0; k < n; k++ {
				u0, u1 := float64(k)/float64(n), float64(k+1)/float64(n)
				parts = append(parts, slice{w, i, u0, u1, s.t0 + (u0+u1)/2*(s.t1-s.t0)})
			}
		}
	}
	sort.SliceStable(parts, func(i, j int) bool { return parts[i].t < parts[j].t })
	for _, p := range parts {
		s := routes[p.who][p.step]
		if s.block > len(tl.blocks[p.who]) {
			tl.blocks[p.who] = append(tl.blocks[p.who], passed{in: f.within(agents[p.who], routes[p.who], s.block)})
		}
		d := s.b.Sub(s.a)
		in, found, mid := f.pass(s.a.Add(d.Scale(p.u0)), s.a.Add(d.Scale(p.u1)), agents[p.who].width[s.class],
			agents[p.who].unseen[s.class])
		l := &tl.legs[p.who][p.step]
		l.in += in
		l.pos += found
		if s.block > 0 {
			tl.blocks[p.who][s.block-1].pos += found
		}
		tl.gains = append(tl.gains, gain{p.t, found})
		tl.pos += found
		tl.moment += found*(s.t0+p.u0*(s.t1-s.t0)) + mid*(p.u1-p.u0)*(s.t1-s.t0)
	}
	return tl
}
