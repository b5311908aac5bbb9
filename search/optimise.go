package search

import (
	"context"
	"math"
	"sort"
	"sync"

	"windfall/geo"
	"windfall/geo/grid"
	"windfall/search/detect"
)

// region is a piece of the ground and its chance.
type region struct {
	at   geo.XY
	p    float64
	size float64 // m, side
}

// planner holds what the search for a good plan shares.
type planner struct {
	t       *terra
	agents  []*agent
	plain   *field // the chance, as coarse as planning allows
	horizon float64
	routes  [][]step
	stops   [][]stop
	shadow  *shadow // of the agent turned to
	gain    float64 // of its route, its turns paid for
	regions []region
	axis    geo.XY  // of all lanes, a unit vector
	price   float64 // chance x s, of a turn
}

// optimise returns the stops of the plan that finds soonest. Each agent in turn
// gets the route that gains most given what the others do (a beam search over a
// lattice of straight lanes), first from nothing and then again and again on
// lattices shifted; a change stays when the whole plan gains. All lanes share
// one axis, so that neighbours' legs are parallel.
func optimise(ctx context.Context, p Problem, o Options, t *terra, agents []*agent) ([][]stop, error) {
	pl := &planner{t: t, agents: agents}
	for _, a := range agents {
		pl.horizon = math.Max(pl.horizon, a.end)
	}
	pl.horizon *= afterwards
	pl.plain = planningField(p.Map, math.Max(1, narrowest(p.Map, agents)/planParts))
	pl.regions = pl.worthwhile()
	pl.price = turnPrice * pl.plain.sum() * pl.horizon
	for _, a := range agents {
		a.lane = a.laneSpacing(pl.regions)
	}
	pl.construct(ctx, pl.axes(p))
	rounds := max(2, min(len(shifts), 10/len(agents))) // few searchers leave time for more
	for _, shift := range shifts[:rounds] {
		pl.round(ctx, shift)
	}
	pl.polish(ctx)
	pl.rival(p.Map)
	return pl.stops, ctx.Err()
}

// shifts are the places of the lanes, shares of their spacing, that the rounds
// go through.
var shifts = [][2]float64{{0.5, 0.5}, {0.25, 0.75}, {0.3, 0.6}, {0.75, 0.3}, {0.8, 0.1}, {0.2, 0.8}, {0.7, 0.1}}

// afterwards lengthens the time over which a find is worth something: what is
// found in the last minute is not worth nothing.
const afterwards = 1.05

// turnPrice is what a turn must gain to be asked of anybody, beside the time it
// takes: a share of all there is to gain. Higher prices give fewer and longer
// legs that find later.
const turnPrice = 0.0002

// construct makes routes for everybody from nothing along each of the axes, and
// keeps the axis that finds soonest.
func (pl *planner) construct(ctx context.Context, axes []geo.XY) {
	trials := make([]planner, len(axes))
	var wait sync.WaitGroup
	for k, u := range axes {
		trials[k] = *pl
		tr := &trials[k]
		tr.axis = u
		tr.routes, tr.stops = make([][]step, len(pl.agents)), make([][]stop, len(pl.agents))
		wait.Go(func() { tr.round(ctx, [2]float64{}) })
	}
	wait.Wait()
	best := math.Inf(-1)
	for k := range trials {
		v := trials[k].value(trials[k].routes)
		for i := range pl.agents {
			v -= trials[k].fuss(i, trials[k].stops[i])
		}
		if v > best {
			best = v
			*pl = trials[k]
		}
	}
}

// round gives every agent in turn its best answer to the others.
func (pl *planner) round(ctx context.Context, shift [2]float64) {
	for i, a := range pl.agents {
		if a.end > a.begin && ctx.Err() == nil {
			pl.respond(i, shift)
		}
	}
}

// planParts is how many raster cells lie across the narrowest sweep width while
// planning.
const planParts = 3

// wideBeam and beamWork bound the work of one beam.
const (
	wideBeam = 60
	beamWork = 12000 // states kept over all time steps
)

// leastLeg is how long (m) a leg at least is to be.
const leastLeg = 45.0

// respond gives agent i the route that gains most, the others' standing fast.
func (pl *planner) respond(i int, shift [2]float64) {
	a := pl.agents[i]
	l := newLattice(a, pl.regions, pl.axis, a.lane, shift)
	steps := (a.end - a.begin) * maxOf(a.speed) / l.s
	b := &beam{
		lattice: l, jumps: 2, price: pl.price,
		least:  int8(max(2, min(20, math.Ceil(leastLeg/l.s)))),
		shadow: newShadow(l.quads(pl.plain), pl.horizon, pl.agents, pl.routes, i, l.in),
		wide:   max(10, min(wideBeam*max(1, 4/len(pl.agents)), int(beamWork*float64(max(1, 3/len(pl.agents)))/steps))),
	}
	stops, _ := b.run()
	pl.shade(i)
	pl.try(i, stops)
}

// rival puts the standard patterns in the plan's place should one of them gain
// more, which happens only where hardly anything can be gained.
func (pl *planner) rival(m *grid.Map) {
	best := pl.value(pl.routes)
	for _, kind := range []Pattern{ExpandingSquare, Parallel, nearestFirst} {
		stops := pattern(m, pl.t, pl.agents, kind)
		routes := make([][]step, len(stops))
		for i, a := range pl.agents {
			routes[i] = a.walk(stops[i])
		}
		if v := pl.value(routes); v > best {
			best, pl.routes, pl.stops = v, routes, stops
		}
	}
}

// value is the integral over time of the chance that routes find.
func (pl *planner) value(routes [][]step) float64 {
	f := *pl.plain
	f.left = append([]float64(nil), pl.plain.left...)
	tl := account(&f, pl.agents, routes, 60)
	return tl.pos*pl.horizon - tl.moment
}

// shade turns to agent i: what the others do stands fast from here on.
func (pl *planner) shade(i int) {
	pl.shadow = newShadow(pl.plain, pl.horizon, pl.agents, pl.routes, i, nil)
	pl.gain = pl.shadow.gainOf(pl.agents[i], pl.routes[i]) - pl.fuss(i, pl.stops[i])
}

// try takes the stops for agent i, to which the planner has turned, if the plan
// gains by them.
func (pl *planner) try(i int, stops []stop) bool {
	r := pl.agents[i].walk(stops)
	g := pl.shadow.gainOf(pl.agents[i], r) - pl.fuss(i, stops)
	if g <= pl.gain+1e-9*math.Abs(pl.gain) {
		return false
	}
	pl.gain, pl.routes[i], pl.stops[i] = g, r, stops
	return true
}

// laneSpacing is the sweep width the agent has over most of the likely ground:
// the smallest of those that hold at least a sixth of it.
func (a *agent) laneSpacing(rs []region) float64 {
	share := make([]float64, len(a.width))
	var sum float64
	for _, r := range rs {
		share[a.t.classAt(r.at)] += r.p
		sum += r.p
	}
	best := math.Inf(1)
	for c, w := range a.width {
		if share[c] >= sum/6 && w > 0 {
			best = math.Min(best, w)
		}
	}
	if math.IsInf(best, 1) {
		best = maxOf(a.width)
	}
	return math.Max(best, 2)
}

// planningField is the map on a raster of about the wanted step: finer cells
// are joined, wider ones split.
func planningField(m *grid.Map, step float64) *field {
	k := int(math.Floor(step/m.Cell + 1e-9))
	if k < 2 {
		return newField(m, step, detect.Exponential)
	}
	f := &field{west: m.West, south: m.South, h: m.Cell * float64(k), nx: (m.NX + k - 1) / k, ny: (m.NY + k - 1) / k, k: 1, law: detect.Exponential}
	f.left = make([]float64, f.nx*f.ny)
	for j := 0; j < m.NY; j++ {
		for i := 0; i < m.NX; i++ {
			f.left[(j/k)*f.nx+i/k] += m.P[j*m.NX+i]
		}
	}
	return f
}

// worthwhile returns the likeliest ground, three times as much as can be
// covered once, but at least half and at most 99.7 % of the chance.
func (pl *planner) worthwhile() []region {
	f := pl.plain
	var area float64
	for _, a := range pl.agents {
		area += (a.end - a.begin) * a.Speed * maxOf(a.width)
	}
	order := make([]int, 0, len(f.left))
	var sum float64
	for c, v := range f.left {
		if v > 0 {
			order = append(order, c)
			sum += v
		}
	}
	sort.SliceStable(order, func(i, j int) bool { return f.left[order[i]] > f.left[order[j]] })
	var out []region
	var got, ground float64
	for _, c := range order {
		i, j := c%f.nx, c/f.nx
		out = append(out, region{geo.XY{X: f.west + (float64(i)+0.5)*f.h, Y: f.south + (float64(j)+0.5)*f.h}, f.left[c], f.h})
		got += f.left[c]
		ground += f.h * f.h
		if got > 0.5*sum && ground > 3*area || got > 0.997*sum {
			break
		}
	}
	return out
}
