package search

import (
	"context"
	"math"

	"windfall/geo"
)

// polish moves the corners of the routes about, and whole legs sideways, as
// long as the plan gains: smaller and smaller steps, every leg of every agent
// in turn. A leg moved sideways at the end of a lane makes the lane longer or
// shorter.
func (pl *planner) polish(ctx context.Context) {
	for _, share := range []float64{0.5, 0.25, 0.12} {
		for i, a := range pl.agents {
			pl.shade(i)
			d := share * a.lane
			for k := 0; k < len(pl.stops[i]); k++ {
				if ctx.Err() != nil {
					return
				}
				pl.nudge(i, k, d)
			}
			pl.tidy(i)
		}
	}
}

// Legs shorter than shortLeg m, or than a third of a sweep width if that is
// less, are not asked of anybody; worthTidy is the share of a route's gain that
// may go for it.
const (
	shortLeg  = 20.0
	worthTidy = 0.003
)

func (a *agent) shortest() float64 {
	return math.Min(shortLeg, a.lane/3)
}

// tidy leaves out stops that lie close to the one before.
func (pl *planner) tidy(i int) {
	least := pl.agents[i].shortest()
	for k := 0; k+1 < len(pl.stops[i]); {
		st := pl.stops[i]
		if st[k].charge || st[k+1].charge || st[k+1].p.Sub(st[k].p).Norm() >= least {
			k++
			continue
		}
		old := pl.gain
		pl.gain = old * (1 - worthTidy)
		if !pl.try(i, without(st, k)) && !pl.try(i, without(st, k+1)) {
			pl.gain = old
			k++
		}
	}
}

func without(st []stop, k int) []stop {
	return append(append([]stop{}, st[:k]...), st[k+1:]...)
}

// cramped reports whether a leg to or from stops k to k+n-1 is too short.
func cramped(st []stop, k, n int, least float64) bool {
	for j := max(1, k); j <= k+n && j < len(st); j++ {
		if !st[j-1].charge && !st[j].charge && st[j].p.Sub(st[j-1].p).Norm() < least {
			return true
		}
	}
	return false
}

// nudge tries to better stop k of agent i by moving it, it and the next one, or
// by leaving it out.
func (pl *planner) nudge(i, k int, d float64) {
	st := pl.stops[i]
	if st[k].charge {
		return
	}
	both := k+1 < len(st) && !st[k+1].charge
	along := geo.XY{X: 1}
	if both {
		if e := st[k+1].p.Sub(st[k].p); e.Norm() > 0 {
			along = e.Scale(1 / e.Norm())
		}
	}
	side := geo.XY{X: -along.Y, Y: along.X}
	for _, v := range []geo.XY{side.Scale(d), side.Scale(-d)} {
		if both && pl.shift(i, k, 2, v) {
			return
		}
	}
	for _, v := range []geo.XY{along.Scale(d), along.Scale(-d), side.Scale(d), side.Scale(-d)} {
		if pl.shift(i, k, 1, v) {
			return
		}
	}
	if len(st) > 1 {
		pl.try(i, without(st, k))
	}
}

// shift tries n stops from k on moved by v, and by twice that when it pays.
func (pl *planner) shift(i, k, n int, v geo.XY) bool {
	won := false
	least := pl.agents[i].shortest()
	for range 3 {
		st := append([]stop(nil), pl.stops[i]...)
		for j := k; j < k+n; j++ {
			st[j].p = st[j].p.Add(v)
			if !pl.agents[i].inReach(st[j].p) {
				return won
			}
		}
		if cramped(st, k, n, least) || !pl.try(i, st) {
			return won
		}
		won = true
	}
	return won
}
