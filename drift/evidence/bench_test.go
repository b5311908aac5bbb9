package evidence

import (
	"context"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"windfall/drift"
	"windfall/geo"
)

// six sightings of one flight, a little wrong each.
func sixSightings(m *drift.Model) []Sighting {
	var in drift.Input
	w := &drift.Work{Record: true}
	m.Draw(99, 12, &in)
	l := m.Fly(in, w)
	a, b := at2(m, 500, -300), at2(m, 100, 700)
	ej := at(w.Path, l.EjectionS)
	return []Sighting{
		{ID: 1, Kind: Bearing{Observer: Observer{From: a}, BearingDeg: ptr(seenFrom(m, a, l.At) + 2), Moment: Moment{Event: "landing"}}},
		{ID: 2, Kind: Bearing{Observer: Observer{From: b}, BearingDeg: ptr(seenFrom(m, b, geo.XY{X: ej.x, Y: ej.y}) - 2), ElevDeg: ptr(25), Moment: Moment{Event: "ejection"}}},
		{ID: 3, Kind: Bearing{Observer: Observer{From: b}, BearingDeg: ptr(seenFrom(m, b, l.At) - 1), Moment: Moment{After: ptr(40)}}},
		{ID: 4, Kind: Timing{Moment: Moment{Event: "landing", At: ptr(l.LandingS + 1)}}},
		{ID: 5, Kind: Timing{Moment: Moment{Event: "ejection", At: ptr(l.EjectionS)}}},
		{ID: 6, Kind: Height{HeightM: ptr(l.ApogeeM), Moment: Moment{Event: "apogee"}}},
	}
}

// BenchmarkLocate is locate with six sightings and 20 000 effective runs.
func BenchmarkLocate(b *testing.B) {
	m := prepared(b, streamerFlight())
	seen := sixSightings(m)
	b.ResetTimer()
	for range b.N {
		p, err := Locate(context.Background(), m, seen, Options{Seed: 1})
		require.NoError(b, err)
		require.GreaterOrEqual(b, p.Effective, 20000.0)
		b.ReportMetric(float64(p.Flights), "flights")
		b.ReportMetric(p.Effective, "effective")
	}
}

func BenchmarkLocate2000(b *testing.B) {
	m := prepared(b, streamerFlight())
	seen := sixSightings(m)
	b.ResetTimer()
	for range b.N {
		_, err := Locate(context.Background(), m, seen, Options{Seed: 1, Runs: 2000})
		require.NoError(b, err)
	}
}

func BenchmarkSpotters(b *testing.B) {
	m := prepared(b, streamerFlight())
	var cands []Candidate
	for i := range 10 {
		p := at2(m, -400+100*float64(i), 300)
		cands = append(cands, Candidate{At: orb.Point{p.Lon, p.Lat}})
	}
	b.ResetTimer()
	for range b.N {
		_, err := Spotters(context.Background(), m, cands, SpotterOptions{Seed: 1})
		require.NoError(b, err)
	}
}
