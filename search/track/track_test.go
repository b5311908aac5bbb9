package track

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"windfall/geo"
)

var pad = geo.Frame{Origin: orb.Point{-4.9210, 41.9050}}

// walk.gpx is an invented recording: 180 m out, a lane of 300 m, 30 m across, a
// lane back, a gap of ten minutes, the way home and 5 km in a car with the
// recorder still on, and one fix that jumps away.
func TestWalk(t *testing.T) {
	f, err := os.Open("testdata/walk.gpx")
	require.NoError(t, err)
	defer f.Close()
	tr, err := Read(f, "walk.gpx")
	require.NoError(t, err)
	require.Len(t, tr.Segments, 2)
	w, err := Clean(tr, pad, Limit(false, 0.8))
	require.NoError(t, err)
	require.InDelta(t, 180+300+30+300+198, w.Metres, 40)
	require.Contains(t, w.Notes[0], "1 fix that jumps away and back")
	require.Contains(t, w.Notes[1], "faster than 2.8 m/s left out")
	for _, l := range w.Lines {
		for _, q := range l {
			require.Less(t, q.Norm(), 520.0, "nothing of the drive, nor the jump")
		}
	}
}

func gpxOf(body string) string {
	return `<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">` + body + `</gpx>`
}

func TestGapsAreNotSearched(t *testing.T) {
	tr := &Track{Segments: [][]Fix{{{At: pad.ToLonLat(geo.XY{})}, {At: pad.ToLonLat(geo.XY{X: 100})}, {At: pad.ToLonLat(geo.XY{X: 900})}, {At: pad.ToLonLat(geo.XY{X: 1000})}}}}
	w, err := Clean(tr, pad, walkerMps)
	require.NoError(t, err)
	require.Len(t, w.Lines, 2)
	require.InDelta(t, 200, w.Metres, 0.1)
	require.Equal(t, []string{"1 gap without fixes, not counted as searched"}, w.Notes)
}

// A recorder set to a fix every two minutes leaves nothing but gaps, and is told so.
func TestRareFixes(t *testing.T) {
	tr := &Track{Segments: [][]Fix{nil}}
	for i := range 20 {
		tr.Segments[0] = append(tr.Segments[0], Fix{At: pad.ToLonLat(geo.XY{X: 120 * float64(i)}),
			Time: time.Date(2026, 5, 2, 9, 2*i, 0, 0, time.UTC)})
	}
	_, err := Clean(tr, pad, walkerMps)
	require.ErrorContains(t, err, "it has 19 gaps of more than 90 s or 250 m between fixes; set the recorder to a fix every few seconds")
}

func TestRefusals(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"bomb", "<?xml version=\"1.0\"?>\n<!DOCTYPE lolz [<!ENTITY lol \"lol\">]>\n<gpx/>", "t.gpx:2: a document type declaration"},
		{"deep", strings.Repeat("<a>", 5000), "t.gpx:1: elements nested more than 40 deep"},
		{"text", "hello <", "t.gpx"},
		{"empty", gpxOf(""), "holds no track points"},
		{"route", gpxOf(`<rte><rtept lat="41.9" lon="-4.9"/></rte>`), "holds a planned route"},
		{"place", gpxOf(`<trk><trkseg><trkpt lat="141.9" lon="-4.9"/></trkseg></trk>`), "fix 1: lat 141.9, lon -4.9 is no place"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Read(strings.NewReader(c.text), "t.gpx")
			require.ErrorContains(t, err, c.want)
			require.NotContains(t, err.Error(), "\n")
		})
	}
	_, err := Read(&endless{}, "big.gpx")
	require.ErrorContains(t, err, "big.gpx: larger than 24 MB")
	tr, err := Read(strings.NewReader(gpxOf(`<trk><trkseg><trkpt lat="-33.9" lon="18.4"/><trkpt lat="-33.91" lon="18.4"/></trkseg></trk>`)), "t.gpx")
	require.NoError(t, err)
	_, err = Clean(tr, pad, walkerMps)
	require.ErrorContains(t, err, "it is of another place")
}

// endless is a GPX file without end.
type endless struct{ n int }

func (e *endless) Read(p []byte) (int, error) {
	s := gpxOf("")[:70] + fmt.Sprintf(`<trkpt lat="1" lon="1"/>%d`, e.n)
	e.n++
	return copy(p, s), nil
}

func FuzzRead(f *testing.F) {
	b, _ := os.ReadFile("testdata/walk.gpx")
	f.Add(string(b[:2000]))
	f.Add(gpxOf(`<trk><trkseg><trkpt lat="41.905" lon="-4.921"><time>2026-05-02T09:00:00Z</time></trkpt><trkpt lat="41.906" lon="-4.921"/></trkseg></trk>`))
	f.Add(gpxOf(`<trk><trkseg><trkpt lat="NaN" lon="1e400"/></trkseg></trk>`))
	f.Fuzz(func(t *testing.T, s string) {
		tr, err := Read(strings.NewReader(s), "f")
		if err != nil {
			return
		}
		_, _ = Clean(tr, pad, walkerMps)
	})
}
