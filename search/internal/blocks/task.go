package blocks

import (
	"math"

	"windfall/geo"
	"windfall/geo/grid"
)

// Task is what a layout is made for.
type Task struct {
	Map       *grid.Map
	Searchers []Searcher
	Axes      []geo.XY // unit vectors, tried one after the other; at least one
	Seed      uint64

	Class     func(geo.XY) int             // cover class of a place; nil: class 0 everywhere
	Unseen    []float64                    // share by class that nobody can see; nil: none
	Elevation func(geo.XY) (float64, bool) // m; nil: level
	Slope     func(rise float64) float64   // share of the walking speed left on a slope of rise over run; nil: all

	Foot, Air World

	Progress func(done, total int) // may be nil
	Quick    bool                  // a tenth of the steps

	most  float64 // units of work; 0: mostWork
	loose bool    // nobody has time for a proper block: any lane will do

	// From, when its blocks are given, is where the search for a layout begins;
	// it then keeps to From's axis and changes little.
	From *Layout
}

func (t *Task) leastLanes() int {
	if t.loose {
		return 1
	}
	return tuned.LeastLanes
}

// leastLane is the shortest lane (m) of a searcher where the sweep width is w.
func (t *Task) leastLane(foot bool, w float64) float64 {
	switch {
	case t.loose:
		return tuned.LooseLane
	case foot:
		return math.Max(tuned.LeastLane, tuned.LaneWidths*w)
	}
	return tuned.AirLane
}

// World is what keeps a kind of searcher from going straight.
type World struct {
	// Blocked reports whether q is nearer than d (m) to what must not be entered or
	// crossed; nil: never.
	Blocked func(q geo.XY, d float64) bool

	// Way gives the turning points of the way from a to b, b last; nil: straight.
	Way func(a, b geo.XY) (corners []geo.XY, ok bool)

	Toil float64 // what a question for a way costs, in units of work
}

func (t *Task) world(s *Searcher) *World {
	if s.Foot {
		return &t.Foot
	}
	return &t.Air
}

// Searcher is somebody to give blocks to. Times are in seconds from the plan's
// beginning.
type Searcher struct {
	Foot       bool
	Width      []float64 // m, sweep width by class
	Speed      []float64 // m/s by class, on the level
	At, Start  geo.XY    // where they are at Begin, where they must be at End
	Begin, End float64   // s
	Turn       float64   // s lost at a sharp turn
	Most       int       // blocks

	Sortie, Recharge, Flown float64 // s; Sortie 0: no limit
	Reach                   float64 // m from Start; 0: no limit
}

// Layout is who walks which blocks, in order.
type Layout struct {
	Origin geo.XY // where u and v are 0
	Axis   geo.XY // unit vector along which lanes run
	Blocks [][]Block
	Value  float64 // share of what finding everything at once would be worth, prices taken off
	Short  bool    // planning stopped where its budget ended: the best so far
}

// Corners returns the turning points of the block of a layout, its beginning
// first, in metres of the map's frame.
func (l *Layout) Corners(b Block) []geo.XY {
	side := geo.XY{X: -l.Axis.Y, Y: l.Axis.X}
	var out []geo.XY
	for _, p := range b.corners(nil) {
		out = append(out, l.Origin.Add(l.Axis.Scale(p.u)).Add(side.Scale(p.v)))
	}
	return out
}
