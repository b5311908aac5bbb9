package evidence

import (
	"context"
	"fmt"
	"math"
	"os"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/drift"
	"windfall/drift/trigger"
	"windfall/drift/wind"
	"windfall/geo"
	"windfall/geo/grid"
)

// streamerFlight is a small rocket on a streamer, our own invention.
func streamerFlight() drift.Flight {
	delay, impulse, burn, mass := 9.0, 270.0, 1.8, 0.145
	return drift.Flight{
		ID: "test", When: time.Date(2026, 3, 14, 9, 30, 0, 0, time.UTC),
		Site:    drift.Site{Pad: orb.Point{-5.5831, 39.0512}, Elevation: 412},
		Rail:    drift.Rail{Length: 1.8, LeanDeg: 5, TowardDeg: 250},
		Vehicle: drift.Vehicle{Mass: 1.85, Diameter: 0.076, Length: 1.65, Drag: []drift.MachCd{{Mach: 0, Cd: 0.58}}},
		Motor:   drift.Motor{Impulse: &impulse, Burn: &burn, Propellant: &mass, Delay: &delay},
		Recovery: []drift.Device{
			{Kind: "streamer", Trigger: trigger.Trigger{Kind: trigger.Ejection}, CdS: 0.15 * 0.18 * 3, OpeningDelay: 0.5},
		},
		Wind: []wind.Choice{{Weight: 1, Profile: wind.Profile{Levels: []wind.Level{{Height: 2, Speed: 4, FromDeg: 240}, {Height: 600, Speed: 12.3, FromDeg: 262}}}}},
	}
}

func prepared(t testing.TB, f drift.Flight) *drift.Model {
	m, err := drift.Prepare(f)
	require.NoError(t, err)
	return m
}

func at2(m *drift.Model, east, north float64) *geo.Place {
	p := m.Frame().Place(geo.XY{X: east, Y: north})
	return &p
}

// seenFrom makes the bearing an exact observer at from gives of p.
func seenFrom(m *drift.Model, from *geo.Place, p geo.XY) float64 {
	f := geo.Frame{Origin: orb.Point{from.Lon, from.Lat}}
	return f.ToXY(m.Frame().ToLonLat(p)).BearingDeg()
}

// Sightings more than four standard deviations from what the flight file
// expects still leave thousands of effective runs of the real flight.
func TestFarEvidence(t *testing.T) {
	m := prepared(t, streamerFlight())
	prior, err := m.Run(context.Background(), drift.Options{Runs: 4000, Seed: 9})
	require.NoError(t, err)
	var pts []geo.XY
	for _, l := range prior.Landings {
		if l.Outcome == 0 {
			pts = append(pts, l.At)
		}
	}
	mom, err := grid.Measure(pts, nil)
	require.NoError(t, err)
	e := mom.Ellipse(1 - math.Exp(-0.5)) // one sigma
	along := geo.Polar(4.5*e.SemiMajor, e.AzimuthDeg)
	if along.X*mom.Mean.X+along.Y*mom.Mean.Y < 0 {
		along = along.Scale(-1) // downwind of everything
	}
	v := mom.Mean.Add(along)
	seen := []Sighting{bearingOf(m, geo.XY{X: -200, Y: -500}, v, 0), bearingOf(m, geo.XY{X: 600, Y: 500}, v, 0)}
	for i := range seen {
		seen[i] = sharp(seen[i], 1)
		seen[i].Sure = ptr(1)
	}
	p, err := Locate(context.Background(), m, seen, Options{Runs: 2500, Seed: 1, Divided: true})
	require.NoError(t, err)
	assert.GreaterOrEqual(t, p.Effective, 2000.0)
	mx, my, xx, _, yy := cloudMoments(p.Cloud)
	assert.Less(t, v.Sub(geo.XY{X: mx, Y: my}).Norm(), 60.0)
	assert.Less(t, math.Sqrt(xx+yy), 80.0)
	t.Logf("effective %.0f of %d after %d flights; ln evidence %.1f", p.Effective, len(p.Cloud.Landings), p.Flights, p.LogEvidence)
}

// Outcomes and places of the real flight against brute-force rejection; with
// WINDFALL_SLOW=1 millions of runs, else as many as seconds allow.
func TestFlightAgainstRejection(t *testing.T) {
	m := prepared(t, streamerFlight())
	from, other := m.Frame().Place(geo.XY{X: 500, Y: -300}), m.Frame().Place(geo.XY{X: -300, Y: 300})
	seen := []Sighting{
		{Kind: Timing{Moment: Moment{Event: "landing", At: ptr(48), TimeSD: 3}}},
		{Kind: Bearing{Observer: Observer{From: &from}, BearingDeg: ptr(300), BearingSD: 6, Moment: Moment{Event: "landing"}}},
		{Kind: Looks{Looked: looksFast}},
		{Kind: Bearing{Observer: Observer{From: &other}, BearingDeg: ptr(150), BearingSD: 10, Moment: Moment{After: ptr(20)}}},
	}
	n, runs := 100_000, 5000
	if slow() {
		n, runs = 2_500_000, 20000
	}
	p, err := Locate(context.Background(), m, seen, Options{Seed: 1, Runs: runs})
	require.NoError(t, err)
	pts, outcome := rejection(m, seen, n)
	agree(t, m, p, pts, outcome)
	assert.Greater(t, p.Outcomes[2].After, 2*p.Outcomes[2].Before, "tangled")
}

// slow tells whether the long proofs are asked for:
// WINDFALL_SLOW=1 go test -run Rejection ./drift/evidence
func slow() bool { return os.Getenv("WINDFALL_SLOW") != "" }

// A part was found: vehicle and part share the wind, so the vehicle's map turns
// after it.
func TestPartFound(t *testing.T) {
	f := streamerFlight()
	f.Parts = []drift.Part{{Name: "pod", Mass: 0.07, CdS: 0.005, Sheds: [2]trigger.Trigger{{Kind: trigger.Apogee}, {Kind: trigger.Apogee}}, Chance: 0.1}}
	m := prepared(t, f)
	prior, err := Locate(context.Background(), m, nil, Options{Runs: 1000, Seed: 1})
	require.NoError(t, err)
	require.Len(t, prior.Cloud.Parts, 1)
	// Of all runs take the one whose pod fell farthest north of the others.
	best := 0
	for i, l := range prior.Cloud.Parts[0].Landings {
		if l.At.Y > prior.Cloud.Parts[0].Landings[best].At.Y {
			best = i
		}
	}
	at := m.Frame().Place(prior.Cloud.Parts[0].Landings[best].At)
	body := []byte(fmt.Sprintf(`{"part":"pod","lat":%.9f,"lon":%.9f}`, at.Lat, at.Lon))
	s, ok, err := Decode(5, "Ana", "find", body)
	require.NoError(t, err)
	require.True(t, ok)
	p, err := Locate(context.Background(), m, []Sighting{s}, Options{Runs: 1000, Seed: 1, Divided: true})
	require.NoError(t, err)
	_, my, _, _, yy := cloudMoments(p.Cloud)
	even := *prior.Cloud
	even.Weights = make([]float64, len(even.Landings))
	for i := range even.Weights {
		even.Weights[i] = 1 / float64(len(even.Weights))
	}
	_, my0, _, _, yy0 := cloudMoments(&even)
	assert.Greater(t, my, my0+50)
	assert.Less(t, yy, yy0)
	s.Kind = PartFound{"fin", s.Kind.(PartFound).Found}
	_, err = Locate(context.Background(), m, []Sighting{s}, Options{Runs: 1000, Seed: 1})
	assert.ErrorContains(t, err, `has no part "fin"; its parts: pod`)
}

// What no flight comes near is refused with what they reach; what lies aside
// gives a caution; good sightings pass.
func TestCheck(t *testing.T) {
	m := prepared(t, streamerFlight())
	from := m.Frame().Place(geo.XY{X: -1500})
	n := m.Nominal()
	for _, c := range []struct {
		s    Sighting
		want string
	}{
		{Sighting{Kind: Bearing{Observer: Observer{From: &from}, BearingDeg: ptr(90), ElevDeg: ptr(80), Moment: Moment{Event: "ejection"}}}, "from there no simulated flight stands higher than"},
		{Sighting{Kind: Bearing{Observer: Observer{From: &from}, BearingDeg: ptr(90), Moment: Moment{At: ptr(900)}}}, "is after the landing: the latest simulated flight lands at"},
		{Sighting{Kind: Bearing{Observer: Observer{From: &from}, BearingDeg: ptr(90), Moment: Moment{After: ptr(900)}}}, "is after the landing"},
		{Sighting{Kind: Timing{Moment: Moment{Event: "landing", At: ptr(900)}}}, "in simulated flights it comes between"},
		{Sighting{Kind: Timing{Moment: Moment{Event: "landing", After: ptr(900)}}}, "in simulated flights it comes by"},
		{Sighting{Kind: Timing{Moment: Moment{Event: "burnout", Before: ptr(0)}}}, ""},
		{Sighting{Kind: Timing{Moment: Moment{Event: "opening 2", At: ptr(20)}}}, "never comes in any simulated flight"},
		{Sighting{Kind: Height{HeightM: ptr(2000), Moment: Moment{Event: "apogee"}}}, "is it feet?"},
		{Sighting{Kind: Bearing{Observer: Observer{From: &from}, BearingDeg: ptr(85), ElevDeg: ptr(15), Moment: Moment{Event: "ejection"}}}, ""},
		{Sighting{Kind: Timing{Moment: Moment{Event: "landing", At: ptr(n.LandingS)}}}, ""},
	} {
		_, err := Check(context.Background(), m, c.s, Options{})
		if c.want == "" {
			assert.NoError(t, err)
			continue
		}
		assert.ErrorContains(t, err, c.want)
		var reach *OutOfReach
		assert.ErrorAs(t, err, &reach)
	}
	aside, err := Check(context.Background(), m, Sighting{Kind: Bearing{Observer: Observer{From: &from}, BearingDeg: ptr(270), Moment: Moment{Event: "landing"}}}, Options{})
	require.NoError(t, err)
	assert.Contains(t, aside, "aside of every simulated flight")
}
