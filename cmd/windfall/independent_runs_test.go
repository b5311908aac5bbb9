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

// TestRunsAgainstIndependent holds single runs of the Monte Carlo, each outcome
// with its inputs away from the nominal, to testdata/independent/runs.json (made
// by runs.py there, SciPy's DOP853). The tolerances are those asked of the
// nominal flight, twice over in place: the Monte Carlo's steps are longer.
func TestRunsAgainstIndependent(t *testing.T) {
	const dir = "../../testdata/independent"
	b, err := os.ReadFile(filepath.Join(dir, "runs.json"))
	require.NoError(t, err)
	var runs []struct {
		Case, Outcome string
		Z             map[string]float64
		Numbers       struct {
			RailExit float64 `json:"rail_exit_mps"`
			Apogee   float64 `json:"apogee_m"`
			ApogeeS  float64 `json:"apogee_s"`
			LandingS float64 `json:"landing_s"`
			Landing  float64 `json:"landing_mps"`
			X, Y     float64
		}
	}
	require.NoError(t, json.Unmarshal(b, &runs))
	require.NotEmpty(t, runs)
	models := map[string]*drift.Model{}
	var w drift.Work
	calm := 0.0
	for _, r := range runs {
		m := models[r.Case]
		if m == nil {
			file, err := flightfile.Read(filepath.Join(dir, "cases", r.Case, "flight.yaml"))
			require.NoError(t, err)
			file.Flight.Spread.WindShape = &calm
			if file.Flight.Spread.DeviceCdS == nil { // the truth's devices have no bias
				run := 0.15
				file.Flight.Spread.DeviceCdS = &run
			}
			m, err = drift.Prepare(file.Flight)
			require.NoError(t, err)
			models[r.Case] = m
		}
		in := drift.Input{Outcome: -1, Z: make([]float64, len(m.Coords()))}
		for k, o := range m.Outcomes() {
			if o.Name == r.Outcome {
				in.Outcome = k
			}
		}
		require.GreaterOrEqual(t, in.Outcome, 0)
		for j, c := range m.Coords() {
			z, ok := r.Z[c.Name]
			require.True(t, ok, c.Name)
			in.Z[j] = z
		}
		l, want := m.Fly(in, &w), r.Numbers
		name := r.Case + ", " + r.Outcome
		close := func(what string, want, got, floor float64) {
			assert.InDelta(t, want, got, 0.001*math.Abs(want)+floor, "%s: %s", name, what)
		}
		close("rail exit", want.RailExit, l.RailExitMps, 0.05)
		close("apogee", want.Apogee, l.ApogeeM, 0.1)
		close("apogee time", want.ApogeeS, l.ApogeeS, 0.02)
		close("landing time", want.LandingS, l.LandingS, 0.02)
		close("landing speed", want.Landing, l.LandingMps, 0.05)
		off := math.Hypot(l.At.X-want.X, l.At.Y-want.Y)
		assert.Less(t, off, 2*(0.001*math.Hypot(want.X, want.Y)+0.5), name)
	}
}
