package sources

import (
	"context"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func serve(t *testing.T, h http.HandlerFunc) Request {
	t.Helper()
	s := httptest.NewServer(h)
	t.Cleanup(s.Close)
	return Request{Service: s.URL + "/v1/forecast", Place: orb.Point{-4.921, 41.905}, When: april18(9, 20)}
}

func TestFetchAsksForTheLaunchDay(t *testing.T) {
	raw, err := os.ReadFile(filepath.Join("testdata", "forecast.json"))
	require.NoError(t, err)
	var asked url.Values
	q := serve(t, func(w http.ResponseWriter, r *http.Request) {
		asked = r.URL.Query()
		_, _ = w.Write(raw)
	})
	q.Elevation = ptr(741)
	got, err := Fetch(context.Background(), q)
	require.NoError(t, err)
	assert.Equal(t, raw, got, "the answer as it came")
	assert.Equal(t, "41.90500", asked.Get("latitude"))
	assert.Equal(t, "-4.92100", asked.Get("longitude"))
	assert.Equal(t, "741", asked.Get("elevation"))
	assert.Equal(t, "2026-04-18", asked.Get("start_date"))
	assert.Equal(t, "2026-04-19", asked.Get("end_date"))
	assert.Equal(t, "ms", asked.Get("wind_speed_unit"))
	assert.Equal(t, "GMT", asked.Get("timezone"))
	for _, v := range []string{"wind_speed_10m", "wind_direction_180m", "geopotential_height_850hPa", "wind_gusts_10m"} {
		assert.Contains(t, strings.Split(asked.Get("hourly"), ","), v)
	}
}

func TestFetchRefusals(t *testing.T) {
	for _, c := range []struct {
		name string
		h    http.HandlerFunc
		want string
	}{
		{"refused with a reason", func(w http.ResponseWriter, _ *http.Request) {
			w.WriteHeader(400)
			_, _ = w.Write([]byte(`{"error":true,"reason":"Parameter 'start_date' is out of allowed range"}`))
		}, "answered 400 Bad Request: Parameter 'start_date' is out of allowed range; nothing was saved"},
		{"broken", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(503) }, "answered 503 Service Unavailable; nothing was saved"},
		{"a page in place of data", func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write([]byte("<html>log in</html>")) }, "the answer cannot be used and was not saved"},
		{"another day", func(w http.ResponseWriter, _ *http.Request) {
			_, _ = w.Write([]byte(`{"elevation":1,"hourly":{"time":["2026-04-20T00:00"],"wind_speed_10m":[1],"wind_direction_10m":[1]}}`))
		}, "not the launch at 2026-04-18 09:20 UTC"},
		{"cut off", func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Length", "1000")
			_, _ = w.Write([]byte(`{"elevation"`))
		}, "cannot reach"},
		{"too large", func(w http.ResponseWriter, _ *http.Request) {
			for range 20 {
				_, _ = w.Write(make([]byte, 1<<20))
			}
		}, "more than 16 MB"},
	} {
		_, err := Fetch(context.Background(), serve(t, c.h))
		assert.ErrorContains(t, err, c.want, c.name)
	}
}

func TestFetchOffline(t *testing.T) {
	s := httptest.NewServer(http.NotFoundHandler())
	q := Request{Service: s.URL, Place: orb.Point{0, 0}, When: april18(9, 0)}
	s.Close() // nothing listens there any more
	_, err := Fetch(context.Background(), q)
	var off *Offline
	require.ErrorAs(t, err, &off)
	assert.Contains(t, err.Error(), "without a network give a forecast saved before, an airport report or levels by hand")
	assert.NotContains(t, err.Error(), "hourly=", "the long address is left out")
}

func TestFetchTimesOut(t *testing.T) {
	release := make(chan struct{})
	q := serve(t, func(http.ResponseWriter, *http.Request) { <-release })
	defer close(release)
	q.Client = &http.Client{Timeout: 50 * time.Millisecond}
	_, err := Fetch(context.Background(), q)
	assert.ErrorContains(t, err, "no answer in time")
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = Fetch(ctx, q)
	assert.ErrorIs(t, err, context.Canceled)
}

func TestFetchNeedsATimeAndAnAddress(t *testing.T) {
	_, err := Fetch(context.Background(), Request{})
	assert.ErrorContains(t, err, "needs the launch time")
	_, err = Fetch(context.Background(), Request{Service: "open wind", When: april18(9, 0)})
	assert.ErrorContains(t, err, `service "open wind" is no address`)
}
