package learn

import (
	"strings"

	"github.com/paulmach/orb"

	"windfall/drift"
	"windfall/drift/wind"
	"windfall/geo"
)

// Case is one flight with all that was logged of it.
type Case struct {
	Flight  string         // id
	Pad     orb.Point      // flights from pads within placeRadius share a place
	Vehicle string         // flights of the same vehicle share a name; "": none
	Lost    bool           // it was never found: Find says nothing
	Find    geo.XY         // m from the pad
	FindSD  float64        // m in each direction; 0: 5
	Outcome int            // index into Chances where it is known, else -1
	Chances []drift.Chance // the outcomes and their chances before learning
	Links   []Link         // which inputs belong to which factor
	Shape   []int          // coordinates of the wind's shape; empty: none
	Of      string         // factor of that shape's spread; "": WindShape
	Dim     int            // number of coordinates
	Fly     flyer
	Entries []Entry // what else is known of it
	// Weigh returns a function, for use by one goroutine, that flies one input and
	// fills what its entries say of it; nil without entries.
	Weigh func() func(in drift.Input, out Told) (at geo.XY, ok bool)

	PlaceTitle, VehicleTitle string // what people call them; may be empty
}

// Entry is something that was logged of a flight, its find apart.
type Entry struct {
	ID   int64  // of the logbook; 0: none
	Says string // what it tells, in few words: "landing at 92 s"
	What string // its kind in explanations: "landing time", "bearing"
	By   string // who; may be empty
}

// Told is what the entries of a case say of one run, by entry.
type Told struct {
	Log     []float64 // of the likelihood, mistakes included
	Mistake []float64 // chance that it is one
	Off     []float64 // what was said less what the run has: degrees or s; NaN: neither
}

// flyer returns a function that flies one input, for use by one goroutine; ok
// is false for a flight that cannot be flown.
type flyer func() func(in drift.Input) (at geo.XY, ok bool)

// Link ties a coordinate of a flight's input to a factor.
type Link struct {
	Coord  int     // index into Input.Z
	Factor string  // name of a Spec, or of a device's drag: see dragFactor
	Group  string  // the member of its pool: the vehicle or device; "" for places, which Fit finds
	Ratio  float64 // the flight's own spread over the Spec's; 0 means 1
}

// Spec is a factor: an input that flights have in common.
type Spec struct {
	Name string
	SD   float64 // default spread; of the logarithm when Log, else degrees or plain
	Log  bool    // it multiplies: its mean is told as exp
	Pool string  // place, vehicle or device; "" for none
	Unit string  // for reports: "" or "deg"
}

// Names of the factors. Drag of devices has one factor for each kind of device.
const (
	WindSpeed     = "wind speed"
	WindDirection = "wind direction"
	WindShape     = "wind shape"
	LeanAlong     = "lean along"
	LeanAcross    = "lean across"
	YawWavelength = "yaw wavelength"
	dragSuffix    = " drag"
	rateSuffix    = " sink rate"
)

// dragFactor names the factor of the drag of a kind of device.
func dragFactor(kind string) string { return kind + dragSuffix }

// deviceFactor names the factor of a device's drag: one whose rate of descent
// was measured does not share the bias of those that were computed.
func deviceFactor(d *drift.Device) string {
	if d.DescentRate != nil {
		return d.Kind + rateSuffix
	}
	return dragFactor(d.Kind)
}

// Specs are the factors every flight may have; the defaults are those of the
// flight model's table of what varies. A device's drag is like deviceSpec.
var specs = [...]Spec{
	{WindSpeed, 0.15, true, "place", ""},
	{WindDirection, 10, false, "place", "deg"},
	{WindShape, 1, false, "", ""}, // its spread alone is learned
	{LeanAlong, 1, false, "vehicle", "deg"},
	{LeanAcross, 1, false, "vehicle", "deg"},
	{YawWavelength, 0.25, true, "vehicle", ""},
}

// windFactor names a factor of the wind for the kind of wind of a flight: what
// a club's surface readings are worth says nothing of its forecasts.
func windFactor(name string, f *drift.Flight) string {
	if s := f.MainSpread(); s != nil && s.Kind != wind.Fresh {
		return name + kindMark + s.Kind.String()
	}
	return name
}

// IsShape tells whether a factor is the spread of a wind's shape.
func IsShape(factor string) bool {
	name, _, _ := strings.Cut(factor, kindMark)
	return name == WindShape
}

// kindMark stands between a factor of the wind and the kind of wind.
const kindMark = ", "

// specOf returns the factor of that name.
func specOf(name string) Spec {
	base, _, _ := strings.Cut(name, kindMark)
	for _, s := range specs {
		if s.Name == base {
			s.Name = name
			return s
		}
	}
	return Spec{name, 0.15, true, "device", ""}
}

// placeRadius is how far apart two pads of one place may be, in metres: a
// choice of ours, the size of a launch field and its neighbours.
const placeRadius = 2000

// places gives each case the number of its place: the first case within reach
// founds it.
func places(cases []Case) (of []int, at []orb.Point) {
	of = make([]int, len(cases))
next:
	for i, c := range cases {
		for j, p := range at {
			if near(p, c.Pad) {
				of[i] = j
				continue next
			}
		}
		of[i] = len(at)
		at = append(at, c.Pad)
	}
	return of, at
}

func near(a, b orb.Point) bool {
	return geo.Frame{Origin: a}.ToXY(b).Norm() <= placeRadius
}
