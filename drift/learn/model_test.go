package learn

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/drift"
	"windfall/drift/trigger"
	"windfall/drift/wind"
	"windfall/geo"
)

func ptr(v float64) *float64 { return &v }

// clubFlight is flight i of a club of ours: two vehicles, a streamer or a
// parachute, winds from everywhere.
func clubFlight(i int, r *rand.Rand) drift.Flight {
	f := drift.Flight{
		ID:      fmt.Sprintf("club-%03d", i),
		Site:    drift.Site{Pad: orb.Point{-4.92, 41.905}, Elevation: 780},
		Rail:    drift.Rail{Length: 1.5, LeanDeg: 2 + 4*r.Float64(), TowardDeg: 360 * r.Float64()},
		Vehicle: drift.Vehicle{Mass: 0.9 + 0.4*r.Float64(), Diameter: 0.054, Length: 1.1, Drag: []drift.MachCd{{Mach: 0, Cd: 0.55}}},
		Motor:   drift.Motor{Impulse: ptr(90 + 60*r.Float64()), Burn: ptr(1.6), Propellant: ptr(0.06), Delay: ptr(7)},
	}
	if i%2 == 0 {
		f.Recovery = []drift.Device{{Kind: "streamer", Trigger: trigger.Trigger{Kind: trigger.Ejection}, CdS: 0.09, OpeningDelay: 0.5}}
	} else {
		f.Vehicle.Diameter, f.Vehicle.Length = 0.066, 1.3
		f.Recovery = []drift.Device{{Kind: "parachute", Canopy: true, Trigger: trigger.Trigger{Kind: trigger.Ejection}, CdS: 0.5, Diameter: 0.9, OpeningDelay: 0.6}}
	}
	speed, from := 2+5*r.Float64(), 360*r.Float64()
	p := wind.Profile{Levels: []wind.Level{{Height: 2, Speed: speed, FromDeg: from}, {Height: 200, Speed: 1.6 * speed, FromDeg: from + 8}, {Height: 600, Speed: 2 * speed, FromDeg: from + 20}}}
	f.Wind = []wind.Choice{{Profile: p, Weight: 1}}
	return f
}

// real is what a simulated club's world really is.
type real struct {
	wind, streamer float64 // log of wind speed and of the streamers' CdS
}

// fly returns where flight f really came down.
func (w real) fly(t testing.TB, f drift.Flight, seed uint64) geo.XY {
	t.Helper()
	f.Learned.WindSpeed.Bias = w.wind
	for _, d := range f.Recovery {
		a := drift.Adjust{}
		if d.Kind == "streamer" {
			a.Bias = w.streamer
		}
		f.Learned.Devices = append(f.Learned.Devices, a)
	}
	m, err := drift.Prepare(f)
	require.NoError(t, err)
	var in drift.Input
	var work drift.Work
	m.Draw(seed, int(seed%1000), &in)
	return m.Fly(in, &work).At
}

// club returns n cases flown by the real model in that world.
func club(t testing.TB, n int, w real, seed uint64) []Case {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 5))
	var out []Case
	for i := range n {
		f := clubFlight(i, r)
		at := w.fly(t, f, r.Uint64())
		m, err := drift.Prepare(f)
		require.NoError(t, err)
		find := geo.XY{X: at.X + 5*r.NormFloat64(), Y: at.Y + 5*r.NormFloat64()}
		c, err := NewCase(m, Logged{Find: &find})
		require.NoError(t, err)
		out = append(out, c)
	}
	return out
}

func TestNewCase(t *testing.T) {
	f := clubFlight(1, rand.New(rand.NewPCG(1, 2)))
	f.Recovery = append(f.Recovery, drift.Device{Kind: "parachute", Canopy: true, Trigger: trigger.Trigger{Kind: trigger.Height, Value: 100}, CdS: 1, OpeningDelay: 0.5})
	f.Spread = drift.Spread{WindSpeed: ptr(0.30), LeanDeg: ptr(2), DeviceCdS: ptr(0.15)}
	m, err := drift.Prepare(f)
	require.NoError(t, err)
	c, err := NewCase(m, Logged{Find: &geo.XY{X: 10, Y: 20}, Outcome: "tangled"})
	require.NoError(t, err)
	assert.Equal(t, "66 mm x 1.3 m", c.Vehicle)
	assert.Equal(t, "tangled", c.Chances[c.Outcome].Name)
	var names []string
	for _, l := range c.Links {
		names = append(names, l.Factor)
		want := 1.0
		switch l.Factor {
		case WindSpeed, LeanAlong, LeanAcross:
			want = 2
		}
		assert.Equal(t, want, l.Ratio, l.Factor)
	}
	assert.ElementsMatch(t, []string{WindSpeed, WindDirection, LeanAlong, LeanAcross, YawWavelength, "parachute drag", "parachute drag"}, names)
	assert.NotEmpty(t, c.Shape)
	lost, err := NewCase(m, Logged{})
	require.NoError(t, err)
	assert.Equal(t, -1, lost.Outcome)
	assert.True(t, lost.Lost)

	var w drift.Work
	var in drift.Input
	m.Draw(1, 1, &in)
	at, ok := c.Fly()(in)
	assert.True(t, ok)
	assert.Equal(t, m.Fly(in, &w).At, at)
}

// The real flight model's season is learned from too.
func TestLearnFromTheModel(t *testing.T) {
	_, r := fit(t, club(t, 16, real{wind: math.Log(1.2), streamer: 2 * math.Log(1/0.75)}, 1), 0)
	w, s := factorOf(r, WindSpeed), factorOf(r, dragFactor("streamer"))
	assert.InDelta(t, math.Log(1.2), math.Log(w.Mean), 3*w.MeanSE)
	assert.InDelta(t, 2*math.Log(1/0.75), math.Log(s.Mean), 3*s.MeanSE)
	was, now := r.LogScore()
	assert.Greater(t, now, was)
}

func TestApply(t *testing.T) {
	r := &Result{Finds: 9, Factors: []Factor{
		{Name: WindSpeed, Log: true, Pool: "place", WasMean: 1, WasSD: 0.15, Elsewhere: Member{Mean: 1.1, SD: 0.2}, Members: []Member{{Name: "place 1", Lat: 41.905, Lon: -4.92, Finds: 9, Mean: 1.2, SD: 0.12}}},
		{Name: WindDirection, Pool: "place", WasSD: 10, Elsewhere: Member{Mean: 3, SD: 8}},
		{Name: WindShape, WasSD: 1, WasMean: 1, Log: true, Elsewhere: Member{Mean: 1, SD: 1.3}},
		{Name: "streamer drag", Log: true, Pool: "device", WasMean: 1, WasSD: 0.15, Elsewhere: Member{Mean: 1.5, SD: 0.3}, Members: []Member{{Name: "streamer 0.09 m2", Finds: 4, Mean: 1.78, SD: 0.1}}},
	}, Outcomes: []Outcome{{Name: "nominal", Odds: 0.5}}}
	f := clubFlight(0, rand.New(rand.NewPCG(1, 2)))
	used := r.Apply(&f)
	assert.InDelta(t, math.Log(1.2), f.Learned.WindSpeed.Bias, 1e-12)
	assert.InDelta(t, 0.8, f.Learned.WindSpeed.Scale, 1e-12)
	assert.Equal(t, drift.Adjust{Bias: 3, Scale: 0.8}, f.Learned.WindDirection)
	assert.Equal(t, drift.Adjust{Scale: 1.3}, f.Learned.WindShape)
	assert.Equal(t, drift.Adjust{}, f.Learned.LeanAlong, "nothing known")
	require.Len(t, f.Learned.Devices, 1)
	assert.InDelta(t, math.Log(1.78), f.Learned.Devices[0].Bias, 1e-12)
	sum := 0.0
	for _, c := range f.Outcomes {
		sum += c.P
	}
	assert.InDelta(t, 1, sum, 1e-12)
	assert.InDelta(t, 0.87*0.5/(0.87*0.5+0.13), f.Outcomes[0].P, 1e-12)
	assert.Contains(t, used[0], "learned wind speed: x 1.200, spread 12.0 % (was 15.0 %), from flights of this place: 9")

	g := clubFlight(1, rand.New(rand.NewPCG(1, 2)))
	g.Site.Pad = orb.Point{0, 0}
	used = r.Apply(&g)
	assert.InDelta(t, math.Log(1.1), g.Learned.WindSpeed.Bias, 1e-12)
	assert.Contains(t, used[0], "no flight of this place yet")
	assert.Equal(t, drift.Adjust{}, g.Learned.Devices[0], "no parachute was ever found")
}

// The likely shares sum to the miss, and a miss downwind is the wind's.
func TestExplain(t *testing.T) {
	f := clubFlight(1, rand.New(rand.NewPCG(3, 2)))
	f.Rail.LeanDeg = 0
	m, err := drift.Prepare(f)
	require.NoError(t, err)
	in := drift.Input{Outcome: m.NominalOutcome(), Z: make([]float64, len(m.Coords()))}
	var w drift.Work
	from := m.Fly(in, &w).At
	for i, c := range m.Coords() {
		if c.Name == "wind speed" {
			in.Z[i] = 1
		}
	}
	miss := m.Fly(in, &w).At.Sub(from)
	shares := Explain(m, miss)
	sum := 0.0
	for _, s := range shares {
		sum += s.Likely
	}
	assert.InDelta(t, miss.Norm(), sum, 1e-6*miss.Norm())
	assert.Equal(t, "wind", shares[0].Cause)
	assert.Greater(t, shares[0].Could, miss.Norm(), "two spreads reach what one made")
	assert.Empty(t, Explain(m, geo.XY{}))
}
