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
		{"degrees", one(`{"kind":"barrier"}`, `{"type":"LineString","coordinates":[[-5.58,391],[-5.57,39.05]]}`), "is not on the globe; write [longitude, latitude]"},
		{"open ring", one(`{"kind":"no-go"}`, `{"type":"Polygon","coordinates":[[[-5.58,39.05],[-5.57,39.05],[-5.57,39.06]]]}`), "feature 2: a ring is not closed"},
		{"null", one(`{"kind":"no-go"}`, `null`), "feature 2: has no geometry"},
		{"number", one(`{"kind":7}`, square), `feature 2: kind 7 is not text`},
		{"name", one(`{"kind":"no-go","name":["a"]}`, square), "feature 2: name [a] is not text; write text, or leave it out"},
		{"who", one(`{"kind":"no-go","for":1}`, square), "feature 2: for 1 is not text"},
		{"barrier's name", one(`{"kind":"barrier","name":1}`, line), "feature 2: name 1 is not text"},
		{"place", one(`{"kind":"place"}`, square), `feature 2: has no "name"; write the name of the place`},
		{"line", one(`{"kind":"line"}`, line), `feature 2: has no "name"; write the name of the line`},
		{"no width", one(`{"kind":"line","name":"r"}`, line), `feature 2: has no "width"; write a width such as 12 m`},
		{"wide", one(`{"kind":"line","name":"r","width":"12 km"}`, line), "at most 10 km"},
		{"area as line", one(`{"kind":"barrier"}`, square), "geometry Polygon is not a line; draw a LineString"},
		{"area as point", one(`{"kind":"crossing"}`, square), "geometry Polygon is not a point; draw a Point"},
		{"collection", one(`{"kind":"place","name":"a"}`, `{"type":"GeometryCollection","coordinates":[]}`), "a type not known here"},
		{"position", one(`{"kind":"barrier"}`, `{"type":"LineString","coordinates":[[1]]}`), "a position has 1 numbers"},
		{"dot", one(`{"kind":"barrier"}`, `{"type":"LineString","coordinates":[[-5.58,39.05],[-5.58,39.05]]}`), "fewer than 2 different"},
		{"sliver", one(`{"kind":"place","name":"a"}`, `{"type":"Polygon","coordinates":[[[-5.58,39.05],[-5.57,39.05],[-5.57,39.05],[-5.58,39.05]]]}`), "fewer than 3 different"},
		{"no lines", one(`{"kind":"barrier"}`, `{"type":"MultiLineString","coordinates":[]}`), "the line is empty; draw it"},
		{"no rings", one(`{"kind":"place","name":"a"}`, `{"type":"MultiPolygon","coordinates":[[]]}`), "the polygon is empty"},
		{"type", `{"type":"FeatureCollection","features":[{"type":"Thing"}]}`, `feature 1: type "Thing" is not Feature`},
		{"top", `{"type":"Topology"}`, `type "Topology" is not a FeatureCollection`},
		{"shape of JSON", `{"type":"FeatureCollection","features":{}}`, "g.geojson:1: not GeoJSON"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Read(strings.NewReader(c.text), "g.geojson", pad)
			require.ErrorContains(t, err, c.want)
			require.NotContains(t, err.Error(), "\n")
		})
	}
}

// Shapes of several pieces are taken as they come: two stretches of a stream
// with two crossings, and a wood of two parts.
func TestSeveralPieces(t *testing.T) {
	g, err := Read(strings.NewReader(`{"type":"FeatureCollection","features":[
		{"type":"Feature","properties":{"kind":"crossing"},"geometry":{"type":"MultiPoint","coordinates":[[-5.58,39.05],[-5.56,39.05]]}},
		{"type":"Feature","properties":{"kind":"barrier"},"geometry":{"type":"MultiLineString","coordinates":[[[-5.58,39.04],[-5.58,39.06]],[[-5.56,39.04],[-5.56,39.06]]]}},
		{"type":"Feature","properties":{"kind":"cover","cover":"Woodland"},"geometry":{"type":"MultiPolygon","coordinates":[
			[[[-5.58,39.05],[-5.57,39.05],[-5.57,39.06],[-5.58,39.05]]],[[[-5.55,39.05],[-5.54,39.05],[-5.54,39.06],[-5.55,39.05]]]]}}]}`), "g", pad)
	require.NoError(t, err)
	require.Len(t, g.Crossings, 2)
	require.Len(t, g.Barriers, 2)
	require.Equal(t, "barrier", g.Barriers[1].Name)
	require.Len(t, g.Covers[0].Area, 2)
	require.Equal(t, []string{"woodland"}, g.Classes())
	require.Nil(t, (*Ground)(nil).Classes())
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
