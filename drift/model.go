package drift

import (
	"math"

	"windfall/drift/motorcode"
	"windfall/drift/wind"
	"windfall/geo"
)

// Model is a flight made ready: checked, its gaps filled with stated
// assumptions, its air and wind tabulated. It does not change after Prepare
// and may be flown from many goroutines, each with its own Work.
type Model struct {
	flight      Flight
	frame       geo.Frame
	assumptions []string
	cautions    []string
	marks       []string

	air       air
	airRows   []airNode
	airBottom float64 // m above the pad, height of airRows[0]
	g0        float64 // m/s2 at sea level, pad latitude

	area       float64 // m2, body cross-section
	sideCdS    float64 // m2, tumbling; 0: 3 x the axial CdA
	drag       []MachCd
	wavelength float64 // m; 0: level 1
	damping    float64

	curve      []thrustRow
	breaks     []float64       // s, times the thrust has a kink worth a step's end
	code       *motorcode.Code // the impulse is drawn in its class
	propellant float64         // kg, nominal
	perImpulse bool            // propellant goes with the impulse drawn
	delay      float64         // s; NaN: none

	devices  []device
	outcomes []Chance
	kinds    []outcome // of outcomes
	parts    []Part
	between  bool // a part sheds at an unknown time: the flight's track is kept
	spread   spreads

	layout
	table, fine *windTable // the Monte Carlo's winds; the same, for exact flights
	mainChoice  int        // of the winds: the nominal flight's
	nominal     Nominal
}

// device is a recovery device in numbers.
type device struct {
	Device
	cds  float64 // m2
	wide float64 // standard deviation of the logarithm of cds
	fill float64 // m, canopy fill distance; used when FillTime is nil
}

// spreads are the standard deviations, the defaults filled in.
type spreads struct {
	lean, impulse, delay, drag, yaw, mass, opening, speed, turn, shape float64

	own bool // the wind has the spread of its kind, not one that the flight gives
}

// Defaults of the spreads, all choices of ours to be replaced by what finds
// teach: rail lean in degrees, wind direction in degrees, the rest relative.
var defaultSpreads = spreads{
	lean: 1, impulse: 0.03, delay: 0.10, drag: 0.10, yaw: 0.25, mass: 0.01,
	opening: 0.30, speed: wind.SpeedSpread, turn: wind.DirectionSpread, shape: 1,
}

// Values assumed where a flight file is silent; choices of ours.
const (
	defaultCd         = 0.6
	defaultCdSpread   = 0.25
	defaultDamping    = 0.1
	normalForceSlope  = 10.0 // per radian (Barrowman 1967 gives 8 to 15 for finned models, from memory)
	staticMargin      = 1.5  // calibers
	canopyCd          = 0.8  // of a canopy given by drag area alone
	fillDiameters     = 8.0  // canopy fill distance in diameters (Knacke 1991, flat circular, from memory)
	tumblingCd        = 1.0  // on length x diameter
	tumblingAxial     = 3.0  // times the axial CdA, where the length is not known
	delayBound        = 0.2  // the delay strays no further than this share of itself
	leastWavelength   = 0.1  // m of yaw: a body with a shorter one points into the wind at once
	delayBoundSeconds = 1.5  // or this, whichever is greater (NFPA 1125, from memory)
	lateFactor        = 5.0  // late opening: times the opening delay
)

// Frame returns the local frame, its origin at the pad.
func (m *Model) Frame() geo.Frame { return m.frame }

// Flight returns the flight the model was made of.
func (m *Model) Flight() Flight { return m.flight }

// Assumptions returns what Prepare assumed where the flight was silent, one
// sentence each.
func (m *Model) Assumptions() []string { return m.assumptions }

// Cautions returns what a flier should look at again before flying, one
// sentence each.
func (m *Model) Cautions() []string { return m.cautions }

// Marks returns in a word or two each which rules of thumb, and whether the
// ceiling, the nominal flight breaks: "lands hard". Cautions says each in full.
func (m *Model) Marks() []string { return m.marks }

// Outcomes returns the ways the flight may go and their chances, in the order
// that Input.Outcome and Landing.Outcome count in.
func (m *Model) Outcomes() []Chance { return m.outcomes }

// massAt returns kg at t seconds.
func (r *run) massAt(t float64) float64 {
	return r.mass - r.propellant*r.impulseShare(t)
}

// impulseShare returns the part of the impulse delivered by t, 0 to 1.
func (r *run) impulseShare(t float64) float64 {
	n := len(r.curve)
	if t <= r.curve[0].t {
		return 0
	}
	if t >= r.curve[n-1].t {
		return 1
	}
	i := 0
	for i+2 < n && t >= r.curve[i+1].t {
		i++
	}
	c := &r.curve[i]
	dt := t - c.t
	return (c.impulse + dt*(c.n+0.5*c.slope*dt)) / r.curve[n-1].impulse
}

func cdAt(table []MachCd, mach float64) float64 {
	n := len(table)
	if n == 1 || mach <= table[0].Mach {
		return table[0].Cd
	}
	if mach >= table[n-1].Mach {
		return table[n-1].Cd
	}
	i := 1
	for table[i].Mach < mach {
		i++
	}
	a, b := &table[i-1], &table[i]
	return a.Cd + (b.Cd-a.Cd)*(mach-a.Mach)/(b.Mach-a.Mach)
}

func diskArea(d float64) float64 { return math.Pi * d * d / 4 }
