package evidence

import (
	"context"
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"windfall/drift"
	"windfall/drift/wind"
	"windfall/geo"
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
			{Kind: "streamer", Trigger: drift.Trigger{Kind: drift.Ejection}, CdS: 0.15 * 0.18 * 3, OpeningDelay: 0.5},
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

func TestRealTrial(t *testing.T) {
	m := prepared(t, streamerFlight())
	t.Log(len(m.Coords()), m.Outcomes())
	var in drift.Input
	w := &drift.Work{Record: true}
	m.Draw(99, 12, &in)
	l := m.Fly(in, w)
	t.Logf("%+v path %d %+v", l, len(w.Path), w.Events)
	a, b := at2(m, 500, -300), at2(m, 100, 700)
	ej := at(w.Path, l.EjectionS)
	seen := []Sighting{
		{Kind: Bearing, From: a, BearingDeg: ptr(seenFrom(m, a, l.At) + 2), Event: "landing"},
		{Kind: Bearing, From: b, BearingDeg: ptr(seenFrom(m, b, geo.XY{X: ej.x, Y: ej.y}) - 2), ElevDeg: ptr(25), Event: "ejection"},
		{Kind: Bearing, From: b, BearingDeg: ptr(seenFrom(m, b, l.At) - 1), After: ptr(40)},
		{Kind: Timing, Event: "landing", At: ptr(l.LandingS + 1)},
		{Kind: Timing, Event: "ejection", At: ptr(l.EjectionS)},
		{Kind: Height, Event: "apogee", HeightM: ptr(l.ApogeeM)},
	}
	for n := 6; n <= len(seen); n++ {
		t0 := time.Now()
		p, err := Locate(context.Background(), m, seen[:n], Options{Seed: 1})
		if err != nil {
			t.Log(n, err, time.Since(t0))
			continue
		}
		mx, my, xx, _, yy := weighted(p.Cloud)
		t.Log(n, time.Since(t0), "eff", int(p.Effective), "of", len(p.Cloud.Landings), "flights", p.Flights, fmt.Sprintf("%.0f %.0f sd %.0f %.0f truth %.0f %.0f", mx, my, math.Sqrt(xx), math.Sqrt(yy), l.At.X, l.At.Y))
		for _, o := range p.Outcomes {
			t.Logf("   %s %.3f -> %.4f (%.4f)", o.Name, o.Before, o.After, o.SE)
		}
		for _, s := range p.Sightings {
			t.Logf("   %s wrong %.3f(%.3f) moved %.2f without %.0f", s.Sighting, s.Wrong, s.WrongSE, s.Moved, s.AreaWithout)
		}
	}
}
