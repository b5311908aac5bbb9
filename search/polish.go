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

// nudge tries to better stop k of agent i by moving the leg from it sideways,
// its end of a lane along the lane, or by leaving it out. What runs along the
// lanes stays so.
func (pl *planner) nudge(i, k int, d float64) {
	st := pl.stops[i]
	if st[k].charge {
		pl.recharge(i, k)
		return
	}
	in, out := unit(st, k, pl.agents[i]), unit(st, k+1, pl.agents[i])
	if out != (geo.XY{}) {
		side := geo.XY{X: -out.Y, Y: out.X}
		for _, v := range []geo.XY{side.Scale(d), side.Scale(-d)} {
			if pl.shift(i, k, 2, v) {
				return
			}
		}
	}
	free := func(e geo.XY) bool { return e == (geo.XY{}) || pl.aslant(e) }
	var ways []geo.XY
	if free(out) && in != (geo.XY{}) {
		ways = append(ways, in)
	}
	if free(in) && out != (geo.XY{}) {
		ways = append(ways, out)
	}
	for _, e := range ways {
		for _, v := range []geo.XY{e.Scale(d), e.Scale(-d)} {
			if pl.shift(i, k, 1, v) {
				return
			}
		}
	}
	if len(st) > 1 {
		pl.try(i, without(st, k))
	}
}

// recharge tries to leave out a charge, or to fly home for it a stop sooner or
// later: timed exactly, a sortie may end before the charge that was meant for it.
func (pl *planner) recharge(i, k int) {
	st := pl.stops[i]
	if pl.try(i, without(st, k)) {
		return
	}
	for _, j := range []int{k - 1, k + 1} {
		if j < 0 || j >= len(st) || st[j].charge {
			continue
		}
		swapped := append([]stop(nil), st...)
		swapped[j], swapped[k] = swapped[k], swapped[j]
		if pl.try(i, swapped) {
			return
		}
	}
}

// unit returns the direction of the leg to stop k, zero where there is none.
func unit(st []stop, k int, a *agent) geo.XY {
	if k >= len(st) || st[k].charge || k > 0 && st[k-1].charge {
		return geo.XY{}
	}
	from := a.at
	if k > 0 {
		from = st[k-1].p
	}
	d := st[k].p.Sub(from)
	if n := d.Norm(); n > 0 {
		return d.Scale(1 / n)
	}
	return geo.XY{}
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
