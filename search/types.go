package search

import "windfall/geo"

// Searcher is one walker or drone.
type Searcher struct {
	Name      string
	Kind      Kind
	Speed     float64 // m/s over open, level ground
	Start     geo.XY  // where they set out and come back to
	Available float64 // s, from Joins to being back at the start
	Joins     float64 // s after the plan's beginning; 0: at once
	At        *geo.XY // where they are when they join; nil: at Start

	// Drones only.
	Height   float64 // m above ground
	FieldDeg float64 // field of view across track, degrees
	Pixels   int     // across the field of view
	Sortie   float64 // s of flight on one charge
	Recharge float64 // s between sorties
	Flown    float64 // s of the present charge used when they join
	Reach    float64 // m from the start; 0: no limit given
	MaxWind  float64 // m/s; 0: not given

	legsDone int // of an earlier plan, by Replan
}

// Kind is the kind of a searcher.
type Kind string

// The kinds.
const (
	Walker Kind = "walker"
	Drone  Kind = "drone"
)

// Target is what is looked for.
type Target struct {
	Length, Width float64            // m
	Colour        string             // as written
	SeenAt        map[string]float64 // cover class -> range in m of a one-minute test
	Unseen        map[string]float64 // cover class -> share that nobody can see there; else the class's default
	HeardAt       float64            // m, range of a sounder; 0: none
}
