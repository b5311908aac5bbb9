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
}

// Options of Make. The zero value is what most want.
type Options struct {
	Seed    uint64
	Pattern Pattern // "": the plan that finds soonest
}

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
	Searchers   []Route `json:"searchers"`

	Cautions []string `json:"-"`
	remains  *grid.Map
}

// Remains returns the chance that is left in each cell after the plan, not
// scaled up: its sum and Outside are Left.
func (p *Plan) Remains() *grid.Map { return p.remains }

// Route is what one searcher does.
type Route struct {
	Name       string  `json:"name"`
	Kind       Kind    `json:"kind"`
	SweepWidth float64 `json:"sweep_width_m"` // widest of the search legs
	Minutes    float64 `json:"minutes"`       // when back at the start
	Legs       []Leg   `json:"legs"`
}

// LegKind is what a leg is for.
type LegKind string

// The kinds of leg. Only Search detects.
const (
	SearchLeg   LegKind = "search"
	TransitLeg  LegKind = "transit"
	ReturnLeg   LegKind = "return"
	RechargeLeg LegKind = "recharge"
)

// Leg is a straight piece of a route, in one ground cover. POA is the chance in
// its strip when it is walked, after all that was searched before by anybody;
// POS = POA x POD is what it finds, as a share of the whole chance.
type Leg struct {
	N          int       `json:"n"`
	Kind       LegKind   `json:"kind"`
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
