package mapfile

import (
	"bytes"
	"errors"
	"image/color"
	"image/png"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/tidwall/geodesic"
	"pgregory.net/rapid"

	"windfall/geo"
	"windfall/geo/place"
	"windfall/geo/plane"
)

// origins gathers the awkward places: anywhere, and near the poles, the
// antimeridian and the equator.
func origins(t *rapid.T) orb.Point {
	lon := rapid.OneOf(rapid.Float64Range(-180, 180), rapid.Float64Range(179.99, 180), rapid.Float64Range(-180, -179.99)).Draw(t, "lon")
	lat := rapid.OneOf(rapid.Float64Range(-90, 90), rapid.Float64Range(-0.01, 0.01), rapid.Float64Range(89.98, 90), rapid.Float64Range(-90, -89.98)).Draw(t, "lat")
	return orb.Point{lon, lat}
}

// star is a ring that never crosses itself, counterclockwise.
func star(t *rapid.T, name string, low, high float64) plane.Ring {
	n := rapid.IntRange(3, 40).Draw(t, name+" corners")
	var r plane.Ring
	for i := range n {
		r = append(r, geo.Polar(rapid.Float64Range(low, high).Draw(t, name), -360*float64(i)/float64(n)))
	}
	return append(r, r[0])
}

// geodesicArea is the area on the ellipsoid between geodesic edges, by Karney's
// algorithm: a check that knows no frame.
func geodesicArea(p orb.Polygon) float64 {
	sum := 0.0
	for i, r := range p {
		pg := geodesic.WGS84.PolygonInit(false)
		for _, q := range r[:len(r)-1] {
			pg.AddPoint(q.Lat(), q.Lon())
		}
		var a float64
		pg.Compute(false, true, &a, nil)
		if i > 0 {
			a = -math.Abs(a)
		}
		sum += math.Abs(a) * math.Copysign(1, a)
	}
	return math.Abs(sum)
}

// areaBack brings a polygon back to the frame.
func areaBack(f geo.Frame, p orb.Polygon) float64 {
	return plane.FromLonLat(f, orb.MultiPolygon{p}).Area()
}

// Wherever the pad is, a shape with a hole comes out with its area, closed,
// outer rings counterclockwise and holes clockwise, within -180 to 180 and
// -90 to 90, and no edge runs the long way round.
func TestShapesKeepTheirAreaEverywhere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := geo.Frame{Origin: origins(t)}
		outer, hole := star(t, "outer", 200, 1500), star(t, "hole", 20, 80)
		slices.Reverse(hole)
		at := geo.Polar(rapid.Float64Range(0, 3000).Draw(t, "away"), rapid.Float64Range(0, 360).Draw(t, "toward"))
		for _, r := range []plane.Ring{outer, hole} {
			for i := range r {
				r[i] = r[i].Add(at)
			}
		}
		shape := plane.Polygons{{outer, hole}}
		for _, lat := range []float64{90, -90} {
			pole := f.ToXY(orb.Point{0, lat})
			if shape.Edge(pole) < 5 {
				t.Skip("an edge over a pole has no longitudes worth the name")
			}
		}
		if rapid.Bool().Draw(t, "whole") {
			shape[0] = shape[0][:1]
		}
		got := polygons(f, shape)
		want, sum := shape.Area(), 0.0
		for _, pg := range got {
			if math.Abs(f.Origin.Lat()) < 89.9 {
				sum += geodesicArea(pg)
			} else { // edges along a pole have no length but confuse geodesics
				sum += areaBack(f, pg)
			}
			for i, r := range pg {
				checkRing(t, r, i == 0)
			}
		}
		// An edge strays at most bow from the straight line, and as much again
		// for a geodesic in place of a line straight in degrees.
		slack := 1.0
		for _, l := range shape.Lines() {
			slack += 2 * bow * l.Length()
		}
		if len(shape[0]) > 1 && math.Abs(f.Origin.Lat()) > 89.9 {
			slack += math.Abs(hole.Area()) // one with the pole in it is filled
		}
		if math.Abs(sum-want) > slack+1e-5*want {
			t.Fatalf("area %g, want %g, in %v", sum, want, got)
		}
	})
}

func checkRing(t *rapid.T, r orb.Ring, outer bool) {
	if len(r) < 4 || r[0] != r[len(r)-1] {
		t.Fatalf("ring %v is not closed", r)
	}
	if (r.Orientation() == orb.CCW) != outer {
		t.Fatalf("ring %v turns the wrong way", r)
	}
	for i, p := range r {
		if math.Abs(p[0]) > 180 || math.Abs(p[1]) > 90 {
			t.Fatalf("corner %v is off the globe", p)
		}
		if i == 0 {
			continue
		}
		alongPole := math.Abs(p[1]) == 90 && math.Abs(r[i-1][1]) == 90
		if d := math.Abs(p[0] - r[i-1][0]); d > 180 && !alongPole {
			t.Fatalf("edge %v to %v runs round the globe", r[i-1], p)
		}
	}
}

// Lines are cut at the antimeridian: the pieces keep the length and meet.
func TestLinesKeepTheirLengthEverywhere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := geo.Frame{Origin: origins(t)}
		path := []geo.XY{{X: rapid.Float64Range(-900, 900).Draw(t, "x"), Y: rapid.Float64Range(-900, 900).Draw(t, "y")}}
		want := 0.0
		for range rapid.IntRange(1, 9).Draw(t, "legs") {
			d := geo.Polar(rapid.Float64Range(1, 500).Draw(t, "m"), rapid.Float64Range(0, 360).Draw(t, "deg"))
			path = append(path, path[len(path)-1].Add(d))
			want += d.Norm()
		}
		sum := 0.0
		for _, ls := range line(f, path) {
			for i := 1; i < len(ls); i++ {
				var s float64
				geodesic.WGS84.Inverse(ls[i-1].Lat(), ls[i-1].Lon(), ls[i].Lat(), ls[i].Lon(), &s, nil, nil)
				sum += s
				if math.Abs(ls[i][0]-ls[i-1][0]) > 180 {
					t.Fatalf("piece %v to %v runs round the globe", ls[i-1], ls[i])
				}
			}
		}
		// The cut lies on the straight line between degrees, not the geodesic:
		// beyond 89 degrees that detour is more than rounding.
		if lat := math.Abs(f.Origin.Lat()); lat < 89 && math.Abs(sum-want) > 0.05+1e-5*want {
			t.Fatalf("length %g, want %g", sum, want)
		}
	})
}

// The areas in the file hold the chance they claim, within 1 %: the map's
// cells are taken one by one, apart from the code that drew the contours.
func TestAreasHoldWhatTheyClaim(t *testing.T) {
	l := small()
	for _, f := range geojsonOf(t, l).Features {
		if f.Properties["kind"] != "area" {
			continue
		}
		mass := 0.0
		for k, p := range l.Chance.P {
			c := l.Frame.ToLonLat(l.Chance.Centre(k%l.Chance.NX, k/l.Chance.NX))
			if planar.MultiPolygonContains(f.Geometry.(orb.MultiPolygon), c) {
				mass += p
			}
		}
		assert.InDelta(t, f.Properties["probability"].(float64), mass, 0.01)
	}
}

func TestSpotsArePeaks(t *testing.T) {
	l := demo().ready()
	s := l.spots()
	require.Len(t, s, 3) // demoMap has three heaps
	for i, want := range []geo.XY{{X: 305, Y: 65}, {X: 490, Y: 245}, {X: 700, Y: 512}} {
		assert.Less(t, s[i].At.Sub(want).Norm(), 40.0, "%s at %v", s[i].Name, s[i].At)
	}
}

// Plan times: the begin, and minutes after it.
func TestLegsCarryTheirTimes(t *testing.T) {
	l := small()
	kml := string(made(t, l, "kml", Options{}))
	assert.Contains(t, kml, "<begin>2026-03-14T09:50:00Z</begin>")
	assert.Contains(t, string(made(t, l, "gpx", Options{})), "<time>2026-03-14T09:50:00Z</time>")
	l.Plan = &Plan{Searchers: l.Plan.Searchers}
	assert.NotContains(t, string(made(t, l, "kml", Options{})), "<TimeSpan>")
	assert.NotContains(t, string(made(t, l, "gpx", Options{})), "<time>")
}

// With a plan, each leg is a LineString that carries the leg's figures, and
// nothing else is a LineString.
func TestLegsCarryTheirFigures(t *testing.T) {
	l := small()
	l.Plan.Searchers[0].Legs[0].Cover, l.Plan.Searchers[0].Legs[0].StartMin = "crop", 0.125
	n := 0
	for _, f := range geojsonOf(t, l).Features {
		if _, ok := f.Geometry.(orb.LineString); !ok {
			continue
		}
		assert.NotEmpty(t, f.Properties["searcher"])
		_, covered := f.Properties["cover"]
		assert.Equal(t, n == 0, covered, "only where it is known")
		if n == 0 {
			assert.Equal(t, "crop", f.Properties["cover"])
			assert.Equal(t, 0.125, f.Properties["start_min"])
		}
		n++
	}
	assert.Equal(t, 3*14+15, n)
}

// full fails like a full disk after so many bytes.
type full struct{ room int }

var errFull = errors.New("no space left on device")

func (f *full) Write(p []byte) (int, error) {
	if len(p) > f.room {
		n := f.room
		f.room = 0
		return n, errFull
	}
	f.room -= len(p)
	return len(p), nil
}

// A disk that fills up anywhere in any file is told, never swallowed.
func TestFullDiskIsTold(t *testing.T) {
	l := small()
	for _, f := range formats {
		size := len(made(t, l, f.name, Options{}))
		for _, room := range []int{0, size / 2, size - 1} {
			assert.ErrorIs(t, f.write(&full{room}, l, Options{}), errFull, "%s after %d bytes", f.name, room)
		}
		assert.NoError(t, f.write(&full{size}, l, Options{}), f.name)
	}
}

func TestSameBytesTwice(t *testing.T) {
	all := Options{Formats: []string{"kml", "kmz", "gpx", "geojson", "png", "svg", "sheet"}}
	a, err := Files(small(), all)
	require.NoError(t, err)
	b, err := Files(small(), all)
	require.NoError(t, err)
	require.Len(t, a, 7)
	for i := range a {
		assert.Equal(t, a[i].Name, b[i].Name)
		assert.True(t, bytes.Equal(a[i].Data, b[i].Data), a[i].Name)
	}
}

func TestFileNames(t *testing.T) {
	names := func(l *Landing) (out []string) {
		files, err := Files(l, Options{})
		require.NoError(t, err)
		for _, f := range files {
			out = append(out, f.Name)
		}
		return out
	}
	l := small()
	assert.Equal(t, []string{"search.kml", "search.kmz", "search.gpx", "search.geojson", "search.png", "sheet.html"}, names(l))
	l.Plan = nil
	assert.Equal(t, []string{"landing.kml", "landing.kmz", "landing.geojson", "landing.png"}, names(l))
}

// The promise of a phone on a thin line: the KMZ of a 200 by 200 map and four
// searchers stays below 500 kB; so do awkward ones.
func TestKMZIsSmall(t *testing.T) {
	eachCase(t, func(t *testing.T, l *Landing) { assert.Less(t, len(made(t, l, "kmz", Options{})), 500_000) })
}

// Every awkward landing gives a picture and a sheet: PNG that decodes, SVG and
// HTML without a stray mark from a name.
func TestAwkwardPictures(t *testing.T) {
	eachCase(t, func(t *testing.T, l *Landing) {
		var b bytes.Buffer
		require.NoError(t, PNG(&b, l, Page{Scale: 0.5, Grid: place.MGRS}))
		img, err := png.Decode(&b)
		require.NoError(t, err)
		assert.Equal(t, 360, img.Bounds().Dx())
		inks := map[color.Color]bool{}
		for y := 0; y < img.Bounds().Dy(); y += 3 {
			for x := 0; x < 360; x += 3 {
				inks[img.At(x, y)] = true
			}
		}
		assert.Greater(t, len(inks), 3, "an empty page")
		svg := string(made(t, l, "svg", Options{}))
		assert.NotContains(t, svg, "<b>")
		assert.NotContains(t, svg, "NaN")
		if l.Plan != nil {
			html := string(made(t, l, "sheet", Options{QRList: true}))
			assert.NotContains(t, html, "<b>&\"'")
			assert.NotContains(t, html, "<script")
			assert.NotContains(t, html, "NaN")
			assert.Equal(t, 1, strings.Count(html, "</html>"))
			for _, net := range []string{`src="http`, `href="http`, "url(", "@import"} {
				assert.NotContains(t, html, net, "the sheet needs no network")
			}
		}
	})
}

// A corner a hair off the antimeridian, with a hole beneath it, once left a
// piece on the wrong side.
func TestCutWithACornerOnTheAntimeridian(t *testing.T) {
	f := geo.Frame{Origin: orb.Point{180, 89.98291015625}}
	at := geo.Polar(1.043081283569336e-07, 1.5)
	var shape plane.Polygon
	for _, radius := range []float64{200, 20} {
		var r plane.Ring
		for i := range 3 {
			r = append(r, at.Add(geo.Polar(radius, -360*float64(i)/3)))
		}
		shape = append(shape, append(r, r[0]))
	}
	slices.Reverse(shape[1])
	for _, pg := range polygons(f, plane.Polygons{shape}) {
		for _, r := range pg {
			for _, p := range r {
				require.LessOrEqual(t, math.Abs(p.Lon()), 180.0)
			}
		}
	}
}
