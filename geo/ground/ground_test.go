package ground

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"windfall/geo"
)

var pad = geo.Frame{Origin: orb.Point{-5.5831, 39.0512}}

func TestReadKinds(t *testing.T) {
	f, err := os.Open("testdata/ground.geojson")
	require.NoError(t, err)
	defer f.Close()
	g, err := Read(f, "ground.geojson", pad)
	require.NoError(t, err)
	require.Len(t, g.Covers, 2)
	require.Equal(t, []string{"crop", "short grass"}, g.Classes())
	require.Equal(t, "pond", g.NoGo[0].Name)
	require.Equal(t, All, g.NoGo[0].For)
	require.Equal(t, Walkers, g.NoGo[1].For)
	require.Equal(t, "stream", g.Barriers[0].Name)
	require.Equal(t, 12.0, g.Lines[0].Width)
	require.Len(t, g.Crossings, 1)
	// the crossing was drawn beside the stream and now lies on it
	_, off := g.Barriers[0].Line.Nearest(g.Crossings[0])
	require.InDelta(t, 0, off, 1e-9)
	// the crop is drawn over the grass, and after it
	grass, crop := g.Covers[0], g.Covers[1]
	require.Equal(t, []string{"short grass", "crop"}, []string{grass.Class, crop.Class})
	require.True(t, crop.Area.Contains(pad.ToXY(orb.Point{-5.5815, 39.0530})))
	require.True(t, grass.Area.Contains(pad.ToXY(orb.Point{-5.5815, 39.0530})))
	require.True(t, grass.Area.Contains(pad.ToXY(orb.Point{-5.5845, 39.0520})))
	require.False(t, crop.Area.Contains(pad.ToXY(orb.Point{-5.5845, 39.0520})))
}

func TestRefusals(t *testing.T) {
	one := func(props, geom string) string {
		return `{"type":"FeatureCollection","features":[` +
			`{"type":"Feature","properties":{"kind":"place","name":"a"},"geometry":{"type":"Polygon","coordinates":[[[-5.58,39.05],[-5.57,39.05],[-5.57,39.06],[-5.58,39.05]]]}},` +
			`{"type":"Feature","properties":` + props + `,"geometry":` + geom + `}]}`
	}
	const square = `{"type":"Polygon","coordinates":[[[-5.58,39.05],[-5.57,39.05],[-5.57,39.06],[-5.58,39.05]]]}`
	const line = `{"type":"LineString","coordinates":[[-5.58,39.05],[-5.57,39.05]]}`
	for _, c := range []struct{ name, text, want string }{
		{"not json", "{\n\n oops", "g.geojson:3: not GeoJSON"},
		{"empty", `{"type":"FeatureCollection","features":[]}`, "holds no features"},
		{"no kind", one(`{}`, square), `g.geojson: feature 2: has no "kind"; write cover, no-go`},
		{"unknown kind", one(`{"kind":"nogo"}`, square), `feature 2: kind "nogo" is not known`},
		{"for", one(`{"kind":"no-go","for":"cows"}`, square), `feature 2: for "cows" is not known; write all, walkers or drones`},
		{"cover", one(`{"kind":"cover"}`, square), `feature 2: has no "cover"; write a class`},
		{"line as area", one(`{"kind":"no-go"}`, line), "feature 2: geometry LineString is not an area; draw a Polygon"},
		{"width", one(`{"kind":"line","name":"r","width":"12"}`, line), `feature 2: width "12"`},
		{"no barrier", one(`{"kind":"crossing"}`, `{"type":"Point","coordinates":[-5.58,39.05]}`), "feature 2: a crossing, but no barrier is drawn"},
		{"swapped", one(`{"kind":"place","name":"x"}`, `{"type":"Polygon","coordinates":[[[39.05,-5.58],[39.05,-5.57],[39.06,-5.57],[39.05,-5.58]]]}`), "GeoJSON wants longitude first"},
		{"degrees", one(`{"kind":"barrier"}`, `{"type":"LineString","coordinates":[[-5.58,391],[-5.57,39.05]]}`), "not longitude, latitude"},
		{"open ring", one(`{"kind":"no-go"}`, `{"type":"Polygon","coordinates":[[[-5.58,39.05],[-5.57,39.05],[-5.57,39.06]]]}`), "feature 2: a ring is not closed"},
		{"null", one(`{"kind":"no-go"}`, `null`), "feature 2: has no geometry"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Read(strings.NewReader(c.text), "g.geojson", pad)
			require.ErrorContains(t, err, c.want)
			require.NotContains(t, err.Error(), "\n")
		})
	}
}

func FuzzRead(f *testing.F) {
	b, _ := os.ReadFile("testdata/ground.geojson")
	f.Add(string(b))
	f.Add(`{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,0]]]}`)
	f.Add(`{"type":"FeatureCollection","features":[null,{"type":"Feature","geometry":{"type":"Point","coordinates":[null]}}]}`)
	f.Fuzz(func(t *testing.T, s string) {
		g, err := Read(strings.NewReader(s), "g", pad)
		if err == nil {
			g.Classes()
		}
		_, _ = ReadField(strings.NewReader(s), "g", pad)
	})
}

func ExampleRead() {
	const drawn = `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"kind":"no-go","name":"pond"},
		"geometry":{"type":"Polygon","coordinates":[[[-5.582,39.051],[-5.581,39.051],[-5.581,39.052],[-5.582,39.051]]]}}]}`
	g, err := Read(strings.NewReader(drawn), "ground.geojson", pad)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s, for %s: %.0f m2\n", g.NoGo[0].Name, g.NoGo[0].For, g.NoGo[0].Area.Area())
	// Output: pond, for all: 4805 m2
}
