package drift

import (
	"windfall/drift/trigger"
	"windfall/geo"
)

// Landing is where and how a run came down. Times are in s from ignition,
// heights in m above the pad, speeds in m/s over the ground.
type Landing struct {
	At          geo.XY
	Outcome     int // index in Outcomes
	ApogeeM     float64
	ApogeeS     float64
	EjectionS   float64 // NaN: the charge would fire after landing, or there is none
	LandingS    float64
	LandingMps  float64
	RailExitMps float64 // along the rail
	BurnoutS    float64
	OffTerrain  bool // the terrain has no elevation there: flat ground at pad elevation was taken
}

// PartLanding is where a shed part came down; Shed is false where the flight
// ended before it could come off.
type PartLanding struct {
	At           geo.XY
	ShedS, LandS float64 // s
	LandMps      float64
	Shed         bool
}

// Sample is a point of a recorded path: s, m, m/s.
type Sample struct{ T, X, Y, Z, VX, VY, VZ float64 }

// Event is something an observer may see. Name is burnout, apogee, ejection,
// opening (Device says which, counted from 0) or landing.
type Event struct {
	Name   string
	Device int
	T      float64 // s
}

// Work is the scratch memory of one goroutine. The zero value is ready; after
// the first few flights of a model it allocates no more.
type Work struct {
	Record bool          // keep Path and Events of the flight
	Path   []Sample      // of the last flight, ascending in T
	Events []Event       // of the last flight, ascending in T
	Parts  []PartLanding // of the last flight, in the order of Flight.Parts

	m     *Model
	table *windTable
	run
	wind  []windNode
	shape [][2]float64
	cell  int

	tol     tolerances
	nominal bool // fly as designed, in the wind of greatest weight
	exact   bool // to tight tolerances
	bare    bool // fly without recovery
	t       float64
	y       [dim]float64 // state
	phase   phase
	moving  bool
	past    bool // apogee is past
	left    bool // the rail is left
	burning bool
	row     int     // of the thrust curve
	rowEnd  float64 // s, the kink or jump of the thrust that no step passes
	swings  bool    // the direction of the body is part of the state
	h       float64 // next step, s
	landing Landing
	slots   []slot
	track   []trackStep
	keep    bool // the track
	dp      dormandPrince
	fall    falling
}

// phase says which equations carry the vehicle.
type phase uint8

const (
	onRail phase = iota
	axial
	descent
	landed
)

// slot is a trigger that something waits for: a device, or a part's bounds.
type slot struct {
	trigger.Trigger
	due   float64 // s; +Inf: not known yet
	fired float64 // s; NaN: not yet
	state [6]float64
	armed bool // by height
}

// trackStep is a step of the flight as a cubic in time.
type trackStep struct {
	t0, t1 float64
	y0, y1 [6]float64
	d0, d1 [6]float64
}

// why an integration stopped
type stop uint8

const (
	timeUp stop = iota
	railLeft
	railHalt
	topped
	fellThrough
	grounded
)
