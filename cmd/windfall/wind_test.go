package main

import (
	"bytes"
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/drift/wind/sources"
)

// session runs one command line and returns its status, output and messages.
func session(t *testing.T, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, err bytes.Buffer
	book := filepath.Join(t.TempDir(), "logbook.db")
	e := env{out: &out, err: &err, now: testClock, getenv: func(k string) string {
		return map[string]string{"WINDFALL_LOGBOOK": book}[k]
	}}
	code = run(context.Background(), e, args)
	return code, out.String(), err.String()
}

const fetchFlight = `flight: fetched-01
when: 2026-04-18T11:20:00+02:00
site: {pad: "41.9050, -4.9210", elevation: 412 m}
rail: {length: 1.5 m}
vehicle: {mass: 320 g, diameter: 42 mm, length: 80 cm}
motor: {designation: D12-5, propellant: 21 g}
recovery:
  - {device: parachute, trigger: ejection, descent_rate: 5 m/s}
wind: forecast-20260418T0920Z.json
`

// The forecast is fetched at home, saved beside the flight file, and flown on
// the field without a network. The flight file may name it before it is there.
func TestFetchThenFlyWithoutANetwork(t *testing.T) {
	raw, err := os.ReadFile("../../drift/wind/sources/testdata/forecast.json")
	require.NoError(t, err)
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write(raw) }))
	dir := t.TempDir()
	flight := filepath.Join(dir, "flight.yaml")
	require.NoError(t, os.WriteFile(flight, []byte(fetchFlight), 0o644))
	saved := filepath.Join(dir, "forecast-20260418T0920Z.json")

	code, stdout, stderr := session(t, "wind", "--fetch", "pad", "--flight", flight, "--service", s.URL+"/v1/forecast", "--json")
	require.Zero(t, code, stderr)
	var got sources.Document
	require.NoError(t, json.Unmarshal([]byte(stdout), &got))
	assert.Equal(t, "2026-04-18T09:20:00Z", *got.Valid)
	assert.Contains(t, got.Files, saved)
	assert.FileExists(t, filepath.Join(dir, "out", "wind.png"))
	b, err := os.ReadFile(saved)
	require.NoError(t, err)
	assert.Equal(t, raw, b, "the raw answer is saved as it came")

	s.Close() // on the field
	code, stdout, stderr = session(t, "predict", flight, "--runs", "200", "--json")
	require.Zero(t, code, stderr)
	assert.Contains(t, stdout, `"apogee_m"`)
	code, _, stderr = session(t, "wind", "--fetch", "pad", "--flight", flight, "--service", s.URL)
	assert.Equal(t, 1, code)
	assert.Contains(t, stderr, "without a network give a forecast saved before")
	again, err := os.ReadFile(saved)
	require.NoError(t, err)
	assert.Equal(t, raw, again, "a failed fetch leaves the saved forecast")
}

func TestFailedFetchLeavesNoFile(t *testing.T) {
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		_, _ = w.Write([]byte(`{"error":true,"reason":"too many requests"}`))
	}))
	defer s.Close()
	dir := t.TempDir()
	flight := filepath.Join(dir, "flight.yaml")
	require.NoError(t, os.WriteFile(flight, []byte(fetchFlight), 0o644))
	code, stdout, stderr := session(t, "wind", "--fetch", "pad", "--flight", flight, "--service", s.URL)
	assert.Equal(t, 1, code)
	assert.Empty(t, stdout)
	assert.Contains(t, stderr, "too many requests")
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, entries, 1, "the flight file alone")
}
