package search

import (
	"windfall/geo"
	"windfall/geo/grid"
	"windfall/geo/ground"
	"windfall/search/detect"
)

// Terrain gives the elevation of the ground in metres at a point of the map's
// frame; ok is false where it is not known.
type Terrain interface {
	Elevation(p geo.XY) (m float64, ok bool)
}

// Problem is what a plan is made for. Map and Searchers must be given; times
// count from the plan's beginning.
type Problem struct {
	Map       *grid.Map
	Searchers []Searcher
	Target    Target
	Ground    *ground.Ground // nil: open ground
	Terrain   Terrain        // nil: level
	Law       detect.Law     // "": exponential
	Dark      float64        // s: everybody is back by then; 0: no such limit
	Wind      float64        // m/s at the drones' height; 0: not known

	left *laid // the blocks of an earlier plan that are left, by Replan
}

// Options of Make. The zero value is what most want.
type Options struct {
	Seed     uint64
	Pattern  Pattern               // "": blocks that find soonest
	Blocks   int                   // most blocks of a walker; 0: defaultBlocks
	Abreast  bool                  // walkers go in pairs, side by side, as far as their number allows
	Quick    bool                  // a tenth of the work: for what a plan would be worth, not to be walked
	Progress func(done, total int) // told how far the planning is; may be nil
}

// defaultBlocks is how many blocks a walker has at most unless told otherwise:
// what one can keep in mind.
const defaultBlocks = 3

// Pattern is a standard search pattern.
type Pattern string

// The patterns: geometry of the IAMSAR Manual, volume II (from memory).
const (
	ExpandingSquare Pattern = "expanding-square"
	Parallel        Pattern = "parallel"
	Sector          Pattern = "sector"
	nearestFirst    Pattern = "nearest" // for comparison only
)

// Plan is who goes where and when, and what it is worth. POS, UpperBound and
// Left are of the whole chance, outside the map included: POS + Left = 1.
type Plan struct {
	CellM       float64 `json:"cell_m"`
	Minutes     float64 `json:"minutes"` // from the beginning to the last searcher's deadline
	POS         float64 `json:"probability_of_success"`
	UpperBound  float64 `json:"upper_bound"`
	MeanToFind  float64 `json:"mean_minutes_to_find"`  // Minutes for what is not found
	MeanIfFound float64 `json:"mean_minutes_if_found"` // 0 when nothing can be found
	Left        float64 `json:"left_after"`
	Outside     float64 `json:"outside_map"` // before the search
	Enough      Enough  `json:"enough"`
	Searchers   []Route `json:"searchers"`

	Cautions []string `json:"-"`
	laid     *laid    // nil for patterns
}

// Enough is the point of a plan after which little is gained: until then POS of
// the whole chance is found, and the rest of the plan brings next to nothing.
// Where there is no such point it is the end.
type Enough struct {
	Minutes float64 `json:"minutes"`
	POS     float64 `json:"pos"`
}

// Route is what one searcher does.
type Route struct {
	Name       string   `json:"name"`
	Kind       Kind     `json:"kind"`
	SweepWidth float64  `json:"sweep_width_m"`     // widest of the search legs
	Minutes    float64  `json:"minutes"`           // when back at the start
	Abreast    []string `json:"abreast,omitempty"` // who goes side by side with them over the same blocks
	Free       bool     `json:"free"`              // back well before their time is over: nothing worthwhile is left
	Blocks     []Block  `json:"blocks"`            // in the order they are walked; none for patterns
	Legs       []Leg    `json:"legs"`
}

// Block is a piece of a searcher's work that can be told in one breath: lanes of
// one length, side by side, or an expanding rectangle. POA is the chance in the
// ground that it covers when it is begun, POS what it finds of the whole chance,
// POD the one over the other; Cumulative is all that the searcher has found by its
// end, on the ways too. Bearings are true.
type Block struct {
	Name       string    `json:"name"` // A1 is the first of the first searcher
	Kind       BlockKind `json:"kind"`
	Lanes      int       `json:"lanes"`  // of a rectangle: courses
	LaneM      float64   `json:"lane_m"` // of a rectangle: the first course
	SpacingM   float64   `json:"spacing_m"`
	OutDeg     float64   `json:"out_deg"`  // the first lane
	BackDeg    float64   `json:"back_deg"` // the second
	SideDeg    float64   `json:"side_deg"` // from the first lane to the second
	Begin      geo.Place `json:"begin"`
	End        geo.Place `json:"end"`
	StartMin   float64   `json:"start_min"`
	EndMin     float64   `json:"end_min"`
	POA        float64   `json:"poa"`
	POD        float64   `json:"pod"`
	POS        float64   `json:"pos"`
	Cumulative float64   `json:"cumulative_pos"`
}

// BlockKind is how a block is walked.
type BlockKind string

// The kinds of block.
const (
	Lanes     BlockKind = "lanes"
	Rectangle BlockKind = "rectangle" // expanding, each course a spacing outside the fourth before it
)

// LegKind is what a leg is for.
type LegKind string

// The kinds of leg. Only Search detects.
const (
	SearchLeg   LegKind = "search"
	TransitLeg  LegKind = "transit"
	ReturnLeg   LegKind = "return"
	RechargeLeg LegKind = "recharge"
)

// Leg is a straight piece of a route, in one ground cover. A leg of a block has
// its name; a way in, between blocks or home has none, and is a search leg too
// where looking out on it finds something. POA is the chance in
// its strip when it is walked, after all that was searched before by anybody;
// POS = POA x POD is what it finds, as a share of the whole chance.
type Leg struct {
	N          int       `json:"n"`
	Kind       LegKind   `json:"kind"`
	Block      string    `json:"block,omitempty"`
	From       geo.Place `json:"from"`
	To         geo.Place `json:"to"`
	StartMin   float64   `json:"start_min"`
	EndMin     float64   `json:"end_min"`
	Cover      string    `json:"cover,omitempty"`
	SweepWidth float64   `json:"sweep_width_m"`
	POA        float64   `json:"poa"`
	POD        float64   `json:"pod"`
	POS        float64   `json:"pos"`
}

func (l *Leg) a() geo.XY { return geo.XY{X: l.From.East, Y: l.From.North} }
func (l *Leg) b() geo.XY { return geo.XY{X: l.To.East, Y: l.To.North} }
