package sources

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"windfall/drift/wind"
)

func constant(from, speed float64, heights ...float64) wind.Choice {
	var p wind.Profile
	for _, z := range heights {
		p.Levels = append(p.Levels, wind.Level{Height: z, Speed: speed, FromDeg: from})
	}
	return wind.Choice{Profile: p, Weight: 1}
}

// A wind constant from level to level stays so, whatever is combined with it,
// as long as the measurement agrees.
func TestConstantWindIsReproducedExactly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := rapid.Float64Range(0, 360).Draw(t, "from")
		speed := rapid.Float64Range(0, 40).Draw(t, "speed")
		age := rapid.IntRange(0, 600).Draw(t, "minutes")
		when := at2026(3, 14, 12, 0)
		m := Measurement{Height: 10, FromDeg: from, Speed: speed, Time: when.Add(-time.Duration(age) * time.Minute)}
		cs := Correct([]wind.Choice{constant(from, speed, 10, 100, 1000)}, m, when)
		u0, v0 := components(from, speed)
		for _, z := range []float64{10, 11, 57, 100, 433, 1000, 5000} {
			u, v := cs[0].Profile.At(z)
			if math.Hypot(u-u0, v-v0) > 1e-9 {
				t.Fatalf("at %v m: %v %v, want %v %v", z, u, v, u0, v0)
			}
		}
	})
}

// The share of a fresh measurement, by hand: a forecast's 1.4 m/s against
// sqrt(0.5^2 + (0.1 x 6)^2) m/s of the measurement gives 1.96/(1.96+0.61).
func TestCorrectionFadesWithHeightAndAge(t *testing.T) {
	when := at2026(3, 14, 12, 0)
	base := []wind.Choice{constant(270, 4, 10, 100, 1000, 3000)}
	m := Measurement{Height: 10, FromDeg: 270, Speed: 6, Time: when}
	gain := 1.96 / 2.57
	speedAt := func(m Measurement, z float64) float64 {
		u, v := Correct(base, m, when)[0].Profile.At(z)
		assert.InDelta(t, 0, v, 1e-9)
		return u
	}
	assert.InDelta(t, 4+2*gain, speedAt(m, 10), 1e-9)
	assert.InDelta(t, 4+2*gain*math.Exp(-0.975), speedAt(m, 400), 1e-9) // a level of the corrected profile
	assert.InDelta(t, 4+2*gain*math.Exp(-1990.0/400), speedAt(m, 2000), 1e-9)
	m.Time = when.Add(-3 * time.Hour)
	assert.InDelta(t, 4+2*gain/math.E, speedAt(m, 10), 1e-9)
	m.Time = when.Add(3 * time.Hour)
	assert.InDelta(t, 4+2*gain/math.E, speedAt(m, 10), 1e-9)
	// straight lines between the levels keep to the fading correction: its second
	// derivative is 2 gain/400^2 at most, steps up to 200 m below 1 km
	for z := 10.0; z < 1000; z += 7 {
		assert.InDelta(t, 4+2*gain*math.Exp(-(z-10)/400), speedAt(Measurement{Height: 10, FromDeg: 270, Speed: 6, Time: when}, z), 2*gain/160000*200*200/8, "z %v", z)
	}
}

// What is measured at 2 m is compared with the forecast at 2 m, by the log law
// under its lowest level, and holds down to the ground.
func TestMeasurementBelowTheForecast(t *testing.T) {
	c := constant(270, 6, 10, 100, 1000)
	u2, _ := c.Profile.At(2)
	same := Correct([]wind.Choice{c}, Measurement{Height: 2, FromDeg: 270, Speed: u2}, time.Time{})[0].Profile
	assert.Equal(t, 2.0, same.Levels[0].Height)
	for _, z := range []float64{0.5, 2, 10, 50, 1000} {
		a, _ := c.Profile.At(z)
		b, _ := same.At(z)
		assert.InDelta(t, a, b, 1e-9, "z %v", z)
	}
}

func TestMeasurementNarrowsAndGustsWidenTheSpread(t *testing.T) {
	base := []wind.Choice{constant(270, 6, 10, 100, 1000)}
	calm := Correct(base, Measurement{Height: 10, FromDeg: 270, Speed: 6}, time.Time{})[0].Profile
	var def wind.Profile
	assert.Less(t, calm.ShapeSD(10), 0.6*def.ShapeSD(10))
	assert.InDelta(t, def.ShapeSD(3000), calm.ShapeSD(3000), 1e-3)
	for z := 0.0; z < 3000; z += 50 {
		assert.LessOrEqual(t, calm.ShapeSD(z), def.ShapeSD(z)+1e-9)
	}
	gusty := Correct(base, Measurement{Height: 10, FromDeg: 270, Speed: 6, Gust: ptr(12)}, time.Time{})[0].Profile
	assert.InDelta(t, math.Hypot(calm.ShapeSD(0), 2), gusty.ShapeSD(0), 1e-9) // (12-6)/3
	require.NoError(t, gusty.Check())
}

func TestGustsAndSectorsOfAReport(t *testing.T) {
	plain := readText(t, "METAR LEZZ 141030Z 24010KT", Options{})
	gusty := readText(t, "METAR LEZZ 141030Z 24010G28KT", Options{})
	swings := readText(t, "METAR LEZZ 141030Z 24010KT 180V300", Options{})
	narrow := readText(t, "METAR LEZZ 141030Z 24010KT 225V255", Options{})
	assert.InDelta(t, math.Sqrt(math.Pow(plain.Levels[0].SD, 2)+math.Pow(18*knot/3*math.Exp(-10.0/400), 2)), gusty.Levels[0].SD, 2e-3)
	assert.Greater(t, swings.Levels[0].SD, plain.Levels[0].SD)
	assert.Equal(t, plain.Levels[0].SD, narrow.Levels[0].SD)
}

// A lone forecast has at least the published error in all: 1.4 m/s a component
// at 10 m, 2.8 m/s in mid-troposphere (4 m/s vector), whatever the wind.
func TestForecastHasItsPublishedError(t *testing.T) {
	const calm = `{"elevation": 0, "hourly_units": {"wind_speed_10m": "m/s", "wind_speed_500hPa": "m/s"}, "hourly": {"time": ["2026-04-18T10:00"], "wind_speed_10m": [0], "wind_direction_10m": [0],
"wind_speed_500hPa": [0], "wind_direction_500hPa": [0], "geopotential_height_500hPa": [5500]}}`
	r := readText(t, calm, Options{})
	assert.InDelta(t, 1.4, r.Levels[0].SD, 0.01) // tabled at 0 and 25 m
	assert.InDelta(t, 4/math.Sqrt2, r.Levels[1].SD, 0.03)
	fresh := readFile(t, "forecast.json", Options{When: april18(9, 0)})
	assert.Greater(t, fresh.Levels[0].SD, 1.4, "gusts add to it")
	for _, l := range fresh.Levels {
		assert.GreaterOrEqual(t, l.SD, (wind.Profile{Shape: forecastErrors}).ShapeSD(l.Height)-0.03)
	}
}

func TestCombine(t *testing.T) {
	when := april18(10, 0)
	opt := Options{When: when, Elevation: ptr(412)}
	forecast := readFile(t, "forecast.json", opt)
	members := readFile(t, "ensemble.json", opt)
	metar := readText(t, "METAR LEZZ 180930Z 23010KT", opt)
	cs, err := Combine([]Item{{Report: forecast, Weight: 3}, {Report: members}}, opt)
	require.NoError(t, err)
	require.Len(t, cs, 4)
	assert.InDelta(t, 3, cs[0].Weight, 1e-12)
	assert.InDelta(t, 1.0/3, cs[2].Weight, 1e-12, "members share their source's weight")

	corrected, err := Combine([]Item{{Report: metar}, {Report: forecast}}, opt)
	require.NoError(t, err)
	require.Len(t, corrected, 1)
	m, ok := metar.Measurement()
	require.True(t, ok)
	assert.Equal(t, Correct(cs[:1], m, when)[0].Profile, corrected[0].Profile)

	// variable: toward calm, by 1.96/(1.96 + 0.25 + 0.51 U^2), U = 3 kn
	vrb := readText(t, "METAR LEZZ 181000Z VRB03KT", opt)
	calmed, err := Combine([]Item{{Report: vrb}, {Report: forecast}}, opt)
	require.NoError(t, err)
	require.Len(t, calmed, 1)
	before, after := cs[0].Profile, calmed[0].Profile
	u0, v0 := before.At(10)
	u1, v1 := after.At(10)
	u := 3 * knot
	assert.InDelta(t, 1-1.96/(1.96+0.25+0.51*u*u), math.Hypot(u1, v1)/math.Hypot(u0, v0), 1e-9)

	alone, err := Combine([]Item{{Report: metar}}, opt)
	require.NoError(t, err)
	assert.Len(t, alone[0].Profile.Levels, 1)
	assert.Equal(t, wind.DefaultVeer, alone[0].Profile.VeerDeg)

	_, err = Combine(nil, opt)
	assert.ErrorContains(t, err, "no wind was given")
}

// Two winds at right angles and alike in chance: the mean lies between, and
// half their difference is spread (components 5,0 and 0,5: variance 6.25 each).
func TestMeanHoldsWhatLiesBetween(t *testing.T) {
	a, b := constant(270, 5, 10, 1000), constant(180, 5, 10, 1000)
	ls := Mean([]wind.Choice{a, b}, Options{Elevation: ptr(100)})
	assert.InDelta(t, 225, ls[0].FromDeg, 1e-9)
	assert.InDelta(t, 5/math.Sqrt2, ls[0].Speed, 1e-9)
	own := a.Profile.TotalSD(10, 5, wind.SpeedSpread, wind.DirectionSpread)
	assert.InDelta(t, math.Sqrt(own*own+6.25), ls[0].SD, 1e-9)
	assert.Equal(t, 110.0, ls[0].Elevation)
}

func TestSurfaceOfASoundingIsFlownAtTenMetres(t *testing.T) {
	sounding := func(z ...float64) Report {
		r := Report{Kind: Sounding, Label: "x"}
		for i, h := range z {
			r.Levels = append(r.Levels, Level{Height: h, Elevation: 500 + h, FromDeg: 270, Speed: float64(i + 1)})
		}
		return r
	}
	for _, c := range []struct {
		z      []float64
		height []float64
		first  float64 // speed of the lowest flown
	}{
		{[]float64{0, 300}, []float64{10, 300}, 1},                // the station is the pad's ground
		{[]float64{-30, 300}, []float64{10, 300}, 1},              // nearly so
		{[]float64{30, 300}, []float64{30, 300}, 1},               // the station lies higher: as reported
		{[]float64{-190, 210, 400}, []float64{10, 210, 400}, 1.5}, // the pad lies higher: halfway
		{[]float64{-400, -20, 300}, []float64{10, 300}, 2},
		{[]float64{0, 5, 300}, []float64{10, 300}, 1},
		{[]float64{100, 100, 300}, []float64{100, 300}, 1.5}, // the same height twice
	} {
		cs, err := sounding(c.z...).Choices(Options{})
		require.NoError(t, err)
		var got []float64
		for _, l := range cs[0].Profile.Levels {
			got = append(got, l.Height)
		}
		assert.Equal(t, c.height, got, "%v", c.z)
		assert.InDelta(t, c.first, cs[0].Profile.Levels[0].Speed, 1e-9, "%v", c.z)
	}
	_, err := sounding(-400, -160).Choices(Options{})
	assert.ErrorContains(t, err, "all levels lie below the pad")
}

// Gusts and a point of the compass widen a wind by hand; the one fades, the
// other goes with the speed.
func TestWiden(t *testing.T) {
	base := wind.Profile{Levels: []wind.Level{{Height: 10, Speed: 5, FromDeg: 180}, {Height: 1000, Speed: 10, FromDeg: 180}}}
	gust := 11.0
	p := base
	Widen(&p, &gust, 0)
	assert.InDelta(t, math.Hypot(base.ShapeSD(0), 2), p.ShapeSD(0), 1e-9) // (11-5)/3 at the ground
	assert.InDelta(t, base.ShapeSD(4000), p.ShapeSD(4000), 1e-3)
	p = base
	Widen(&p, nil, 13)
	assert.InDelta(t, math.Hypot(base.ShapeSD(3000), 10*13*math.Pi/180/math.Sqrt2), p.ShapeSD(3000), 1e-9)
	p = base
	p.Spread = &wind.Spread{Rows: []wind.SpreadRow{{Height: 0, SD: 1}, {Height: 2000, SD: 3}}}
	old := p.Spread
	Widen(&p, &gust, 0)
	assert.InDelta(t, math.Hypot(1, 2), p.Spread.Rows[0].SD, 1e-9)
	assert.Equal(t, 1.0, old.Rows[0].SD, "the shared one stays")
	p = base
	Widen(&p, nil, 0)
	assert.Equal(t, base, p)
}
