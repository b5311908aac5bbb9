package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/report"
	"windfall/drift"
)

// seasonFlight writes the file of one flight of a simulated club.
func seasonFlight(t *testing.T, dir, id string, i int, r *rand.Rand) string {
	t.Helper()
	device := "{device: streamer, trigger: ejection, width: 150 mm, length: 4 m, drag: 0.15, opening_delay: 0.5 s}"
	if i%2 == 1 {
		device = "{device: parachute, trigger: ejection, diameter: 0.9 m, drag: 0.8, opening_delay: 0.6 s}"
	}
	speed, from := 2+5*r.Float64(), 360*r.Float64()
	text := fmt.Sprintf(`flight: %s
when: 2026-03-14T10:30:00+01:00
site: {pad: "41.9050, -4.9210", elevation: 780 m}
rail: {length: 1.5 m, lean: %.1f deg, toward: %.0f deg}
vehicle: {mass: 1.1 kg, diameter: 54 mm, length: 1.1 m, drag: 0.55}
motor: {designation: G80-7, impulse: %.0f N s, burn: 1.6 s, propellant: 60 g, delay: 7 s}
recovery: [%s]
wind:
  - {height: 2 m, from: %.0f deg, speed: %.2f m/s}
  - {height: 200 m, from: %.0f deg, speed: %.2f m/s}
  - {height: 600 m, from: %.0f deg, speed: %.2f m/s}
`, id, 2+4*r.Float64(), 360*r.Float64(), 90+60*r.Float64(), device,
		from, speed, math.Mod(from+8, 360), 1.6*speed, math.Mod(from+20, 360), 2*speed)
	path := filepath.Join(dir, id+".yaml")
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	return path
}

// cameDown is where the flight really landed: the wind was 20 % stronger than
// the file has it, and streamers fell 25 % slower than computed.
func cameDown(t *testing.T, path string, seed uint64) string {
	t.Helper()
	f, err := flightfile.Read(path)
	require.NoError(t, err)
	f.Flight.Learned.WindSpeed.Bias = math.Log(1.2)
	if f.Flight.Recovery[0].Kind == "streamer" {
		f.Flight.Learned.Devices = []drift.Adjust{{Bias: 2 * math.Log(1/0.75)}}
	}
	m, err := drift.Prepare(f.Flight)
	require.NoError(t, err)
	var in drift.Input
	var w drift.Work
	m.Draw(seed, int(seed%1000), &in)
	p := m.Frame().ToLonLat(m.Fly(in, &w).At)
	return fmt.Sprintf("%.6f,%.6f", p.Lat(), p.Lon())
}

// TestSeasonThroughCommands runs a club's season through the real commands:
// predict and found for every flight, learn, then the maps of a new season with
// and without what was learned.
func TestSeasonThroughCommands(t *testing.T) {
	if os.Getenv("WINDFALL_SLOW") == "" {
		t.Skip("a minute long; run it with WINDFALL_SLOW=1 go test -v -run SeasonThroughCommands ./cmd/windfall")
	}
	const season, later = 30, 60
	dir := t.TempDir()
	book := filepath.Join(dir, "club.db")
	do := func(args ...string) []byte {
		var out, errs bytes.Buffer
		code := run(context.Background(), env{out: &out, err: &errs, now: func() time.Time { return time.Date(2026, 4, 18, 12, 0, 0, 0, time.UTC) }, getenv: func(string) string { return book }}, args)
		require.Zero(t, code, "%v: %s", args, errs.String())
		return out.Bytes()
	}
	t.Setenv("WINDFALL_LOGBOOK", book)
	r := rand.New(rand.NewPCG(7, 7))
	level := func(path, at string, flags ...string) float64 {
		var got report.Found
		require.NoError(t, json.Unmarshal(do(append([]string{"found", path, at, "--json", "--no-plan", "--anyway", "--runs", "4000"}, flags...)...), &got))
		return got.Level
	}
	was := 0
	for i := range season {
		path := seasonFlight(t, dir, fmt.Sprintf("spring-%02d", i), i, r)
		do("predict", path, "--json", "--runs", "2000", "--out", filepath.Join(dir, "out"))
		if level(path, cameDown(t, path, r.Uint64())) <= 0.9 {
			was++
		}
	}
	fmt.Printf("first season, maps of the defaults: %d of %d finds inside their 90 %% areas\n%s", was, season, do("learn"))
	inside, plain := 0, 0
	for i := range later {
		path := seasonFlight(t, dir, fmt.Sprintf("autumn-%02d", i), i, r)
		at := cameDown(t, path, r.Uint64())
		do("predict", path, "--json", "--runs", "2000", "--out", filepath.Join(dir, "out"))
		if level(path, at) <= 0.9 {
			inside++
		}
		if level(path, at, "--no-learning") <= 0.9 {
			plain++
		}
	}
	fmt.Printf("new season: %d of %d inside with learning, %d without\n", inside, later, plain)
	assert.Less(t, float64(plain)/later, 0.82)
	assert.Greater(t, float64(inside)/later, 0.80) // 0.9 less 2.6 standard errors of 60
	assert.Greater(t, inside, plain+5)
}
