package record

import (
	"context"
	"encoding/json"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
	"github.com/stretchr/testify/require"

	"windfall/drift/logbook"
	"windfall/geo"
	"windfall/geo/plane"
)

// lookOf is a look at the squares of 20 m whose south-west corners lie so far
// east of the pad, in pictures of those names.
func lookOf(f *Flight, east []float64, candidates []LookCandidate, names ...string) *Look {
	l := &Look{Chances: []float64{}, Candidates: candidates}
	var ground orb.MultiPolygon
	for _, x := range east {
		var ring orb.Ring
		for _, q := range plane.Rectangle(x, 0, x+20, 20)[0] {
			ring = append(ring, f.File.Frame.ToLonLat(q))
		}
		ground, l.Chances = append(ground, orb.Polygon{ring}), append(l.Chances, 0.9)
	}
	l.Geometry = geojson.NewGeometry(ground)
	for _, n := range names {
		l.Pictures = append(l.Pictures, LookPicture{Name: n + ".jpg", SHA256: n})
	}
	return l
}

func candidate(f *Flight, east, north float64) LookCandidate {
	p := f.File.Frame.ToLonLat(geo.XY{X: east, Y: north})
	return LookCandidate{Lat: p.Lat(), Lon: p.Lon(), Error: 2, Radius: 5, Score: 14}
}

// A look is kept, comes back as ground looked at, and its candidates have
// numbers of their own among all of the flight.
func TestLookIsKept(t *testing.T) {
	src := heron(t)
	f := read(t, src)
	first := lookOf(f, []float64{0, 20}, []LookCandidate{candidate(f, 10, 10), candidate(f, 30, 10)}, "a", "b")
	x, err := AddLook(src.Logbook, f.File, first, stamp)
	require.NoError(t, err)
	require.Equal(t, logbook.Track, x.Kind)
	require.NoError(t, CheckEntry(x))
	require.Equal(t, []int{1, 2}, []int{first.Candidates[0].N, first.Candidates[1].N})
	other := lookOf(f, []float64{60}, []LookCandidate{candidate(f, 70, 10)}, "c")
	_, err = AddLook(src.Logbook, f.File, other, stamp)
	require.NoError(t, err)
	require.Equal(t, 3, other.Candidates[0].N)

	f = read(t, src)
	require.Len(t, f.Input.Tracks, 2)
	got := f.Input.Tracks[0]
	require.Equal(t, x.ID, got.Entry)
	require.Len(t, got.Looked.Areas, 2)
	unseen := got.Looked.Unseen()
	require.InDelta(t, 0.1, unseen(geo.XY{X: 2, Y: 2}), 1e-9)
	require.InDelta(t, 1, unseen(geo.XY{X: 11, Y: 11}), 1e-9, "a candidate lies there")

	// the same pictures and one more: in the earlier one's place, numbers kept
	again := lookOf(f, []float64{0, 20, 40}, []LookCandidate{candidate(f, 50, 5), candidate(f, 30.3, 10)}, "b", "d", "a")
	y, err := AddLook(src.Logbook, f.File, again, stamp)
	require.NoError(t, err)
	require.Equal(t, x.ID, y.ID)
	require.Equal(t, 2, y.Revision)
	require.Equal(t, []int{4, 2}, []int{again.Candidates[0].N, again.Candidates[1].N})
	_, err = AddLook(src.Logbook, f.File, lookOf(f, []float64{0}, nil, "a"), stamp)
	require.ErrorContains(t, err, "these pictures are logged already, with others, as entry 1; name them all")
}

// No rules a candidate out: its ground counts as searched. Yes logs a find to
// be confirmed, from which nothing is learned and which is no find of the same
// when somebody stands there.
func TestJudge(t *testing.T) {
	src := heron(t)
	f := read(t, src)
	_, err := Judge(src.Logbook, f.File, []Verdict{{N: 1}}, stamp)
	require.ErrorContains(t, err, "the flight has no candidate 1; it has none: windfall look FLIGHT PHOTOS... finds them")
	l := lookOf(f, []float64{0, 20}, []LookCandidate{candidate(f, 10, 10), candidate(f, 30, 10)}, "a")
	_, err = AddLook(src.Logbook, f.File, l, stamp)
	require.NoError(t, err)
	_, err = Judge(src.Logbook, f.File, []Verdict{{N: 9}}, stamp)
	require.ErrorContains(t, err, "no candidate 9; it has 1, 2")
	got, err := Judge(src.Logbook, f.File, []Verdict{{N: 1}, {N: 2, Yes: true}}, stamp)
	require.NoError(t, err)
	require.Len(t, got, 2)
	require.Equal(t, logbook.Find, got[1].Kind)
	f = read(t, src)
	unseen := f.Input.Tracks[0].Looked.Unseen()
	require.InDelta(t, 0.1, unseen(geo.XY{X: 11, Y: 11}), 1e-9, "ruled out")
	require.InDelta(t, 1, unseen(geo.XY{X: 31, Y: 11}), 1e-9, "waits for somebody on foot")
	require.Len(t, f.Input.Sightings, 0)

	finds, err := LearnFrom(context.Background(), src.Logbook)
	require.NoError(t, err)
	require.Len(t, finds.Cases, 1)
	require.True(t, finds.Cases[0].Lost, "the ground looked at teaches, the find that waits does not")
	require.Empty(t, finds.LeftOut)
	again, err := Judge(src.Logbook, f.File, []Verdict{{N: 2, Yes: true}}, stamp)
	require.NoError(t, err)
	require.Len(t, again, 1, "said twice, found once")
	_, cautions, err := AddFind(src.Logbook, f.File, Find{Lat: 41.905, Lon: -4.9206}, 0, stamp)
	require.NoError(t, err)
	require.Empty(t, cautions)

	// looked at again, what was judged stays judged, found again or not
	fewer := lookOf(f, []float64{0, 20}, nil, "a")
	_, err = AddLook(src.Logbook, f.File, fewer, stamp)
	require.NoError(t, err)
	require.Len(t, fewer.Candidates, 2)
	require.Equal(t, "yes", fewer.Candidates[1].Verdict)
}

// A look whose parts do not belong together is left out, and said to be.
func TestUnreadableLooks(t *testing.T) {
	for says, spoil := range map[string]func(*Look){
		"do not belong together":  func(l *Look) { l.Chances = l.Chances[:1] },
		"chance 1.5 is not":       func(l *Look) { l.Chances[0] = 1.5 },
		"its ground and its chan": func(l *Look) { l.Geometry = geojson.NewGeometry(orb.Point{0, 0}) },
	} {
		src := heron(t)
		f := read(t, src)
		l := lookOf(f, []float64{0, 20}, nil, "a")
		spoil(l)
		body, err := json.Marshal(l)
		require.NoError(t, err)
		b, err := logbook.Open(src.Logbook)
		require.NoError(t, err)
		x := logbook.Entry{Flight: "heron-01", Kind: logbook.Track, When: stamp.Now, Body: body}
		_, err = b.Add(nil, x)
		require.NoError(t, err)
		require.NoError(t, b.Close())
		f = read(t, src)
		require.Empty(t, f.Input.Tracks)
		require.Contains(t, strings.Join(f.Input.Cautions, "\n"), says)
		require.Error(t, CheckEntry(x))
	}
}
