package logbook

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// anyEntry draws an entry as a command might log it.
func anyEntry(t *rapid.T) Entry {
	body := map[string]any{}
	kinds := []Kind{Sighting, Timing, Height, NothingIn}
	if rapid.Bool().Draw(t, "place") {
		kinds = append(kinds, Track, Find)
		body["lat"], body["lon"] = rapid.Float64Range(-90, 90).Draw(t, "lat"), rapid.Float64Range(-180, 180).Draw(t, "lon")
	}
	body["note"] = rapid.StringMatching(`[ -~é",\n]{0,12}`).Draw(t, "note")
	text, err := json.Marshal(body)
	require.NoError(t, err)
	return Entry{
		Flight: rapid.StringMatching(`[a-z0-9]+(-[a-z0-9]+)?`).Draw(t, "flight"),
		Kind:   rapid.SampledFrom(kinds).Draw(t, "kind"),
		By:     rapid.StringMatching(`[A-Za-zé]{0,8}`).Draw(t, "by"),
		When:   noon.Add(time.Duration(rapid.IntRange(0, 1e9).Draw(t, "ms")) * time.Millisecond),
		Body:   text, Withdrawn: rapid.Bool().Draw(t, "withdrawn"),
	}
}

// What is written comes back the same, by both formats.
func TestExchangeRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := rapid.SliceOfN(rapid.Custom(anyEntry), 0, 5).Draw(t, "entries")
		var csv, geo bytes.Buffer
		require.NoError(t, WriteCSV(&csv, in))
		require.NoError(t, WriteGeoJSON(&geo, in))
		a, err := ReadCSV(&csv, "a.csv", nil)
		require.NoError(t, err)
		b, err := ReadGeoJSON(&geo, "a.geojson", nil)
		require.NoError(t, err)
		require.Len(t, a, len(in))
		require.Len(t, b, len(in))
		for i := range in {
			assert.Equal(t, in[i].sameness(), a[i].sameness())
			assert.Equal(t, in[i].sameness(), b[i].sameness())
			assert.Equal(t, in[i].Withdrawn, a[i].Withdrawn)
			assert.Equal(t, in[i].Withdrawn, b[i].Withdrawn)
		}
	})
}

// What no command would log is refused with its line.
func TestImportRefusals(t *testing.T) {
	for row, says := range map[string]string{
		"../../x,find,2026-03-14T10:30:00Z,1,2": `f.csv:2: flight "../../x" is not an id`,
		"a,find,2026-03-14T10:30:00Z,950,2":     `f.csv:2: lat "950"`,
		"a,find,2026-03-14T10:30:00Z,,":         "f.csv:2: a find without a place",
		"a,track,2026-03-14T10:30:00Z,,":        "f.csv:2: a track without a way",
		"a,discovery,2026-03-14T10:30:00Z,1,2":  `f.csv:2: kind "discovery"`,
		"a,find,1826-03-14T10:30:00Z,1,2":       `f.csv:2: when "1826-03-14T10:30:00Z"`,
	} {
		_, err := ReadCSV(strings.NewReader("\ufeffflight,kind,when,lat,lon\n"+row+"\n"), "f.csv", nil)
		require.ErrorContains(t, err, says)
	}
	_, err := ReadGeoJSON(strings.NewReader(`{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"Point","coordinates":[2,950]},
"properties":{"flight":"a","kind":"find","when":"2026-03-14T10:30:00Z"}}]}`), "f.geojson", nil)
	require.ErrorContains(t, err, "f.geojson: feature 1: place 950, 2 is not on the globe")
}

// The same find by a table and by a map is one find.
func TestSameFindFromBoth(t *testing.T) {
	a, err := ReadCSV(strings.NewReader("flight,kind,when,lat,lon\na,find,2026-03-14T10:30:00Z,41.9097,-4.9188\n"), "f.csv", nil)
	require.NoError(t, err)
	b, err := ReadGeoJSON(strings.NewReader(`{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"Point","coordinates":[-4.9188,41.9097]},
"properties":{"flight":"a","kind":"find","when":"2026-03-14T10:30:00Z"}}]}`), "f.geojson", nil)
	require.NoError(t, err)
	book := open1(t)
	_, err = book.Import(a)
	require.NoError(t, err)
	fresh, err := book.Import(b)
	require.NoError(t, err)
	assert.Empty(t, fresh)
}

func TestImportIsIdempotent(t *testing.T) {
	b := open1(t)
	in := []Entry{
		{Flight: "a", Kind: Find, By: "x", When: noon, Body: body(`{"lat": 1, "lon": 2}`)},
		{Flight: "a", Kind: Find, By: "x", When: noon, Body: body(`{"lon":2,"lat":1}`)}, // the same
		{Flight: "a", Kind: Track, By: "x", When: noon, Body: body(`{}`), Withdrawn: true},
	}
	got, err := b.Import(in)
	require.NoError(t, err)
	assert.Len(t, got, 2)
	assert.True(t, got[1].Withdrawn)
	got, err = b.Import(in)
	require.NoError(t, err)
	assert.Empty(t, got)
}

func TestGeometry(t *testing.T) {
	for text, want := range map[string]orb.Geometry{
		`{}`:                                     nil,
		`{"lat":1,"lon":2}`:                      orb.Point{2, 1},
		`{"from":{"lat":1,"lon":2,"x":"y"}}`:     orb.Point{2, 1},
		`{"from":"north"}`:                       nil,
		`{"lat":"one","lon":2}`:                  nil,
		`{"area":[[[[0,0],[1,0],[1,1],[0,0]]]]}`: orb.MultiPolygon{{{{0, 0}, {1, 0}, {1, 1}, {0, 0}}}},
		`{"geometry":{"type":"LineString","coordinates":[[0,0],[1,1]]},"lat":1,"lon":2}`: orb.LineString{{0, 0}, {1, 1}},
	} {
		assert.Equal(t, want, Entry{Body: body(text)}.Geometry(), text)
	}
}

func TestCSVRefusals(t *testing.T) {
	for text, want := range map[string]string{
		"":                                     "a.csv:1: no header line",
		"flight,kind\n":                        `a.csv:1: no column "when"`,
		"flight,kind,when,where\n":             `a.csv:1: column "where" is not known`,
		"flight,kind,when\nx,find,yesterday\n": `a.csv:2: when "yesterday"`,
		"flight,kind,when\nx,find\n":           "a.csv:2: 2 fields where the header has 3",
		"flight,kind,when\nx,guess,2026-01-01T00:00:00Z\n":                  `a.csv:2: kind "guess"`,
		"flight,kind,when,lat,lon\nx,find,2026-01-01T00:00:00Z,1,181\n":     `a.csv:2: lon "181"`,
		"flight,kind,when,lat,lon\nx,find,2026-01-01T00:00:00Z,NaN,1\n":     `a.csv:2: lat "NaN"`,
		"flight,kind,when,body\nx,find,2026-01-01T00:00:00Z,\"{\"\n":        "a.csv:2: body",
		"flight,kind,when,withdrawn\nx,find,2026-01-01T00:00:00Z,perhaps\n": `a.csv:2: withdrawn "perhaps"`,
		"flight,kind,when\nx,find,\"2026\n":                                 "a.csv:",
	} {
		_, err := ReadCSV(strings.NewReader(text), "a.csv", nil)
		assert.ErrorContains(t, err, want, text)
	}
	_, err := ReadGeoJSON(strings.NewReader(`{"type":"Feature"}`), "a.geojson", nil)
	assert.ErrorContains(t, err, "a.geojson: not a GeoJSON FeatureCollection")
	_, err = ReadGeoJSON(strings.NewReader(`{"type":"FeatureCollection","features":[{"properties":{"flight":"x","kind":"find"}}]}`), "a.geojson", nil)
	assert.ErrorContains(t, err, `a.geojson: feature 1: when ""`)
}

func FuzzReadCSV(f *testing.F) {
	f.Add("flight,kind,by,when,lat,lon\ngarza-01,find,Ana,2026-03-01T12:00:00+01:00,41.9060,-4.9200\n")
	f.Add("\ufeffflight,kind,when,body\nx,track,2026-03-01T12:00:00Z,\"{\"\"a\"\":1}\"\n")
	f.Fuzz(func(t *testing.T, text string) {
		in, err := ReadCSV(strings.NewReader(text), "a.csv", nil)
		if err != nil {
			return
		}
		var out bytes.Buffer
		require.NoError(t, WriteCSV(&out, in))
		again, err := ReadCSV(&out, "a.csv", nil)
		require.NoError(t, err)
		require.Len(t, again, len(in))
	})
}

func FuzzReadGeoJSON(f *testing.F) {
	f.Add(`{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"Point","coordinates":[-4.92,41.9]},"properties":{"flight":"garza-01","kind":"find","when":"2026-03-01T12:00:00Z"}}]}`)
	f.Add(`{"type":"FeatureCollection","features":[{"geometry":null,"properties":{"flight":"x","kind":"nothing-in","when":"2026-03-01T12:00:00Z","area":[[[[0,0],[1,0],[1,1],[0,0]]]]}}]}`)
	f.Fuzz(func(t *testing.T, text string) {
		in, err := ReadGeoJSON(strings.NewReader(text), "a.geojson", nil)
		if err != nil {
			return
		}
		var out bytes.Buffer
		require.NoError(t, WriteGeoJSON(&out, in))
		again, err := ReadGeoJSON(&out, "a.geojson", nil)
		require.NoError(t, err)
		require.Len(t, again, len(in))
	})
}

// A spreadsheet must not run what somebody was called.
func TestNoFormulas(t *testing.T) {
	e := Entry{Flight: "a", Kind: Timing, By: "=HYPERLINK(1)", When: noon, Body: body(`{"at_s": 3}`)}
	var out bytes.Buffer
	require.NoError(t, WriteCSV(&out, []Entry{e}))
	assert.Contains(t, out.String(), `,'=HYPERLINK(1),`)
	back, err := ReadCSV(&out, "a.csv", nil)
	require.NoError(t, err)
	assert.Equal(t, e.By, back[0].By)
}

// The logbook is its owner's alone.
func TestPrivate(t *testing.T) {
	path := filepath.Join(t.TempDir(), "deep", "logbook.db")
	b, err := Open(path)
	require.NoError(t, err)
	defer b.Close()
	for name, want := range map[string]os.FileMode{path: 0o600, filepath.Dir(path): 0o700} {
		st, err := os.Stat(name)
		require.NoError(t, err)
		assert.Equal(t, want, st.Mode().Perm(), name)
	}
}
