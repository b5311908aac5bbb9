package search

import (
	"context"
	"fmt"
	"math"
	"sort"

	"windfall/geo/grid"
	"windfall/search/detect"
)

// smallPOS is the POS under which a leg is not worth calling a search leg.
const smallPOS = 1e-5

// accountParts is how many raster cells of the account lie across the narrowest
// sweep width.
const accountParts = 8

// backPOS is the same for the way home.
const backPOS = 5e-4

// Make plans the search. The plan depends on the problem and the options alone:
// effort is bounded by counts, never by the clock. It returns ctx.Err() when
// ctx ends first, and an error when the problem cannot be planned; Cautions
// hold what was assumed.
func Make(ctx context.Context, p Problem, o Options) (*Plan, error) {
	t, agents, cautions, err := ready(p)
	if err != nil {
		return nil, err
	}
	if p.Law == "" {
		p.Law = detect.Exponential
	}
	cut, err := reachable(p.Map, agents)
	if err != nil {
		return nil, err
	}
	if cut != "" {
		cautions = append(cautions, cut)
	}
	l := &laid{abreast: make([][]string, len(agents))}
	switch o.Pattern {
	case "":
		l, err = lay(ctx, p, o, t, agents)
	case ExpandingSquare, Parallel, Sector, nearestFirst:
		for i, stops := range pattern(p.Map, t, agents, o.Pattern) {
			l.routes = append(l.routes, agents[i].walk(stops))
		}
	default:
		err = fmt.Errorf("pattern %q is not known; write expanding-square, parallel or sector", o.Pattern)
	}
	if err != nil {
		return nil, err
	}
	if l.layout != nil && l.layout.Short {
		cautions = append(cautions, shortOfWork)
	}
	pl := finish(p, t, agents, l)
	pl.Cautions = append(append(pl.Cautions, cautions...), assumed(t, agents, p.Target)...)
	return pl, nil
}

// shortOfWork says that planning stopped at its budget.
const shortOfWork = "so many searchers, or so much drawn on the ground, that planning stopped before it was done: " +
	"this is the best plan so far; plan for fewer searchers at a time, or simplify the shapes"

// reachable reports an error when the searchers can get to next to nothing of
// the map's chance, and a caution when they cannot get to all of it.
func reachable(m *grid.Map, agents []*agent) (caution string, err error) {
	order := make([]int, 0, len(m.P))
	for c, v := range m.P {
		if v > 0 {
			order = append(order, c)
		}
	}
	if len(order) == 0 {
		return "", fmt.Errorf("the map holds no chance at all inside its edges; nothing can be planned")
	}
	sort.SliceStable(order, func(i, j int) bool { return m.P[order[i]] > m.P[order[j]] })
	idle := true
	for _, a := range agents {
		idle = idle && a.end <= a.begin
	}
	if idle {
		return "", fmt.Errorf("no searcher has time: give somebody more, or an earlier beginning")
	}
	var all, got float64
	for k, step := 0, max(1, len(order)/300); k < len(order); k += step {
		q := m.Centre(order[k]%m.NX, order[k]/m.NX)
		all += m.P[order[k]]
		for _, a := range agents {
			if a.end <= a.begin || !a.inReach(q) {
				continue
			}
			if _, _, ok := a.home.To(q); ok {
				got += m.P[order[k]]
				break
			}
		}
	}
	switch {
	case got < 0.005*all:
		return "", fmt.Errorf("none of the likely ground can be reached from any start: " +
			"no-go areas, barriers without a crossing or a drone's reach stand in the way")
	case got < 0.95*all:
		return fmt.Sprintf("%.0f %% of the chance lies on ground that nobody can get to", 100*(1-got/all)), nil
	}
	return "", nil
}

// narrowest returns the narrowest sweep width (m) there is, a cell's side when
// nobody has one.
func narrowest(m *grid.Map, agents []*agent) float64 {
	w := math.Inf(1)
	for _, a := range agents {
		for _, v := range a.width {
			if v > 0 {
				w = math.Min(w, v)
			}
		}
	}
	if math.IsInf(w, 1) {
		return m.Cell
	}
	return w
}

// finish relabels the legs by what they find, keeps the final account and makes
// the plan.
func finish(p Problem, t *terra, agents []*agent, l *laid) *Plan {
	fine := math.Max(1, narrowest(p.Map, agents)/accountParts)
	for round := 0; round < 2; round++ {
		tl := account(newField(p.Map, fine, p.Law), agents, l.routes, sliceS)
		for w, r := range l.routes {
			relabel(r, tl.legs[w])
		}
	}
	f := newField(p.Map, fine, p.Law)
	tl := account(f, agents, l.routes, sliceS)
	pl := &Plan{CellM: p.Map.Cell, Outside: p.Map.Outside, POS: tl.pos, Left: f.sum() + p.Map.Outside}
	for _, a := range agents {
		pl.Minutes = math.Max(pl.Minutes, a.end/60)
	}
	pl.Minutes = minutes(pl.Minutes * 60)
	found := tl.moment / 60
	pl.MeanToFind = found + (1-tl.pos)*pl.Minutes
	if tl.pos > 0 {
		pl.MeanIfFound = found / tl.pos
	}
	classes := cellClasses(p.Map, t)
	pl.UpperBound = detect.Bound(p.Law, seen(p.Map.P, classes, agents), p.Map.Cell*p.Map.Cell, classes, efforts(agents, 0))
	for w, a := range agents {
		r := a.route(p.Map, l.routes[w], tl.legs[w])
		r.Abreast = l.abreast[w]
		if l.layout != nil {
			l.name(p.Map, w, &r, tl.blocks[w])
			r.Free = a.end-60*r.Minutes > math.Max(freeS, freeShare*(a.end-a.begin))
		}
		pl.Searchers = append(pl.Searchers, r)
	}
	pl.Enough = enough(pl, &tl)
	if l.layout != nil {
		pl.laid = l
	}
	return pl
}

// seen is the chance of each cell less what nobody can see there.
func seen(ps []float64, classes []int, agents []*agent) []float64 {
	if classes == nil && agents[0].unseen[0] == 0 {
		return ps
	}
	out := make([]float64, len(ps))
	for c, v := range ps {
		n := 0
		if classes != nil {
			n = classes[c]
		}
		out[c] = v * (1 - agents[0].unseen[n])
	}
	return out
}

// A searcher who is back this long (s), and this share of their time, before it
// is over is free: a choice of ours.
const (
	freeS     = 300.0
	freeShare = 0.1
)

// relabel makes search legs that find next to nothing transit, or return after
// the last that finds something.
func relabel(r []step, legs []passed) {
	last := -1
	for i, s := range r {
		if s.kind == SearchLeg {
			if s.block == 0 && (legs[i].pos < smallPOS || s.back && legs[i].pos < backPOS) {
				r[i].kind = TransitLeg
			} else {
				last = i
			}
		}
		if s.kind == RechargeLeg {
			last = i
		}
	}
	for i := last + 1; i < len(r); i++ {
		if r[i].kind == TransitLeg {
			r[i].kind = ReturnLeg
		}
	}
}

func minutes(s float64) float64 { return math.Round(s/60*1000) / 1000 }

func (a *agent) route(m *grid.Map, steps []step, legs []passed) Route {
	r := Route{Name: a.Name, Kind: a.Kind, Minutes: minutes(a.begin), Legs: []Leg{}}
	for i, s := range steps {
		l := Leg{
			N: len(r.Legs) + 1, Kind: s.kind, From: m.Frame.Place(s.a), To: m.Frame.Place(s.b),
			StartMin: minutes(s.t0), EndMin: minutes(s.t1),
		}
		if s.kind == SearchLeg {
			l.Cover, l.SweepWidth = a.t.classes[s.class], a.width[s.class]
			l.POA, l.POS = legs[i].in, legs[i].pos
			if l.POA > 0 {
				l.POD = l.POS / l.POA
			}
			r.SweepWidth = math.Max(r.SweepWidth, l.SweepWidth)
		}
		r.Minutes = l.EndMin
		r.Legs = append(r.Legs, l)
	}
	return r
}

// coarse returns what the field holds, by map cell.
func (f *field) coarse(m *grid.Map) *grid.Map {
	out := *m
	out.P = make([]float64, len(m.P))
	for j := 0; j < f.ny; j++ {
		for i := 0; i < f.nx; i++ {
			out.P[(j/f.k)*m.NX+i/f.k] += f.all(j*f.nx + i)
		}
	}
	return &out
}

// cellClasses returns the cover class of every cell's middle; nil when there is
// only one.
func cellClasses(m *grid.Map, t *terra) []int {
	if len(t.areas) == 0 {
		return nil
	}
	out := make([]int, len(m.P))
	for j := 0; j < m.NY; j++ {
		for i := 0; i < m.NX; i++ {
			if m.P[j*m.NX+i] > 0 {
				out[j*m.NX+i] = t.classAt(m.Centre(i, j))
			}
		}
	}
	return out
}

// efforts returns what the agents can spend, less the given time (s) each, in
// groups of the same sweep widths.
func efforts(agents []*agent, less float64) []detect.Effort {
	var out []detect.Effort
	for _, a := range agents {
		e := detect.Effort{Length: math.Max(0, a.end-a.begin-less) * a.Speed, Width: a.width}
		joined := false
		for i := range out {
			if scale, ok := proportion(a.width, out[i].Width); ok {
				out[i].Length += e.Length * scale
				joined = true
				break
			}
		}
		if !joined {
			out = append(out, e)
		}
	}
	return out
}

// proportion returns a/b where that is the same for all classes.
func proportion(a, b []float64) (float64, bool) {
	scale := 0.0
	for i := range a {
		if b[i] <= 0 || a[i] <= 0 {
			return 0, false
		}
		s := a[i] / b[i]
		if i > 0 && math.Abs(s-scale) > 1e-9*scale {
			return 0, false
		}
		scale = s
	}
	return scale, true
}
