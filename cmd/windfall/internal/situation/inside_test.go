package situation

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/drift"
	"windfall/drift/wind"
	"windfall/geo"
	"windfall/geo/ground"
	"windfall/geo/mapfile"
	"windfall/search"
)

// The most impulse a motor may have: the area under its thrust, what is given,
// or the top of the class of its code (H: 160 to 320 N s, NFPA 1125).
func TestImpulseOf(t *testing.T) {
	given := 270.0
	assert.InDelta(t, 200, impulseOf(drift.Motor{Thrust: []drift.TimeThrust{{T: 0, N: 0}, {T: 1, N: 200}, {T: 2, N: 0}}}), 1e-9)
	assert.Equal(t, 270.0, impulseOf(drift.Motor{Impulse: &given, Designation: "H150-9"}))
	assert.InDelta(t, 320, impulseOf(drift.Motor{Designation: "H150-9"}), 0.01)
	assert.Zero(t, impulseOf(drift.Motor{Designation: "home-made"}))
}

func TestAdvice(t *testing.T) {
	for says, l := range map[string]*Left{
		"more likely outside the map":            {Outside: 0.5, NextHour: &nextHour{POS: 0.9}},
		"no plan can be made":                    {},
		"another hour buys next to nothing":      {NextHour: &nextHour{POS: 0.049}},
		"going on is worth while: windfall ":     {POS: 0.01, NextHour: &nextHour{POS: 0.05}},
		"this track went where it hardly lies; ": {POS: 0.009, NextHour: &nextHour{POS: 0.05}},
	} {
		assert.Contains(t, advice(l), says)
	}
}

// Drones meet the strongest of the winds at their heights; walkers meet none.
func TestPlanWind(t *testing.T) {
	level := func(speed float64) wind.Choice {
		return wind.Choice{Weight: 1, Profile: wind.Profile{Levels: []wind.Level{{Height: 10, FromDeg: 90, Speed: speed},
			{Height: 100, FromDeg: 90, Speed: speed}}}}
	}
	in := Input{Flight: drift.Flight{Wind: []wind.Choice{level(4), level(7)}}}
	assert.Zero(t, planWind(in))
	in.Searchers = []search.Searcher{{Name: "East"}}
	assert.Zero(t, planWind(in))
	in.Searchers = append(in.Searchers, search.Searcher{Name: "scout", Height: 30})
	assert.InDelta(t, 7, planWind(in), 0.01)
	name, ok := in.Named(" east ")
	assert.True(t, ok)
	assert.Equal(t, "East", name)
	_, ok = in.Named("north")
	assert.False(t, ok)
}

// What is drawn on the ground is drawn on the map, and a start has the name of
// the place it lies in.
func TestGroundLayers(t *testing.T) {
	pad := geo.Frame{Origin: [2]float64{-4.9210, 41.9050}}
	g, err := ground.Read(strings.NewReader(`{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"kind":"no-go","name":"pond","for":"walkers"},"geometry":{"type":"Polygon","coordinates":[[[-4.90,41.90],[-4.89,41.90],[-4.89,41.91],[-4.90,41.90]]]}},
{"type":"Feature","properties":{"kind":"place","name":"car park"},"geometry":{"type":"Polygon","coordinates":[[[-4.922,41.904],[-4.920,41.904],[-4.920,41.906],[-4.922,41.906],[-4.922,41.904]]]}},
{"type":"Feature","properties":{"kind":"barrier","name":"wall"},"geometry":{"type":"LineString","coordinates":[[-4.93,41.90],[-4.93,41.91]]}}]}`), "ground.geojson", pad)
	require.NoError(t, err)
	s := &State{Input: Input{Ground: g}}
	l := &mapfile.Landing{}
	s.groundLayers(l)
	require.Len(t, l.NoGo, 1)
	assert.Equal(t, "walkers", l.NoGo[0].For)
	require.Len(t, l.Outlines, 1)
	assert.Equal(t, "car park", l.Outlines[0].Name)
	require.Len(t, l.Barriers, 1)
	assert.Equal(t, "car park", placeAt(g, geo.XY{}))
	assert.Empty(t, placeAt(g, geo.XY{X: 900}))
	assert.Empty(t, placeAt(nil, geo.XY{}))
}

// A track's mean width is that of its passes by their lengths: on open ground,
// the searcher's.
func TestMeanWidth(t *testing.T) {
	in := Input{Target: search.Target{Length: 1.2, Width: 0.05, SeenAt: map[string]float64{ground.Open: 20}}}
	tr := Track{Searcher: search.Searcher{Kind: search.Walker, Speed: 1},
		Lines: [][]geo.XY{{{}, {X: 300}}, {{Y: 50}, {Y: 150}}}}
	passes := tr.passes(in)
	require.NotEmpty(t, passes)
	assert.InDelta(t, passes[0].Width, tr.MeanWidth(in), 1e-9)
	assert.Positive(t, passes[0].Width)
}
