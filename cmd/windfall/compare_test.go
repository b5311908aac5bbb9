package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
	"github.com/paulmach/orb/planar"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const garza = "../../testdata/garza"

// windfall runs one command line in this process, with a logbook of its own,
// and returns its standard output.
func windfall(t testing.TB, args ...string) []byte {
	t.Helper()
	var out, errs bytes.Buffer
	book := filepath.Join(t.TempDir(), "logbook.db")
	e := env{out: &out, err: &errs, now: testClock, getenv: func(k string) string {
		if k == "WINDFALL_LOGBOOK" {
			return book
		}
		return ""
	}}
	require.Zero(t, run(context.Background(), e, append(args, "--logbook", book)), errs.String())
	return out.Bytes()
}

// The chance of the field is the share of the landings file that lies in
// field.geojson, counted in degrees by orb's own point in polygon: none of our
// frames, readers or zones take part. Degrees bend a side of 1 km by under 2 cm.
func TestFieldChanceIsTheCountOfLandings(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "cloud.csv")
	raw := windfall(t, "predict", garza, "--json", "--runs", "8000", "--out", dir, "--landings", file)
	var r struct {
		Places []struct {
			Name            string
			Probability, SE float64
		}
	}
	require.NoError(t, json.Unmarshal(raw, &r))
	text, err := os.ReadFile(garza + "/field.geojson")
	require.NoError(t, err)
	fc, err := geojson.UnmarshalFeatureCollection(text)
	require.NoError(t, err)
	in, err := os.Open(file)
	require.NoError(t, err)
	defer in.Close()
	rows, err := csv.NewReader(in).ReadAll()
	require.NoError(t, err)
	n := 0
	for _, row := range rows[1:] {
		lat, _ := strconv.ParseFloat(row[0], 64)
		lon, _ := strconv.ParseFloat(row[1], 64)
		if planar.PolygonContains(fc.Features[0].Geometry.(orb.Polygon), orb.Point{lon, lat}) {
			n++
		}
	}
	require.Equal(t, "field", r.Places[0].Name)
	require.Greater(t, n, 1000)
	assert.InDelta(t, float64(n)/float64(len(rows)-1), r.Places[0].Probability, 0.0005)
	assert.Greater(t, r.Places[0].SE, 0.0)
}

// A row of compare is predict with the same settings: same draws, same chance.
func TestARowIsThePrediction(t *testing.T) {
	type place struct {
		Name            string
		Probability, SE float64
	}
	var c struct {
		Rows []struct {
			Set    map[string]string
			Places []place
		}
	}
	var p struct{ Places []place }
	dir := t.TempDir()
	require.NoError(t, json.Unmarshal(windfall(t, "compare", garza, "--set", "motor.delay=8 s,5 s", "--json", "--runs", "600", "--out", dir), &c))
	require.NoError(t, json.Unmarshal(windfall(t, "predict", garza, "--json", "--runs", "600", "--out", dir), &p))
	for _, row := range c.Rows {
		if row.Set["motor.delay"] == "8 s" {
			assert.Equal(t, p.Places, row.Places, "the example's own delay is 8 s")
			return
		}
	}
	t.Fatal("no such row")
}

// BenchmarkCompareDay is a day's decision: 24 times of a forecast by 5 delays,
// 5000 flights each. Under 10 s on two cores:
//
//	go test -run '^$' -bench CompareDay -benchtime 1x ./cmd/windfall
func BenchmarkCompareDay(b *testing.B) {
	var hours []string
	for k := range 24 {
		hours = append(hours, fmt.Sprintf("%d:%02d", 8+k/2, 30*(k%2)))
	}
	for b.Loop() {
		windfall(b, "compare", garza, "--set", "wind=forecast.json", "--set", "motor.delay=6 s,6.5 s,7 s,7.5 s,8 s",
			"--hours", strings.Join(hours, ","), "--runs", "5000", "--json", "--out", b.TempDir())
	}
}
