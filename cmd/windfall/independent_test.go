package main

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/drift"
)

// independentTruth is a case of truth.json or random.json in
// testdata/independent, made by a separate implementation in SciPy (its README
// there).
type independentTruth struct {
	Error       string
	RailExitMps float64  `json:"rail_exit_mps"`
	BurnoutS    float64  `json:"burnout_s"`
	ApogeeM     float64  `json:"apogee_m"`
	ApogeeS     float64  `json:"apogee_s"`
	EjectionS   *float64 `json:"ejection_s"`
	LandingS    float64  `json:"landing_s"`
	LandingMps  float64  `json:"landing_mps"`
	Landing     struct {
		Lat, Lon float64
		East     float64 `json:"east_m"`
		North    float64 `json:"north_m"`
	}
}

// The tolerances asked for are 0.1 % and 0.1 m, 0.02 s, 0.05 m/s, 0.5 m; both
// sides integrate far tighter, so a twentieth of them is held.
func TestNominalAgainstIndependent(t *testing.T) {
	const dir = "../../testdata/independent"
	compareNominal(t, filepath.Join(dir, "truth.json"), filepath.Join(dir, "cases"))
	compareNominal(t, filepath.Join(dir, "random.json"), filepath.Join(dir, "random"))
}

func compareNominal(t *testing.T, truthFile, cases string) {
	b, err := os.ReadFile(truthFile)
	require.NoError(t, err)
	var truth map[string]independentTruth
	require.NoError(t, json.Unmarshal(b, &truth))
	require.NotEmpty(t, truth)
	for name, want := range truth {
		t.Run(name, func(t *testing.T) {
			file, err := flightfile.Read(filepath.Join(cases, name, "flight.yaml"))
			require.NoError(t, err)
			m, err := drift.Prepare(file.Flight)
			if want.Error != "" {
				require.Error(t, err, want.Error)
				return
			}
			require.NoError(t, err)
			const part = 0.05
			close := func(what string, want, got, floor float64) {
				assert.InDelta(t, want, got, part*(0.001*math.Abs(want)+floor), what)
			}
			n := m.Nominal()
			close("rail exit", want.RailExitMps, n.RailExitMps, 0.05)
			close("burnout", want.BurnoutS, n.BurnoutS, 0.02)
			close("apogee", want.ApogeeM, n.ApogeeM, 0.1)
			close("apogee time", want.ApogeeS, n.ApogeeS, 0.02)
			if want.EjectionS == nil {
				assert.True(t, math.IsNaN(n.EjectionS), "no ejection")
			} else {
				close("ejection", *want.EjectionS, n.EjectionS, 0.02)
			}
			close("landing time", want.LandingS, n.LandingS, 0.02)
			close("landing speed", want.LandingMps, n.LandingMps, 0.05)
			off := math.Hypot(n.At.X-want.Landing.East, n.At.Y-want.Landing.North)
			assert.Less(t, off, part*(0.001*math.Hypot(want.Landing.East, want.Landing.North)+0.5), "landing point")
			place := m.Frame().Place(n.At)
			assert.InDelta(t, want.Landing.Lat, place.Lat, 1e-6)
			assert.InDelta(t, 0, math.Remainder(want.Landing.Lon-place.Lon, 360), 1e-6)
		})
	}
}
