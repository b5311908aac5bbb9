package drift

import (
	"context"
	"math"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/drift/trigger"
	"windfall/drift/wind"
)

// dual is a large rocket to 3 km with drogue and main in a 40-level sounding.
func dual() Flight {
	f := small()
	f.Rail = Rail{Length: 3, LeanDeg: 3, TowardDeg: 250}
	f.Vehicle = Vehicle{Mass: 18, Diameter: 0.13, Length: 2.6, Drag: []MachCd{{0, 0.5}, {0.8, 0.52}, {1, 0.75}, {1.2, 0.7}}}
	f.Motor = Motor{Impulse: ptr(4900), Burn: ptr(4.2), Propellant: ptr(2.5), Delay: ptr(18)}
	f.Recovery = []Device{
		{Kind: "drogue", Canopy: true, Trigger: trigger.Trigger{Kind: trigger.Apogee, Value: 1}, CdS: 0.4, OpeningDelay: 0.5},
		{Kind: "main", Canopy: true, Trigger: trigger.Trigger{Kind: trigger.Height, Value: 250}, CdS: 7, Diameter: 3.2, OpeningDelay: 0.8},
	}
	p := wind.Profile{}
	for i := range 40 {
		z := 10 + 100*float64(i)
		p.Levels = append(p.Levels, wind.Level{Height: z, Speed: 4 + 3*math.Log(z/10) + math.Sin(float64(i)), FromDeg: 240 + float64(i)})
	}
	f.Wind = []wind.Choice{{Profile: p}}
	return f
}

// flights are the benchmark's cases.
func flights() map[string]Flight {
	pointing := small()
	pointing.Vehicle.YawWavelength = ptr(0)
	ballistic := dual()
	ballistic.Recovery = nil
	return map[string]Flight{"small streamer": small(), "small streamer, level 1": pointing, "dual deployment": dual(), "ballistic": ballistic}
}

func BenchmarkFlight(b *testing.B) {
	for _, name := range []string{"small streamer", "small streamer, level 1", "dual deployment", "ballistic"} {
		b.Run(name, func(b *testing.B) {
			m, err := Prepare(flights()[name])
			require.NoError(b, err)
			var w Work
			var in Input
			m.Draw(1, 0, &in)
			m.Fly(in, &w)
			b.ReportAllocs()
			b.ResetTimer()
			from := cpuSeconds()
			for i := range b.N {
				m.Draw(1, i, &in)
				m.Fly(in, &w)
			}
			b.ReportMetric(float64(b.N)/(cpuSeconds()-from), "flights/cpu-s")
		})
	}
}

// TestFastAgainstExact holds the Monte Carlo's steps on the benchmark's flights
// to a twentieth of a percent of the path (apogee and drift) and 0.2 m, root
// mean square.
func TestFastAgainstExact(t *testing.T) {
	const n = 200
	for name, f := range flights() {
		m, err := Prepare(f)
		require.NoError(t, err)
		fast, exact := Work{}, Work{exact: true}
		var in Input
		var square, path float64
		for i := range n {
			m.Draw(1, i, &in)
			a, b := m.Fly(in, &fast), m.Fly(in, &exact)
			square += sq(a.At.Sub(b.At).Norm())
			path += b.ApogeeM + b.At.Norm()
		}
		assert.Less(t, math.Sqrt(square/n), 0.0005*path/n+0.2, name)
	}
}

// BenchmarkMillion flies a million runs on all processors and reports what they
// hold in memory.
func BenchmarkMillion(b *testing.B) {
	m, err := Prepare(small())
	require.NoError(b, err)
	for range b.N {
		from := cpuSeconds()
		c, err := m.Run(context.Background(), Options{Runs: 1_000_000, Seed: 1})
		require.NoError(b, err)
		var mem runtime.MemStats
		runtime.ReadMemStats(&mem)
		b.ReportMetric(float64(mem.Sys)/1e6, "MB")
		b.ReportMetric(float64(len(c.Landings))/(cpuSeconds()-from), "flights/cpu-s")
	}
}
