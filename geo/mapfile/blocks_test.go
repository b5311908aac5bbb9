package mapfile

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/geo"
	"windfall/geo/plane"
)

// path makes legs of one searcher, a minute each; a block's name goes from the
// leg it stands at to the next.
func pathOf(pts []geo.XY, names ...string) (out []Leg) {
	for i := 1; i < len(pts); i++ {
		g := Leg{N: i, Kind: Search, From: pts[i-1], To: pts[i], StartMin: float64(i - 1), EndMin: float64(i), Block: names[i-1]}
		if i == len(pts)-1 {
			g.Kind = "return"
		}
		out = append(out, g)
	}
	return out
}

func twoBlocks() Route {
	pts := []geo.XY{{}, {X: 50}, {X: 100}, {X: 100, Y: 90}, {X: 100, Y: 200}, {X: 140, Y: 200}, {X: 140}, {X: 300}, {X: 300, Y: 200}, {}}
	return Route{Name: "east", Kind: "walker", Minutes: 9, nth: 1,
		Legs: pathOf(pts, "", "", "A1", "A1", "A1", "A1", "", "A2", ""),
		Blocks: []Block{
			{Name: "A1", Lanes: 2, Lane: 200, Spacing: 40, Back: 180, Side: 90, Begin: pts[2], End: pts[6], StartMin: 2, EndMin: 6},
			{Name: "A2", Lanes: 1, Lane: 200, Spacing: 40, Back: 180, Side: 90, Begin: pts[7], End: pts[8], StartMin: 7, EndMin: 8},
		}}
}

// A route is told as ways and blocks in turn; legs on one line are one course,
// and what comes after enough is marked, its way too.
func TestStages(t *testing.T) {
	r := twoBlocks()
	p := &Plan{Enough: Enough{Minutes: 6.5, POS: 0.5}, Searchers: []Route{r}}
	ss := p.stages(r)
	require.Len(t, ss, 5)
	var names []string
	var later []bool
	for _, s := range ss {
		names, later = append(names, s.name()), append(later, s.later)
	}
	assert.Equal(t, []string{"", "A1", "", "A2", ""}, names)
	assert.Equal(t, []bool{false, false, true, true, true}, later)
	assert.Equal(t, []geo.XY{{}, {X: 100}}, ss[0].path())
	assert.Equal(t, []geo.XY{{X: 100}, {X: 100, Y: 200}, {X: 140, Y: 200}, {X: 140}}, ss[1].path())
	assert.InDelta(t, 440, ss[1].length(), 1e-9)
	assert.InDelta(t, 240*80, ss[1].outline().Area(), 1e-6, "lanes and half a spacing round them")
	assert.InDelta(t, 0, ss[1].middle().Sub(geo.XY{X: 120, Y: 100}).Norm(), 1e-9)
	assert.Equal(t, "to here 6 minutes, 50 %; beyond, 20 % for 2 minutes more",
		(&Plan{POS: 0.7, Enough: p.Enough, Searchers: []Route{r}}).beyond())
}

// What a person reads of a block, with compass bearings and paces where they are
// known.
func TestBlockText(t *testing.T) {
	d := 2.0
	l, r := &Landing{Declination: &d}, Route{Pace: 0.8}
	b := Block{Lanes: 8, Lane: 180, Spacing: 38, Out: 11, Back: 191, Side: 101}
	assert.Equal(t, "8 lanes of 180 m (225 paces), 38 m (48 paces) apart, out on 011° (compass 009°), back on 191° "+
		"(compass 189°), next lane toward 101° (compass 099°)", b.text(l, r))
	b.Rectangle = true
	assert.Equal(t, "expanding rectangle of 8 courses: 180 m on 011°, then always turn right; each course 38 m outside the "+
		"one before on its side", b.text(&Landing{}, Route{}))
	b.Side = 281
	assert.Contains(t, b.text(&Landing{}, Route{}), "always turn left")
	assert.Equal(t, "one lane of 180 m on 011°", (&Block{Lanes: 1, Lane: 180, Out: 11}).text(&Landing{}, Route{}))
}

// The crossing that a way uses is named with its barrier, ground that it skirts
// as well; a drone's way has no landmarks.
func TestLandmarks(t *testing.T) {
	l := &Landing{
		Crossings: []Spot{{Name: "plank bridge", At: geo.XY{X: 50}}, {Name: "stile", At: geo.XY{X: 50, Y: 80}}},
		Barriers:  []Line{{Name: "stream", Path: []geo.XY{{X: 50, Y: -100}, {X: 50, Y: 100}}}},
		NoGo:      []Zone{{Name: "fold", Shape: plane.Polygons{plane.Rectangle(98, 2, 120, 40)}}},
	}
	assert.Equal(t, "over plank bridge (stream), round fold", l.landmarks([]geo.XY{{}, {X: 50}, {X: 97, Y: 1}}))
	r := twoBlocks()
	ss := (&Plan{}).stages(r)
	assert.Equal(t, "way there: 100 m on 090°, over plank bridge (stream), round fold", ss[0].wayText(l, r))
	r.Kind = "drone"
	assert.Equal(t, "way there: 100 m on 090°", ss[0].wayText(l, r))
	assert.Equal(t, "way home: 361 m on 236°", ss[4].wayText(l, r))
}

// GPX has a route a block and one track of the whole way; with tracks, a track
// a block too and every point a waypoint.
func TestBlocksInGPX(t *testing.T) {
	l := &Landing{Title: "t", Plan: &Plan{Searchers: []Route{twoBlocks()}}}
	var b bytes.Buffer
	require.NoError(t, GPX(&b, l, false))
	assert.Equal(t, 2, strings.Count(b.String(), "<rte>"))
	assert.Equal(t, 1, strings.Count(b.String(), "<trk>"))
	assert.Contains(t, b.String(), "<name>A1-01</name>")
	assert.Contains(t, b.String(), "<name>A1 east</name>")
	b.Reset()
	require.NoError(t, GPX(&b, l, true))
	assert.Zero(t, strings.Count(b.String(), "<rte>"))
	assert.Equal(t, 3, strings.Count(b.String(), "<trk>"))
	assert.Contains(t, b.String(), "<name>east A1-01</name>")
}
