package drift

import (
	"time"

	"github.com/paulmach/orb"

	"windfall/drift/trigger"
	"windfall/drift/wind"
	"windfall/geo"
)

// Flight is everything a run needs, in SI units; the reader of the flight file
// fills it. Pointers and empty slices stand for what was left out.
type Flight struct {
	ID       string
	When     time.Time // ignition
	Site     Site
	Rail     Rail
	Vehicle  Vehicle
	Motor    Motor
	Recovery []Device
	Wind     []wind.Choice // at least one
	Spread   Spread
	Learned  Learned  // what finds have taught; zero: nothing
	Outcomes []Chance // empty: the defaults
	Parts    []Part
	Terrain  Terrain // nil: flat ground at pad elevation
}

// Terrain gives the elevation of the ground in metres above mean sea level at
// a point of the pad's frame; ok is false where the model has none.
type Terrain interface {
	Elevation(p geo.XY) (m float64, ok bool)
}

// Site is the pad and the air over it.
type Site struct {
	Pad         orb.Point
	Elevation   float64  // m above mean sea level
	Temperature *float64 // K at the pad; nil: standard
	QNH         *float64 // Pa; nil: standard
	Station     *float64 // Pa at the pad itself, in place of QNH; nil: none
	Ceiling     *float64 // m above the pad, height limit; nil: none
}

// Rail is the launch rail.
type Rail struct {
	Length    float64 // m guided
	LeanDeg   float64 // degrees from vertical
	TowardDeg float64 // degrees true, the way it leans
}

// Vehicle is the airframe with its motor.
type Vehicle struct {
	Mass          float64  // kg on the rail
	Diameter      float64  // m
	Length        float64  // m; 0: not known
	Drag          []MachCd // one row: constant; empty: not given
	Apogee        *float64 // m: the drag is found from it
	YawWavelength *float64 // m; nil: estimated from Length, or level 1
	YawDamping    *float64 // nil: 0.1
}

// MachCd is a row of a drag table.
type MachCd struct{ Mach, Cd float64 }

// TimeThrust is a row of a thrust table: s, N.
type TimeThrust struct{ T, N float64 }

// Motor is the motor. Either Thrust, or Impulse and Burn, or a Designation in
// the hobby's code is given.
type Motor struct {
	Designation string
	Thrust      []TimeThrust
	Impulse     *float64 // N s
	Burn        *float64 // s
	Propellant  *float64 // kg
	Delay       *float64 // s after burnout; nil: none
}

// Device is a recovery device.
type Device struct {
	Kind         string // streamer, parachute, ...
	Trigger      trigger.Trigger
	CdS          float64  // m2; 0 when DescentRate is given
	DescentRate  *float64 // m/s at sea level, in place of CdS
	Diameter     float64  // m, canopies; 0: from CdS at Cd 0.8
	Canopy       bool     // fills over a distance; false: streamers, at once
	OpeningDelay float64  // s
	FillTime     *float64 // s; nil: by the canopy's fill distance
	Releases     bool     // the earlier devices go at its trigger
}

// Chance is an outcome and its probability.
type Chance struct {
	Name string
	P    float64
}

// Part may come off in flight.
type Part struct {
	Name   string
	Mass   float64            // kg
	CdS    float64            // m2
	Sheds  [2]trigger.Trigger // at Sheds[0] when both are equal, else uniform in time between
	Chance float64
}

// Spread holds the standard deviations of the run-to-run inputs; nil means the
// model's default. Relative ones are of the logarithm where the model says
// log-normal.
type Spread struct {
	LeanDeg, Impulse, Delay, Drag, YawWavelength, Mass *float64
	DeviceCdS, OpeningDelay                            *float64
	WindSpeed, WindDirectionDeg, WindShape             *float64 // WindShape multiplies s(z); 1 by default
}

// Learned moves the run-to-run inputs from where Spread has them, as earlier
// finds have taught. The zero value changes nothing.
type Learned struct {
	WindSpeed     Adjust   // logarithm of the scale over the whole profile
	WindDirection Adjust   // turn of the whole profile, degrees clockwise
	WindShape     Adjust   // its Scale alone counts
	LeanAlong     Adjust   // degrees more lean, in its plane
	LeanAcross    Adjust   // degrees, square to it, to the right seen from behind
	YawWavelength Adjust   // logarithm of the wavelength
	Devices       []Adjust // logarithm of each device's CdS, in Recovery's order; short: the rest unchanged
}

// Adjust moves one normal input of standard deviation sd: its value becomes
// Bias + Scale sd Z, with Z from N(0, 1).
type Adjust struct {
	Bias  float64 // in the input's own unit: degrees, or of the logarithm
	Scale float64 // of the spread, plain number; 0 means 1
}

// Value returns the input for a draw z from N(0, 1).
func (a Adjust) Value(sd, z float64) float64 {
	if a.Scale != 0 {
		sd *= a.Scale
	}
	return a.Bias + sd*z
}
