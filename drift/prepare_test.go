package drift

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/drift/wind"
	"windfall/geo"
)

func TestBadInputNamesTheField(t *testing.T) {
	for field, spoil := range map[string]func(*Flight){
		"vehicle.mass":             func(f *Flight) { f.Vehicle.Mass = -1 },
		"vehicle.diameter":         func(f *Flight) { f.Vehicle.Diameter = 0 },
		"vehicle.drag[1].mach":     func(f *Flight) { f.Vehicle.Drag = []MachCd{{0.5, 0.5}, {0.4, 0.6}} },
		"vehicle.drag":             func(f *Flight) { f.Vehicle.Drag = []MachCd{{0, math.NaN()}} },
		"vehicle.apogee":           func(f *Flight) { f.Vehicle.Drag, f.Vehicle.Apogee = nil, ptr(5000) },
		"vehicle.yaw_wavelength":   func(f *Flight) { f.Vehicle.YawWavelength = ptr(-3) },
		"motor.thrust[2].time_s":   func(f *Flight) { f.Motor.Thrust = []TimeThrust{{0, 1}, {1, 5}, {0.5, 3}} },
		"motor.thrust[1].thrust_n": func(f *Flight) { f.Motor.Thrust = []TimeThrust{{0, 1}, {1, -5}} },
		"motor.thrust":             func(f *Flight) { f.Motor.Impulse = ptr(0.5) },
		"motor.delay":              func(f *Flight) { f.Motor.Delay = ptr(-1) },
		"motor.designation":        func(f *Flight) { f.Motor = Motor{Designation: "green one"} },
		"recovery[0].trigger":      func(f *Flight) { f.Motor.Delay = nil },
		"recovery[0].drag_area":    func(f *Flight) { f.Recovery[0].CdS = 0 },
		"recovery[0].descent_rate": func(f *Flight) { f.Recovery[0].DescentRate = ptr(0) },
		"wind":                     func(f *Flight) { f.Wind = nil },
		"wind[0].height":           func(f *Flight) { f.Wind[0].Profile.Levels[0].Height = 0.02 },
		"wind[1].height": func(f *Flight) {
			f.Wind[0].Profile.Levels = []wind.Level{{Height: 10}, {Height: 5}}
		},
		"rail.length":           func(f *Flight) { f.Rail.Length = 0 },
		"site.elevation":        func(f *Flight) { f.Site.Elevation = 20000 },
		"outcomes":              func(f *Flight) { f.Outcomes = []Chance{{"nominal", 0.5}} },
		"outcomes.lost":         func(f *Flight) { f.Outcomes = []Chance{{"lost", 1}} },
		"spread.wind_speed":     func(f *Flight) { f.Spread.WindSpeed = ptr(-0.1) },
		"parts[0].mass":         func(f *Flight) { f.Parts = []Part{{CdS: 0.1}} },
		"site.temperature":      func(f *Flight) { f.Site.Temperature = ptr(20) },
		"site.pressure":         func(f *Flight) { f.Site.QNH = ptr(1013) },
		"vehicle.yaw_damping":   func(f *Flight) { f.Vehicle.YawDamping = ptr(-1) },
		"recovery[0].fill_time": func(f *Flight) { f.Recovery[0].FillTime = ptr(-1) },
	} {
		f := small()
		spoil(&f)
		_, err := Prepare(f)
		var fe *FieldError
		require.ErrorAs(t, err, &fe, field)
		assert.Equal(t, field, fe.Field)
	}
}

// What is odd but possible flies, and is said.
func TestCautions(t *testing.T) {
	say := func(f Flight) string {
		m, err := Prepare(f)
		require.NoError(t, err)
		all := ""
		for _, s := range append(m.Cautions(), m.Assumptions()...) {
			all += s + "\n"
		}
		return all
	}
	f := small()
	f.Motor.Delay = ptr(60)
	assert.Contains(t, say(f), "fires the charge after the nominal flight has landed")
	assert.Contains(t, say(f), "streamer does not open before the nominal flight lands")
	f = small()
	f.Wind[0].Profile.Levels = []wind.Level{{Height: 2, Speed: 3}, {Height: 50, Speed: 5}}
	assert.Contains(t, say(f), "no wind given above 50 m")
	f = small()
	f.Motor = Motor{Designation: "C6-5"}
	assert.Contains(t, say(f), "only the motor's designation is given")
	f.Terrain = hole{}
	assert.Contains(t, say(f), "terrain has no elevation at the pad")
}

type hole struct{}

func (hole) Elevation(geo.XY) (float64, bool) { return 0, false }

// Ground 30 m above the pad ends the fall earlier by about 30 m over the sink
// rate; below the pad it goes on as far.
func TestTerrainEndsTheFall(t *testing.T) {
	f := small()
	flat := nominal(t, f)
	f.Terrain = plain(f.Site.Elevation + 30)
	high := nominal(t, f)
	f.Terrain = plain(f.Site.Elevation - 30)
	low := nominal(t, f)
	assert.InDelta(t, flat.LandingS-high.LandingS, low.LandingS-flat.LandingS, 0.2)
	assert.Greater(t, flat.LandingS-high.LandingS, 2.0)
}

func TestDragFoundFromApogee(t *testing.T) {
	f := small()
	f.Recovery = nil
	want := nominal(t, f).ApogeeM
	f.Vehicle.Drag, f.Vehicle.Apogee = nil, &want
	m, err := Prepare(f)
	require.NoError(t, err)
	assert.InDelta(t, 0.6, m.drag[0].Cd, 1e-3)
	assert.InDelta(t, want, m.Nominal().ApogeeM, 0.01)
}
