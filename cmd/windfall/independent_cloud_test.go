package main

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/drift"
)

// independentCloud is one outcome (or "all") of a case of
// testdata/independent/montecarlo.json: 20 000 runs of a separate
// implementation in NumPy, errors by bootstrap.
type independentCloud struct {
	Runs   float64    `json:"runs"`
	Mean   [2]float64 `json:"mean_m"`
	MeanSE [2]float64 `json:"mean_se_m"`
	Axes   [2]float64 `json:"semi_axes_m"`
	AxesSE [2]float64 `json:"semi_axes_se_m"`
}

// Semi-axes and centre may differ by 3 % and twice the sampling error of both
// sides. The error of our runs is that of theirs, scaled by the square root of
// the run counts: the clouds are alike or the test fails anyway.
func TestCloudAgainstIndependent(t *testing.T) {
	const dir, runs = "../../testdata/independent", 20000
	b, err := os.ReadFile(filepath.Join(dir, "montecarlo.json"))
	require.NoError(t, err)
	var truth map[string]map[string]independentCloud
	require.NoError(t, json.Unmarshal(b, &truth))
	require.NotEmpty(t, truth)
	for name, outcomes := range truth {
		t.Run(name, func(t *testing.T) {
			require.Contains(t, outcomes, "all")
			require.Contains(t, outcomes, "nominal")
			file, err := flightfile.Read(filepath.Join(dir, "cases", name, "flight.yaml"))
			require.NoError(t, err)
			if file.Flight.Spread.DeviceCdS == nil { // the truth's devices have no bias
				run := 0.15
				file.Flight.Spread.DeviceCdS = &run
			}
			m, err := drift.Prepare(file.Flight)
			require.NoError(t, err)
			c, err := m.Run(context.Background(), drift.Options{Runs: runs, Seed: 1})
			require.NoError(t, err)
			require.Len(t, c.Landings, runs)
			require.Nil(t, c.Weights)
			for outcome, want := range outcomes {
				points := pointsOf(c, outcome)
				n, _ := points.Dims()
				// Five standard errors of a share that both sides sampled.
				share, wantShare := float64(n)/runs, want.Runs/outcomes["all"].Runs
				se := math.Sqrt(wantShare * (1 - wantShare) * (1.0/runs + 1/outcomes["all"].Runs))
				assert.InDelta(t, wantShare, share, 5*se, "%s: share", outcome)
				compareCloud(t, outcome, want, points)
			}
		})
	}
}

// pointsOf returns the landings of an outcome, or of all, one row each.
func pointsOf(c *drift.Cloud, outcome string) *mat.Dense {
	var xy []float64
	for _, l := range c.Landings {
		if outcome == "all" || c.Outcomes[l.Outcome].Name == outcome {
			xy = append(xy, l.At.X, l.At.Y)
		}
	}
	if len(xy) == 0 {
		return mat.NewDense(1, 2, nil)
	}
	return mat.NewDense(len(xy)/2, 2, xy)
}

func compareCloud(t *testing.T, outcome string, want independentCloud, points *mat.Dense) {
	n, _ := points.Dims()
	both := math.Sqrt(1 + want.Runs/float64(n))
	var cov mat.SymDense
	stat.CovarianceMatrix(&cov, points, nil)
	var eigen mat.EigenSym
	require.True(t, eigen.Factorize(&cov, false))
	values := eigen.Values(nil) // ascending
	for i := range 2 {
		axis := math.Sqrt(values[1-i])
		assert.InDelta(t, want.Axes[i], axis, 0.03*want.Axes[i]+2*both*want.AxesSE[i], "%s: semi-axis %d", outcome, i)
	}
	x, y := stat.Mean(mat.Col(nil, 0, points), nil), stat.Mean(mat.Col(nil, 1, points), nil)
	off := math.Hypot(x-want.Mean[0], y-want.Mean[1])
	assert.Less(t, off, 0.03*want.Axes[0]+2*both*math.Hypot(want.MeanSE[0], want.MeanSE[1]), "%s: centre", outcome)
}
