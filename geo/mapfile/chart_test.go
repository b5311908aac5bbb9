package mapfile

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/geo"
)

// Any landing can be put into a chart, and no mark of its names that a reader
// cannot see comes through.
func TestChartOfAnything(t *testing.T) {
	for name, l := range awkward() {
		text, err := json.Marshal(ChartOf(l))
		require.NoError(t, err, name)
		assert.False(t, strings.Contains(string(text), `\u0000`), name)
		assert.False(t, strings.Contains(string(text), "null,"), name)
	}
}

// A chart has every layer of the landing, and the way of every searcher by its
// stages.
func TestChart(t *testing.T) {
	l := demo()
	l.Plan.Searchers = append(l.Plan.Searchers, twoBlocks())
	c := ChartOf(l)
	assert.Equal(t, 39.0512, c.Pad.Lat)
	assert.Len(t, c.Areas, 4)
	assert.Equal(t, []chartZone{{"reservoir", "walkers", []ring{{{620, 20}, {760, 60}, {740, 170}, {640, 140}, {620, 20}}}}}, c.NoGo)
	assert.Equal(t, []chartSpot{{Name: "plank bridge", At: dot{595, 150}}}, c.Crossings)
	assert.Equal(t, dot{-80, 30}, c.Sightings[0].From)
	assert.InDelta(t, 68, geo.XY{X: c.Sightings[0].To[0] + 80, Y: c.Sightings[0].To[1] - 30}.BearingDeg(), 0.1)
	assert.Equal(t, 18.0, c.Covered[0].Width)
	s := c.Searchers[len(c.Searchers)-1]
	require.Len(t, s.Stages, 5)
	assert.Equal(t, "A1", s.Stages[1].Block)
	assert.Equal(t, []ring{{{100, 0}, {100, 200}}, {{140, 200}, {140, 0}}}, s.Stages[1].Lanes)
	assert.Equal(t, []ring{{{300, 0}, {300, 200}}}, s.Stages[3].Lanes)
	assert.Contains(t, s.Stages[1].Text, "2 lanes of 200 m")
	assert.Contains(t, s.Stages[0].Text, "way there")
	assert.Empty(t, s.Stages[0].Lanes)
	l.Plan = nil
	assert.Nil(t, ChartOf(l).Plan)
}

// A lane that goes round something is one lane; courses of a rectangle are
// lanes of their own.
func TestLanesOfStage(t *testing.T) {
	st := func(b Block, pts ...geo.XY) *stage {
		s := &stage{block: &b}
		for i := 1; i < len(pts); i++ {
			s.legs = append(s.legs, Leg{Kind: Search, From: pts[i-1], To: pts[i]})
		}
		return s
	}
	bent := []geo.XY{{}, {Y: 80}, {X: 9, Y: 80}, {X: 9, Y: 120}, {X: 0, Y: 120}, {Y: 200}, {X: 30, Y: 200}, {X: 30}}
	assert.Equal(t, [][]geo.XY{bent[:6], bent[6:]}, st(Block{Lanes: 2}, bent...).lanes())
	square := []geo.XY{{}, {Y: 50}, {X: 30, Y: 50}, {X: 30}}
	assert.Equal(t, [][]geo.XY{square[:2], square[1:3], square[2:]}, st(Block{Rectangle: true, Lanes: 3}, square...).lanes())
}
