package search

import (
	"context"
	"math"

	"windfall/geo"
	"windfall/search/internal/blocks"
	"windfall/search/route"
)

// margins of the planner's times, which are near enough to choose by, against
// those of the walk: a share of the time and a few seconds.
const (
	slackShare = 0.005
	slackS     = 10.0
)

// A drone has this many blocks at most on each sortie, and one without sorties in
// all.
const (
	blocksASortie = 2
	droneBlocks   = 6
)

// laid is a plan of blocks: for each agent its blocks and the timed steps.
type laid struct {
	layout *blocks.Layout
	blocks [][]blocks.Block
	routes [][]step

	abreast [][]string // who each goes side by side with
}

// lay makes the plan of blocks that finds soonest.
func lay(ctx context.Context, p Problem, o Options, t *terra, agents []*agent) (*laid, error) {
	task := &blocks.Task{Map: p.Map, Seed: o.Seed, Axes: axes(p), Slope: tobler, Progress: o.Progress, Quick: o.Quick}
	if p.left != nil {
		task.From = &blocks.Layout{Origin: p.left.layout.Origin, Axis: p.left.layout.Axis, Blocks: p.left.blocks}
	}
	if len(t.areas) > 0 {
		task.Class = t.classAt
	}
	task.Unseen = agents[0].unseen
	if p.Terrain != nil {
		task.Elevation = p.Terrain.Elevation
	}
	ts := teams(agents, o.Abreast)
	for _, t := range ts {
		task.Searchers = append(task.Searchers, t.worker(agents, o))
	}
	for _, a := range agents {
		w := &task.Foot
		if a.drone() {
			w = &task.Air
		}
		if w.Blocked == nil && !a.world.Empty() {
			*w = worldOf(a.world)
		}
	}
	l, err := blocks.Lay(ctx, task)
	if err != nil {
		return nil, err
	}
	out := &laid{layout: l, blocks: make([][]blocks.Block, len(agents)), routes: make([][]step, len(agents)),
		abreast: abreast(agents, ts)}
	for k, t := range ts {
		for n, i := range t.members {
			var own []blocks.Block
			for _, b := range l.Blocks[k] {
				own = append(own, lanesOf(b, n, len(t.members)))
			}
			out.routes[i], out.blocks[i] = exact(agents[i], l, own)
		}
	}
	return out, nil
}

// worker is an agent as the block planner meets it.
func (a *agent) worker(o Options) blocks.Searcher {
	s := blocks.Searcher{
		Foot: !a.drone(), Width: a.width, Speed: a.speed, At: a.at, Start: a.Start, Begin: a.begin, Turn: a.turn,
		End:  math.Max(a.begin, a.end-slackShare*(a.end-a.begin)-slackS),
		Most: o.Blocks,
	}
	if s.Most <= 0 {
		s.Most = defaultBlocks
	}
	if a.drone() {
		s.Reach, s.Recharge, s.Flown = a.Reach, math.Max(a.Recharge, tick), a.Flown
		s.Most = droneBlocks
		if !math.IsInf(a.sortie, 1) {
			s.Sortie = a.sortie*(1-slackShare) - slackS
			s.Most = blocksASortie * max(1, int(math.Ceil((a.end-a.begin)/(a.sortie+s.Recharge))))
		}
		s.Most = max(s.Most, o.Blocks)
	}
	return s
}

func worldOf(w *route.World) blocks.World {
	t := w.Table()
	return blocks.World{
		Blocked: w.Near, Toil: w.Toil(),
		Way: func(a, b geo.XY) ([]geo.XY, bool) {
			pts, _, ok := t.Way(a, b)
			return pts, ok
		},
	}
}

// exact walks the blocks; what there turns out to be no time for goes off the
// last block.
func exact(a *agent, l *blocks.Layout, bs []blocks.Block) ([]step, []blocks.Block) {
	bs = append([]blocks.Block(nil), bs...)
	for {
		var cs []course
		for _, b := range bs {
			cs = append(cs, l.Corners(b))
		}
		steps, done := a.follow(cs)
		if done == len(bs) {
			return steps, bs
		}
		if bs[done].N--; bs[done].N < 3 {
			bs = append(bs[:done], bs[done+1:]...)
		}
	}
}
