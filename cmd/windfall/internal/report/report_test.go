package report

import (
	"context"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/situation"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/logbook"
	"windfall/search"
	"windfall/search/detect"
)

const flightText = `flight: heron-01
when: 2026-05-02T12:00:00+02:00
site: {pad: "41.9050, -4.9210", elevation: 700 m}
vehicle: {mass: 600 g, diameter: 54 mm, length: 1.2 m}
motor: {impulse: 100 N s, burn: 1.2 s, delay: 7 s, propellant: 60 g}
recovery: [{device: parachute, trigger: ejection, descent_rate: 5 m/s}]
wind: [{height: 2 m, from: 210 deg, speed: 9 mph}]
parts: [{name: pod, mass: 30 g, drag_area: 20 cm2, sheds: {between: [burnout, apogee]}, chance: 5 %}]
searchers: [{name: east, kind: walker, speed: 3 km/h, available: 10 min}]
target: {size: 1.2 m by 54 mm, colour: lime, seen_at: {short grass: 17 m}}
`

const gpx = `<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>
<trkpt lat="41.90500" lon="-4.92100"></trkpt>
<trkpt lat="41.90575" lon="-4.92037"></trkpt>
<trkpt lat="41.90650" lon="-4.91973"></trkpt>
<trkpt lat="41.90725" lon="-4.91910"></trkpt>
<trkpt lat="41.90800" lon="-4.91847"></trkpt>
<trkpt lat="41.90875" lon="-4.91783"></trkpt>
<trkpt lat="41.90950" lon="-4.91720"></trkpt>
</trkseg></trk></gpx>`

func heron(t *testing.T) (*record.Flight, Options) {
	t.Helper()
	dir := t.TempDir()
	path := filepath.Join(dir, "flight.yaml")
	require.NoError(t, os.WriteFile(path, []byte(flightText), 0o644))
	o := Options{Logbook: filepath.Join(dir, "logbook.db"), Map: situation.Options{Runs: 1000, Seed: 1},
		Plan:  situation.PlanOptions{Pattern: search.Parallel},
		Stamp: record.Stamp{By: "Ines", Now: time.Date(2026, 5, 2, 14, 0, 0, 0, time.UTC), Version: "0", Seed: 1}}
	f, err := record.Read(record.Source{Flight: path, Logbook: o.Logbook})
	require.NoError(t, err)
	return f, o
}

func entries(t *testing.T, o Options) []logbook.Entry {
	t.Helper()
	b, err := logbook.OpenRead(o.Logbook)
	require.NoError(t, err)
	defer b.Close()
	all, err := b.Entries(logbook.Query{})
	require.NoError(t, err)
	return all
}

var near = Find{Find: record.Find{Lat: 41.9085, Lon: -4.9180}, Place: "41.9085,-4.9180"}

func TestFindIsJudged(t *testing.T) {
	f, o := heron(t)
	a, err := LogFind(context.Background(), f, near, o)
	require.NoError(t, err)
	require.NotNil(t, a.Judgement)
	require.NotNil(t, a.Plan)
	assert.Nil(t, a.Unwalked)
	assert.Nil(t, a.Beyond)
	assert.NotEmpty(t, a.Causes)
	text, err := json.Marshal(a)
	require.NoError(t, err)
	assert.Regexp(t, `^{"id":1,"flight":"heron-01","place":{.*},"miss_m":.*"level":.*"inside":\[.*"plan":{.*"cautions":\[`, string(text))

	pod := near
	pod.Part, pod.NoPlan = "pod", true
	a, err = LogFind(context.Background(), f, pod, o)
	require.NoError(t, err)
	assert.Nil(t, a.Plan)
	assert.Len(t, entries(t, o), 2)
}

// Whatever goes wrong after a find was logged is a caution: it is never lost.
func TestFindIsNeverLost(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(f *record.Flight, o *Options)
		says  string
	}{
		"dark": {func(_ *record.Flight, o *Options) {
			o.Plan.Begin = time.Date(2026, 5, 2, 23, 30, 0, 0, time.UTC)
		}, "whether the plan would have found it is not known: it is dark at 2026-05-02 23:30 UTC; begin by daylight"},
		"nobody has time": {func(f *record.Flight, _ *Options) {
			f.Input.Searchers[0] = search.Searcher{Name: "scout", Kind: search.Drone, Speed: 6, Available: 60, Height: 30,
				FieldDeg: 72, Pixels: 3840, Sortie: 600, MaxWind: 0.1}
		}, "whether the plan would have found it is not known: no searcher has time"},
		"too fast": {func(f *record.Flight, _ *Options) { f.Input.Searchers[0].Speed = 500 / 3.6 },
			`is not known: ` + "PATH" + `:9: searchers[0].speed "3 km/h" is no speed of a searcher`},
	} {
		t.Run(name, func(t *testing.T) {
			f, o := heron(t)
			c.spoil(f, &o)
			a, err := LogFind(context.Background(), f, near, o)
			require.NoError(t, err)
			assert.Nil(t, a.Plan)
			assert.NotNil(t, a.Judgement)
			assert.Contains(t, strings.Join(a.Caution, "\n"), strings.ReplaceAll(c.says, "PATH", f.File.Path))
			assert.Len(t, entries(t, o), 1)
		})
	}
}

func TestFindIsRefused(t *testing.T) {
	f, o := heron(t)
	far, lost := near, near
	far.Lon, far.Place, lost.Outcome = 4.918, "41.9085,4.9180", "lost"
	for says, find := range map[string]Find{
		"41.9085,4.9180 is 815.":                       far,
		`--outcome "lost" is not one of this flight's`: lost,
	} {
		_, err := LogFind(context.Background(), f, find, o)
		assert.ErrorContains(t, err, says)
		assert.True(t, usage.Is(err))
	}
	stopped, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := LogFind(stopped, f, near, o)
	assert.ErrorIs(t, err, context.Canceled, "before it was logged nothing is")
	assert.Empty(t, entries(t, o))
	far.Anyway = true
	a, err := LogFind(context.Background(), f, far, o)
	require.NoError(t, err)
	assert.Equal(t, 1.0, a.Level)
	require.NotNil(t, a.Beyond, "no input explains 800 km")
	assert.Less(t, *a.Beyond, 5000.0)
	assert.Empty(t, a.Causes)
	assert.Nil(t, a.Plan)
	assert.Contains(t, strings.Join(a.Caution, "\n"), "held against the map without what was seen and searched")
}

// A track is logged with its law, whatever becomes of the rest; a find on it
// says that searched ground was taken out.
func TestTrack(t *testing.T) {
	f, o := heron(t)
	o.Plan.Law = detect.InverseCube
	a, err := LogTrack(context.Background(), f, Track{R: strings.NewReader(gpx), Name: "walk.gpx"}, o)
	require.NoError(t, err)
	require.NotNil(t, a.Left)
	assert.Positive(t, a.Left.POS)
	assert.NotNil(t, a.Summary)
	assert.Empty(t, a.Caution)
	again, err := record.Load(record.Source{Flight: f.File.Path, Logbook: o.Logbook})
	require.NoError(t, err)
	s, err := situation.Locate(context.Background(), again.Input, o.Map)
	require.NoError(t, err)
	assert.Equal(t, a.After.Map.P, s.Map.P, "the next map is the one that was shown")

	find, err := LogFind(context.Background(), f, near, o)
	require.NoError(t, err)
	assert.Contains(t, strings.Join(find.Caution, "\n"), "searched ground was taken out of the map")
	b, err := logbook.OpenRead(o.Logbook)
	require.NoError(t, err)
	defer b.Close()
	var list strings.Builder
	require.NoError(t, record.List(&list, b, logbook.Query{Flight: "heron-01"}, ""))
	assert.Regexp(t, `area of the ground not yet searched, at level 0\.[0-9]+ before the tracks, [0-9]+ m from the map's middle`,
		list.String())

	stopped, cancel := context.WithCancel(context.Background())
	cancel()
	a, err = LogTrack(stopped, f, Track{R: strings.NewReader(gpx), Name: "walk.gpx", Again: true}, o)
	require.NoError(t, err)
	assert.Nil(t, a.Left)
	assert.Contains(t, a.Caution[0], "the track is logged, but what is left is not shown in full: interrupted")
	assert.Len(t, entries(t, o), 3)

	_, err = LogTrack(context.Background(), f, Track{R: strings.NewReader(gpx), Name: "walk.gpx"}, o)
	assert.ErrorContains(t, err, "logged already, as entry 1")
	a.Missing(errors.New("disk full"))
	assert.Contains(t, a.Caution[1], "disk full")
}
