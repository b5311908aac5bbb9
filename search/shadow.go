package search

import (
	"math"
	"sort"

	"windfall/geo"
)

// passGain is what one pass finds of the chance in its strip: 1 - 1/e.
const passGain = 0.63212055882855767840

// shadow is a field as one agent meets it: what the others take out of each
// cell and when, and what the agent's own route at hand has left.
type shadow struct {
	*field
	horizon float64  // s, the end of the plan for everybody
	first   []int32  // passes of the others over cell q: first[q]..first[q+1]
	passes  []passBy // by cell, then time
	own     []float64
	touched []int32
}

// passBy is one pass of another agent over a cell: when (s), and the share of
// the chance it leaves.
type passBy struct {
	t, keep float64
}

// newShadow prepares the field for agent self; in brings places of the map's
// frame into the field's coordinates, nil when they are the same.
func newShadow(f *field, horizon float64, agents []*agent, routes [][]step, self int, in func(geo.XY) geo.XY) *shadow {
	s := &shadow{field: f, horizon: horizon}
	type hit struct {
		q int32
		p passBy
	}
	var hits []hit
	for w, r := range routes {
		if w == self {
			continue
		}
		for _, st := range r {
			if st.kind != SearchLeg {
				continue
			}
			a, b := st.a, st.b
			if in != nil {
				a, b = in(a), in(b)
			}
			n := b.Sub(a).Norm()
			f.each(a, b, agents[w].width[st.class], func(q int, share, x float64) {
				hits = append(hits, hit{int32(q), passBy{st.t0 + (st.t1-st.t0)*x/n, 1 - share*passGain}})
			})
		}
	}
	s.first = make([]int32, len(f.left)+1)
	for _, h := range hits {
		s.first[h.q+1]++
	}
	for q := range f.left {
		s.first[q+1] += s.first[q]
	}
	at := append([]int32(nil), s.first...)
	s.passes = make([]passBy, len(hits))
	for _, h := range hits {
		s.passes[at[h.q]] = h.p
		at[h.q]++
	}
	for q := range f.left {
		if p := s.passes[s.first[q]:s.first[q+1]]; len(p) > 1 {
			sort.SliceStable(p, func(i, j int) bool { return p[i].t < p[j].t })
		}
	}
	s.own = make([]float64, len(f.left))
	for i := range s.own {
		s.own[i] = 1
	}
	return s
}

// worth returns how long (s) what lies in cell q will go on being unfound after
// t if left to the others: the integral of the share they leave. One pass at t
// gains passGain times the cell's chance times it.
func (s *shadow) worth(q int, t float64) float64 {
	if t >= s.horizon {
		return 0
	}
	i, n := s.first[q], s.first[q+1]
	if i == n {
		return s.horizon - t
	}
	keep, from, sum := 1.0, t, 0.0
	for ; i < n; i++ {
		p := s.passes[i]
		if p.t > from {
			sum += keep * (p.t - from)
			from = p.t
		}
		keep *= p.keep
	}
	return sum + keep*(s.horizon-from)
}

// take notes that the agent's own route has passed over a share of cell q.
func (s *shadow) take(q int, share float64) {
	if s.own[q] == 1 {
		s.touched = append(s.touched, int32(q))
	}
	s.own[q] *= 1 - share*passGain
}

// forget takes the agent's own route back.
func (s *shadow) forget() {
	for _, q := range s.touched {
		s.own[q] = 1
	}
	s.touched = s.touched[:0]
}

// gainOf returns what the plan gains by the agent's route: the integral over
// time of the chance it adds to what the others find.
func (s *shadow) gainOf(a *agent, route []step) float64 {
	var sum float64
	for _, st := range route {
		if st.kind != SearchLeg {
			continue
		}
		n := st.b.Sub(st.a).Norm()
		v := (st.t1 - st.t0) / n
		s.each(st.a, st.b, a.width[st.class], func(q int, share, x float64) {
			if p := s.left[q] * s.own[q]; p > 0 {
				sum += p * share * s.worth(q, st.t0+v*x)
				s.take(q, share)
			}
		})
	}
	s.forget()
	return sum * passGain
}

// each calls fn for the cells of the strip of width w from a to b: the cell, the
// share of it that lies in the strip, and how far along (m) it is abeam.
func (f *field) each(a, b geo.XY, w float64, fn func(i int, share, s float64)) {
	d := b.Sub(a)
	n := d.Norm()
	if n == 0 || w <= 0 {
		return
	}
	ux, uy := d.X/n, d.Y/n
	he := f.h * (math.Abs(ux) + math.Abs(uy))
	r := w / 2
	reach := r + he/2
	top, bot := math.Max(a.Y, b.Y)+reach*math.Abs(ux), math.Min(a.Y, b.Y)-reach*math.Abs(ux)
	j0, j1 := max(0, int(math.Ceil((bot-f.south)/f.h-0.5))), min(f.ny-1, int(math.Floor((top-f.south)/f.h-0.5)))
	for j := j0; j <= j1; j++ {
		y := f.south + (float64(j)+0.5)*f.h - a.Y
		lo, hi := f.span(y, ux, uy, n, reach, a.X)
		for i := lo; i <= hi; i++ {
			x := f.west + (float64(i)+0.5)*f.h - a.X
			s := x*ux + y*uy
			if s < 0 || s >= n {
				continue
			}
			if share := (r-math.Abs(x*uy-y*ux))/he + 0.5; share > 0 {
				if share > 1 {
					share = 1
				}
				fn(j*f.nx+i, share, s)
			}
		}
	}
}
