package search

import (
	"fmt"
	"math"

	"windfall/geo"
	"windfall/geo/grid"
	"windfall/search/internal/blocks"
)

// letter is the letter of searcher i, counted from 0: A to Z, then AA, AB ...
func letter(i int) string {
	s := ""
	for i++; i > 0; i = (i - 1) / 26 {
		s = string(rune('A'+(i-1)%26)) + s
	}
	return s
}

// name adds the blocks of searcher w to the route and gives their legs the names.
func (l *laid) name(m *grid.Map, w int, r *Route, got []passed) {
	r.Blocks = []Block{}
	for k, b := range l.blocks[w] {
		out := l.told(m, b)
		out.Name = fmt.Sprintf("%s%d", letter(w), k+1)
		out.StartMin = math.Inf(1)
		for n, s := range l.routes[w] {
			if s.block == k+1 {
				r.Legs[n].Block = out.Name
				out.StartMin, out.EndMin = math.Min(out.StartMin, r.Legs[n].StartMin), r.Legs[n].EndMin
			}
		}
		if k < len(got) {
			out.POA, out.POS = got[k].in, got[k].pos
		}
		if out.POA > 0 {
			out.POD = out.POS / out.POA
		}
		for _, g := range r.Legs {
			if g.EndMin <= out.EndMin {
				out.Cumulative += g.POS
			}
		}
		r.Blocks = append(r.Blocks, out)
	}
}

// told puts a block into words' numbers.
func (l *laid) told(m *grid.Map, b blocks.Block) Block {
	cs := l.layout.Corners(b)
	first, next := cs[1].Sub(cs[0]), geo.XY{}
	if len(cs) > 2 {
		next = cs[2].Sub(cs[1])
	}
	tenth := func(v float64) float64 { return math.Round(10*v) / 10 }
	out := Block{
		Kind: Lanes, Lanes: b.N, LaneM: tenth(b.Hi - b.Lo), SpacingM: tenth(math.Abs(b.Gap)),
		OutDeg: tenth(first.BearingDeg()), BackDeg: tenth(geo.NormDeg(first.BearingDeg() + 180)),
		SideDeg: tenth(next.BearingDeg()),
		Begin:   m.Frame.Place(cm(cs[0])), End: m.Frame.Place(cm(cs[len(cs)-1])),
	}
	if b.Spiral {
		out.Kind = Rectangle
	}
	return out
}

// What is left of a plan is little when it brings at most littlePOS of the whole
// chance at less than littleRate of the rate before: choices of ours.
const (
	littlePOS  = 0.05
	littleRate = 0.15
)

// enough returns the first end of a block after which little is gained.
func enough(pl *Plan, tl *tally) Enough {
	out := Enough{Minutes: 0, POS: pl.POS}
	for _, r := range pl.Searchers {
		out.Minutes = math.Max(out.Minutes, r.Minutes)
	}
	last := out.Minutes
	for _, r := range pl.Searchers {
		for _, b := range r.Blocks {
			pos := 0.0
			for _, g := range tl.gains {
				if g.t <= b.EndMin*60 {
					pos += g.pos
				}
			}
			rest := last - b.EndMin
			if b.EndMin < out.Minutes && rest > 0 && pl.POS-pos <= littlePOS && (pl.POS-pos)/rest < littleRate*pos/b.EndMin {
				out = Enough{b.EndMin, pos}
			}
		}
	}
	return out
}
