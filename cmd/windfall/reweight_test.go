package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/geo"
	"windfall/geo/grid"
)

// An outside reader takes the landings that predict writes, weights each by the
// documented likelihood of two bearings of the landing, and must get the map
// that locate gives, within the sampling errors of both. Bearings here are by
// spherical trigonometry from latitude and longitude, a method of its own; on
// the ellipsoid it is wrong by at most 0.1 degrees at these places.
func TestOutsideReweighting(t *testing.T) {
	dir := t.TempDir()
	garza, err := filepath.Abs("../../testdata/garza/flight.yaml")
	require.NoError(t, err)
	book, landings := filepath.Join(dir, "log.db"), filepath.Join(dir, "cloud.csv")
	say := func(args ...string) []byte {
		var out, errs bytes.Buffer
		e := env{out: &out, err: &errs, now: testClock, getenv: func(string) string { return "" }}
		args = append(args, "--logbook", book)
		require.Zero(t, run(context.Background(), e, args), "%v: %s", args, &errs)
		return out.Bytes()
	}
	type bearing struct{ lat, lon, deg float64 }
	seen := []bearing{{41.9050, -4.9260, 45}, {41.9120, -4.9150, 240}}
	for _, b := range seen {
		say("saw", garza, "--by", "x", "--from", text(b.lat)+","+text(b.lon), "--bearing", text(b.deg), "--event", "landing")
	}
	say("predict", garza, "--runs", "60000", "--landings", landings, "--out", filepath.Join(dir, "out"))
	var located struct {
		Runs    int `json:"effective_runs"`
		Landing struct {
			Mean  geo.Place
			Areas []struct {
				AreaM2 float64 `json:"area_m2"`
			}
		}
		Outcomes []struct {
			Name            string
			Probability, SE float64
		}
	}
	require.NoError(t, json.Unmarshal(say("locate", garza, "--json", "--runs", "6000", "--out", filepath.Join(dir, "out")), &located))

	f, err := os.Open(landings)
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	num := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		require.NoError(t, err)
		return v
	}
	var pts []geo.XY
	var w []float64
	outcome, sum := map[string]float64{}, 0.0
	for _, r := range rows[1:] {
		weight := num(r[4])
		for _, b := range seen {
			d := math.Remainder(sphereBearing(b.lat, b.lon, num(r[0]), num(r[1]))-b.deg, 360)
			weight *= 0.95*math.Exp(-d*d/18)/(3*math.Sqrt(2*math.Pi)) + 0.05/360
		}
		pts, w = append(pts, geo.XY{X: num(r[2]), Y: num(r[3])}), append(w, weight)
		outcome[r[5]] += weight
		sum += weight
	}
	mom, err := grid.Measure(pts, w)
	require.NoError(t, err)
	g, err := grid.From(geo.Frame{Origin: orb.Point{-4.9210, 41.9050}}, pts, w, grid.Options{})
	require.NoError(t, err)
	n := math.Min(mom.Effective, float64(located.Runs))
	require.Greater(t, n, 1000.0)
	axis := mom.Ellipse(1 - math.Exp(-0.5)).SemiMajor
	mean := geo.XY{X: located.Landing.Mean.East, Y: located.Landing.Mean.North}
	assert.Less(t, mean.Sub(mom.Mean).Norm(), 4*axis/math.Sqrt(n), "mean, axis %.0f m", axis)
	// The relative error of an area is near that of a variance, sqrt(2/n).
	assert.InEpsilon(t, g.Area(0.9), located.Landing.Areas[2].AreaM2, 3*math.Sqrt(2*2/n))
	for _, o := range located.Outcomes {
		p := outcome[o.Name] / sum
		assert.InDelta(t, p, o.Probability, 4*math.Hypot(o.SE, math.Sqrt(p*(1-p)/mom.Effective))+1e-3, o.Name)
	}
}

func text(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// sphereBearing is the initial bearing of the great circle, degrees.
func sphereBearing(lat1, lon1, lat2, lon2 float64) float64 {
	const rad = math.Pi / 180
	dl := (lon2 - lon1) * rad
	y := math.Sin(dl) * math.Cos(lat2*rad)
	x := math.Cos(lat1*rad)*math.Sin(lat2*rad) - math.Sin(lat1*rad)*math.Cos(lat2*rad)*math.Cos(dl)
	return math.Atan2(y, x) / rad
}
