package candidates

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"windfall/drift/evidence"
	"windfall/geo"
)

var options = Options{Frame: geo.Frame{Origin: orb.Point{-4.921, 41.905}}, Every: 100}

func read(s string) ([]evidence.Candidate, error) {
	return Read(strings.NewReader(s), "f", options)
}

func names(cs []evidence.Candidate) (out []string) {
	for _, c := range cs {
		out = append(out, c.Name)
	}
	return out
}

func TestText(t *testing.T) {
	cs, err := read("\xef\xbb\xbf# where\n gate, 41.9086 -4.9183\n\n41.9120, -4.9150 # by the oak\nwest hill , 41.9080 -4.9290\n")
	require.NoError(t, err)
	assert.Equal(t, []string{"gate", "place 2", "west hill"}, names(cs))
	assert.Equal(t, orb.Point{-4.9183, 41.9086}, cs[0].At)
	assert.Equal(t, orb.Point{-4.9150, 41.9120}, cs[1].At)
}

func TestGeoJSON(t *testing.T) {
	for text, want := range map[string][]string{
		`{"type":"Point","coordinates":[-4.92,41.905]}`: {"place 1"},
		` {"type":"Feature","properties":{"name":"oak"},"geometry":{"type":"MultiPoint","coordinates":[[-4.92,41.905],[-4.921,41.905]]}}`: {"oak 1", "oak 2"},
		`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"oak"},"geometry":{"type":"Point","coordinates":[-4.92,41.905]}},
			{"type":"Feature","properties":{"name":7},"geometry":{"type":"Point","coordinates":[-4.92,41.906]}}]}`: {"oak", "place 2"},
	} {
		cs, err := read(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, names(cs), text)
	}
}

// Places along a line lie a given way apart, bends counted along the line, and
// begin where the line begins.
func TestAlongALine(t *testing.T) {
	f := options.Frame
	var corners []string
	for _, q := range []geo.XY{{}, {X: 250}, {X: 250, Y: 130}} {
		p := f.ToLonLat(q)
		corners = append(corners, fmt.Sprintf("[%.10f,%.10f]", p.Lon(), p.Lat()))
	}
	line := "[" + strings.Join(corners, ",") + "]"
	cs, err := read(`{"type":"LineString","coordinates":` + line + `}`)
	require.NoError(t, err)
	want := []geo.XY{{}, {X: 100}, {X: 200}, {X: 250, Y: 50}}
	require.Len(t, cs, len(want))
	for i, c := range cs {
		assert.InDelta(t, 0, f.ToXY(c.At).Sub(want[i]).Norm(), 0.01)
	}
	cs, err = read(`{"type":"MultiLineString","coordinates":[` + line + `,` + line + `]}`)
	require.NoError(t, err)
	assert.Len(t, cs, 8, "each line begins anew")
}

// Whatever the line, its places are as many as its length holds.
func TestAlongHasTheirNumber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := options
		o.Every = rapid.Float64Range(50, 500).Draw(t, "every")
		var l orb.LineString
		length := 0.0
		for i, last := 0, (geo.XY{}); i < rapid.IntRange(2, 6).Draw(t, "corners"); i++ {
			q := geo.XY{X: rapid.Float64Range(-800, 800).Draw(t, "x"), Y: rapid.Float64Range(-800, 800).Draw(t, "y")}
			l = append(l, o.Frame.ToLonLat(q))
			if i > 0 {
				length += q.Sub(last).Norm()
			}
			last = q
		}
		n := len(along(l, o))
		assert.InDelta(t, math.Floor(length/o.Every)+1, n, 1e-9+boolTo(math.Abs(math.Remainder(length/o.Every, 1)) < 1e-3))
	})
}

func boolTo(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

func TestRefusals(t *testing.T) {
	many := strings.Repeat("41.9086 -4.9183\n", Most+1)
	for text, want := range map[string]string{
		"":                  "f: holds no place",
		"# nothing\n":       "f: holds no place",
		"\nthe old barn":    `f:2: "the old barn" is not a place, nor a name, a comma and a place: write such as gate, 41.9086 -4.9183`,
		"barn, somewhere":   `f:1: "barn, somewhere" is not a place`,
		"home, 45.9 -4.9":   "f: place 1 (home) is 444 km from the pad; give places within 60 km",
		many:                "f: 201 places are more than 200",
		"{":                 "f: is not JSON: ",
		`{"type":"Thing"}`:  "f: is not GeoJSON: ",
		`{"type":"Feature"`: "f: is not JSON: ",
		`{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,0]]]}`:                             "f: feature 1: is neither a point nor a line",
		`{"type":"Point","coordinates":[41.9,-104.9]}`:                                             "f: feature 1: 41.9,-104.9 is not longitude, latitude in degrees",
		`{"type":"LineString","coordinates":[[200,0],[1,0]]}`:                                      "f: feature 1: 200,0 is not longitude, latitude in degrees",
		`{"type":"FeatureCollection","features":[]}`:                                               "f: holds no place",
		`{"type":"FeatureCollection","features":7}`:                                                "f: is not GeoJSON: ",
		`{"type":"LineString","coordinates":[[-5.3,41.905],[-4.7,41.905]]}`:                        "f: 201 places are more than 200",
		strings.Repeat("#", maxBytes) + "\n41.9 -4.9":                                              "f: larger than 4 MB; give a list of places",
		`{"type":"Feature","properties":{},"geometry":null}`:                                       "f: feature 1: is neither a point nor a line",
		`{"type":"FeatureCollection","features":[null,{"type":"Feature","geometry":{"type":"X"}}]`: "f: is not JSON: ",
		"\xff\xfeg":                "f:1: is in UTF-16",
		strings.Repeat("x", 70000): "f: bufio.Scanner: token too long",
	} {
		_, err := read(text)
		if assert.Error(t, err, "%.60s", text) {
			assert.Contains(t, err.Error(), want)
			assert.NotContains(t, err.Error(), "\n")
		}
	}
	broken := errors.New("broken")
	_, err := Read(iotest.ErrReader(broken), "f", options)
	assert.ErrorIs(t, err, broken)
}

// Whatever is read, an error is one line that begins with the file, and places
// are few, named and near.
func FuzzRead(f *testing.F) {
	for _, s := range []string{"gate, 41.9086 -4.9183\n", "41.9120, -4.9150", `{"type":"Point","coordinates":[-4.92,41.905]}`,
		`{"type":"LineString","coordinates":[[-4.9260,41.9050],[-4.9260,41.9130]]}`,
		`{"type":"FeatureCollection","features":[null,{"type":"Feature","properties":{"name":"a"},"geometry":{"type":"Point","coordinates":[1,2]}}]}`} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		cs, err := read(s)
		if err != nil {
			assert.True(t, strings.HasPrefix(err.Error(), "f:"), "%v", err)
			return
		}
		assert.NotEmpty(t, cs)
		assert.LessOrEqual(t, len(cs), Most)
		for _, c := range cs {
			assert.LessOrEqual(t, options.Frame.ToXY(c.At).Norm(), 60e3)
		}
	})
}
