package search

import (
	"context"
	"fmt"
	"math"
	"slices"

	"windfall/geo"
	"windfall/search/internal/blocks"
)

// Change is what happens while a plan is carried out. Times count from the
// plan's beginning.
type Change struct {
	At     float64            // s, when the search is planned again
	Joins  []Searcher         // from At on, or from their Joins if that is later
	Leaves []string           // names of those who stop
	Late   map[string]float64 // s that somebody is behind the plan
}

// Replan returns the problem that is left when a plan has been carried out until
// the change: the map after what was searched till then, and everybody where
// the leg or lane ends that they are on, with the time that remains to them. Its
// times count from the change. A plan for it comes from Make and begins from the
// blocks that are left, those of who leaves handed to others.
func Replan(ctx context.Context, p Problem, pl *Plan, ch Change) (Problem, error) {
	if err := ctx.Err(); err != nil {
		return p, err
	}
	if err := ch.check(p, pl); err != nil {
		return p, err
	}
	next := p
	next.Searchers, next.left = nil, nil
	var passes []Pass
	var stay, orphans []blocks.Block // of the searcher at hand; of those who leave
	var left [][]blocks.Block
	for i, s := range p.Searchers {
		r := pl.Searchers[i]
		did, now := ch.At-ch.Late[s.Name], Searcher{}
		now, passes = carryOn(s, r, did, passes, p.Target)
		stay = pl.laid.rest(i, r, now)
		if slices.Contains(ch.Leaves, s.Name) {
			orphans = append(orphans, stay...)
			continue
		}
		now.Joins += ch.Late[s.Name]
		now.Available = s.Joins + s.Available - ch.At - now.Joins
		if p.Dark > 0 {
			now.Available = math.Min(now.Available, p.Dark-ch.At-now.Joins)
		}
		if now.Available > 0 {
			next.Searchers, left = append(next.Searchers, now), append(left, stay)
		}
	}
	for _, s := range ch.Joins {
		s.Joins = math.Max(0, s.Joins-ch.At)
		next.Searchers, left = append(next.Searchers, s), append(left, nil)
	}
	if len(next.Searchers) == 0 {
		return p, fmt.Errorf("nobody is left to search after %.0f minutes", ch.At/60)
	}
	if p.Dark > 0 {
		next.Dark = p.Dark - ch.At
	}
	if pl.laid != nil {
		next.left = &laid{layout: pl.laid.layout, blocks: handed(left, orphans)}
	}
	m, _, err := Searched(p.Map, p.Law, passes)
	next.Map = m
	return next, err
}

// check refuses a change that does not fit the plan.
func (ch Change) check(p Problem, pl *Plan) error {
	if !(ch.At >= 0 && ch.At < pl.Minutes*60) {
		return fmt.Errorf("the change comes after %.0f minutes, the plan has %.0f; write a time within the plan",
			ch.At/60, pl.Minutes)
	}
	known := func(name string) bool {
		return slices.ContainsFunc(p.Searchers, func(s Searcher) bool { return s.Name == name })
	}
	for _, n := range ch.Leaves {
		if !known(n) {
			return fmt.Errorf("%q is not in the plan and cannot leave it; write the name of somebody who is", n)
		}
	}
	for n, late := range ch.Late {
		if !known(n) {
			return fmt.Errorf("%q is not in the plan and cannot be late", n)
		}
		if !(late >= 0) {
			return fmt.Errorf("%q is late by %g s; write a time such as 15 min", n, late)
		}
	}
	for _, s := range ch.Joins {
		if known(s.Name) {
			return fmt.Errorf("%q is in the plan already and cannot join it", s.Name)
		}
	}
	return nil
}

// handed gives blocks to those who have fewest.
func handed(left [][]blocks.Block, more []blocks.Block) [][]blocks.Block {
	for _, b := range more {
		to := 0
		for i := range left {
			if len(left[i]) < len(left[to]) {
				to = i
			}
		}
		left[to] = append(left[to], b)
	}
	return left
}

// rest returns the blocks of searcher i that are left when it has come to where
// now says, the one at hand without the lanes that are done. A rectangle that
// was begun is not left.
func (l *laid) rest(i int, r Route, now Searcher) []blocks.Block {
	if l == nil {
		return nil
	}
	var out []blocks.Block
	for k, b := range l.blocks[i] {
		first, last := -1, -1
		for n, g := range r.Legs {
			if g.Block == r.Blocks[k].Name {
				if first < 0 {
					first = n
				}
				last = n
			}
		}
		switch done := now.legsDone; {
		case done <= first:
			out = append(out, b)
		case done <= last && !b.Spiral:
			out = append(out, b.After(l.lanesDone(b, *now.At)))
		}
	}
	return out
}

// lanesDone returns how many lanes of the block are walked by who stands at one
// of its corners.
func (l *laid) lanesDone(b blocks.Block, at geo.XY) int {
	best, near := 0, math.Inf(1)
	for k, q := range l.layout.Corners(b) {
		if d := q.Sub(at).Norm(); d < near {
			best, near = k, d
		}
	}
	return (best + 1) / 2
}

// carryOn takes a searcher along its route until the leg that it is on at time
// t (s) ends, and of a block the lane, adds what was searched, and returns it with At, Joins (s after t)
// and Flown of then.
func carryOn(s Searcher, r Route, t float64, passes []Pass, tg Target) (Searcher, []Pass) {
	now := s
	now.Joins = math.Max(0, s.Joins-t)
	for n, l := range r.Legs {
		if l.StartMin*60 >= t && !(n > 0 && l.goesOn(r.Legs[n-1])) {
			break
		}
		now.legsDone = n + 1
		if l.Kind == SearchLeg {
			passes = append(passes, Pass{A: l.a(), B: l.b(), Width: l.SweepWidth, Unseen: tg.unseen(l.Cover)})
		}
		at := l.b()
		now.At = &at
		now.Joins = math.Max(0, l.EndMin*60-t)
		now.Flown += (l.EndMin - l.StartMin) * 60
		if l.Kind == RechargeLeg {
			now.Flown = 0
		}
	}
	if len(r.Legs) > 0 && r.Legs[len(r.Legs)-1].EndMin*60 <= t {
		now.Flown = 0 // back, and charging since
	}
	return now, passes
}

// goesOn reports whether the leg is of the same lane as the one before.
func (l *Leg) goesOn(before Leg) bool {
	turn := l.b().Sub(l.a()).BearingDeg() - before.b().Sub(before.a()).BearingDeg()
	return l.Block != "" && l.Block == before.Block && math.Abs(math.Remainder(turn, 360)) < 1
}
