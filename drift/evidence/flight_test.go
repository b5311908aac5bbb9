package evidence

import (
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
