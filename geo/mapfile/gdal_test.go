package mapfile

import (
	"encoding/json"
	"encoding/xml"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
	"github.com/paulmach/orb/planar"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/geo"
)

// GDAL (Debian package gdal-bin) is a reader of every format that shares no
// code with the writers.

// through reads a file with ogr2ogr and gives it back as GeoJSON in an equal
// area projection about the pad, metres.
func through(t *testing.T, path string, l *Landing, layer ...string) *geojson.FeatureCollection {
	out := filepath.Join(t.TempDir(), "out.geojson")
	o := l.Frame.Origin
	proj := fmt.Sprintf("+proj=laea +lat_0=%.10f +lon_0=%.10f +datum=WGS84 +units=m", o.Lat(), o.Lon())
	tool(t, "gdal-bin", "ogr2ogr", append([]string{"-f", "GeoJSON", "-t_srs", proj, "-s_srs", "EPSG:4326", "-lco", "COORDINATE_PRECISION=6", out, path}, layer...)...)
	data, err := os.ReadFile(out)
	require.NoError(t, err)
	fc, err := geojson.UnmarshalFeatureCollection(data)
	require.NoError(t, err)
	return fc
}

func TestGeoJSONThroughGDAL(t *testing.T) {
	l := demo()
	fc := through(t, written(t, l, "geojson", Options{}), l)
	areas, legs, starts := 0, 0, 0
	for _, f := range fc.Features {
		switch f.Properties["kind"] {
		case "area":
			a := l.Areas[areas]
			assert.Equal(t, a.Probability, f.Properties["probability"])
			assert.InEpsilon(t, a.AreaM2, planar.Area(f.Geometry), 1e-3)
			assert.InDelta(t, a.AreaM2, f.Properties["area_m2"], 1e-6)
			areas++
		case "start":
			s := l.Plan.Searchers[starts].Start
			near(t, s, f.Geometry.(orb.Point))
			starts++
		case "search", "transit", "return", "recharge":
			ls := f.Geometry.(orb.LineString)
			var r Route
			for _, r = range l.Plan.Searchers {
				if r.Name == f.Properties["searcher"] {
					break
				}
			}
			g := r.Legs[int(f.Properties["n"].(float64))-1]
			near(t, g.From, ls[0])
			near(t, g.To, ls[1])
			assert.InDelta(t, g.EndMin, f.Properties["end_min"], 1e-9)
			legs++
		}
	}
	assert.Equal(t, 4, areas)
	assert.Equal(t, 4, starts)
	assert.Equal(t, 3*14+15, legs)
}

// near holds a point to 1 cm: 8 decimals of a degree are 1 mm, and the two
// projections differ by r^3/(24 R^2), 1 mm at 1 km.
func near(t *testing.T, want geo.XY, got orb.Point) {
	t.Helper()
	assert.InDelta(t, want.X, got[0], 0.01)
	assert.InDelta(t, want.Y, got[1], 0.01)
}

func TestKMLThroughGDAL(t *testing.T) {
	l := demo()
	for _, format := range []string{"kml", "kmz"} {
		path := written(t, l, format, Options{})
		fc := through(t, path, l, "Areas by chance")
		require.Len(t, fc.Features, 4, format)
		for i, f := range fc.Features {
			assert.InEpsilon(t, l.Areas[i].AreaM2, planar.Area(f.Geometry), 1e-3)
			assert.Equal(t, []string{"50 % area", "75 % area", "90 % area", "95 % area"}[i], f.Properties["Name"])
		}
		spot := through(t, path, l, "Places").Features[1]
		near(t, l.ready().spots()[1].At, spot.Geometry.(orb.Point))
		legs := through(t, path, l, "Legs")
		require.Len(t, legs.Features, 14)
		near(t, l.Plan.Searchers[2].Legs[1].To, firstLine(legs.Features[1].Geometry)[1])
		assert.Equal(t, "C002 search", legs.Features[1].Properties["Name"])
		block := through(t, path, l, "A1: 6 lanes of 120 m, 18 m apart")
		require.Len(t, block.Features, 3)
		b := l.Plan.Searchers[0].Blocks[0]
		near(t, b.Begin, block.Features[0].Geometry.(orb.Point))
		assert.Equal(t, "A1 ground", block.Features[1].Properties["Name"])
		assert.InEpsilon(t, 138*126, planar.Area(block.Features[1].Geometry), 1e-3)
		near(t, b.Begin, firstLine(block.Features[2].Geometry)[0])
	}
}

func firstLine(g orb.Geometry) orb.LineString {
	switch g := g.(type) {
	case orb.LineString:
		return g
	case orb.MultiLineString:
		return g[0]
	case orb.Collection:
		return firstLine(g[0])
	}
	return nil
}

func TestGPXThroughGDAL(t *testing.T) {
	l := demo()
	path := written(t, l, "gpx", Options{})
	assert.Len(t, through(t, path, l, "waypoints").Features, 1+3+1+4)
	routes := through(t, path, l, "routes")
	require.Len(t, routes.Features, 4)
	for i, name := range []string{"A1 east", "B1 north", "lane", "D1 scout"} {
		assert.Equal(t, name, routes.Features[i].Properties["name"])
	}
	near(t, l.Plan.Searchers[0].Blocks[0].Begin, routes.Features[0].Geometry.(orb.LineString)[0])
	ways := through(t, path, l, "tracks")
	require.Len(t, ways.Features, 3, "of those with blocks")
	for i, k := range []int{0, 1, 3} {
		r := l.Plan.Searchers[k]
		assert.Equal(t, r.Name, ways.Features[i].Properties["name"])
		ls := firstLine(ways.Features[i].Geometry)
		near(t, r.Start, ls[0])
		for j, g := range r.Legs {
			if g.Kind != "recharge" {
				near(t, g.To, ls[j+1])
			}
		}
	}
	tracks := through(t, written(t, l, "gpx", Options{Tracks: true}), l, "tracks")
	assert.Len(t, tracks.Features, 4+3)
}

// Every awkward file opens in GDAL, all of them in one process: ogrtindex asks
// each layer for its extent, which takes every feature, and lists what it read.
func TestAwkwardFilesOpenInGDAL(t *testing.T) {
	index := filepath.Join(t.TempDir(), "index.geojson")
	args := []string{"-accept_different_schemas", "-f", "GeoJSON", index}
	var paths []string
	for _, l := range awkward() {
		for _, f := range []string{"geojson", "kml"} { // GPX: see GPSBabel
			paths = append(paths, written(t, l, f, Options{}))
		}
	}
	out := tool(t, "gdal-bin", "ogrtindex", append(args, paths...)...)
	for line := range strings.Lines(out) {
		assert.NotRegexp(t, "ERROR|Warning|Failed|Unable", line)
	}
	data, err := os.ReadFile(index)
	require.NoError(t, err)
	layers := map[string]int{}
	fc, err := geojson.UnmarshalFeatureCollection(data)
	require.NoError(t, err)
	for _, f := range fc.Features {
		file, _, _ := strings.Cut(f.Properties["LOCATION"].(string), ",")
		layers[file]++
	}
	for _, p := range paths {
		assert.Positive(t, layers[p], p)
	}
}

// The overlay lies where it should: at the middle of each probed cell GDAL
// reads the palette index of that cell's chance. GDAL takes the place from the
// KML itself.
func TestOverlayLiesWhereGDALFindsIt(t *testing.T) {
	if _, err := exec.LookPath("gdallocationinfo"); err != nil {
		t.Skip("gdallocationinfo is not installed: apt install gdal-bin")
	}
	few := []string{"map alone", "equator", "polar"}
	for name, l := range awkward() {
		l = l.ready()
		if o := l.Overlay(); o == nil || len(o.split()) > 1 || name == "shapes of nothing" {
			continue
		}
		if os.Getenv("WINDFALL_SLOW") == "" && !slices.Contains(few, name) {
			continue
		}
		t.Run(name, func(t *testing.T) { probeOverlay(t, l) })
	}
}

func probeOverlay(t *testing.T, l *Landing) {
	kmz := made(t, l, "kmz", Options{})
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "chance.png"), unzipped(t, kmz, "chance.png"), 0o644))
	// GDAL sees an overlay only within the first kilobyte: give it ours alone.
	overlay := regexp.MustCompile(`(?s)<GroundOverlay>.*</GroundOverlay>`).Find(unzipped(t, kmz, "doc.kml"))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "doc.kml"),
		fmt.Appendf(nil, `<kml xmlns="http://www.opengis.net/kml/2.2"><Document>%s</Document></kml>`, overlay), 0o644))
	m := l.Chance
	var where strings.Builder
	var want []string
	for k := 0; k < len(m.P); k += 397 { // no divisor of the row: the probes spread
		p := m.Frame.ToLonLat(m.Centre(k%m.NX, k/m.NX))
		fmt.Fprintf(&where, "%.9f %.9f\n", p.Lon(), p.Lat())
		want = append(want, fmt.Sprint(shade(l.worked.levels[k])))
	}
	cmd := exec.Command("gdallocationinfo", "-wgs84", "-valonly", "-b", "1", filepath.Join(dir, "doc.kml"))
	cmd.Stdin = strings.NewReader(where.String())
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, string(out))
	got := strings.Fields(string(out))
	require.Len(t, got, len(want), string(out[:min(len(out), 500)]))
	wrong := 0
	for i := range want {
		if got[i] != want[i] {
			wrong++
		}
	}
	assert.Zero(t, wrong, "of %d probes", len(want))
}

// Across the antimeridian the two halves of the overlay meet at 180 and carry
// on each other's columns.
func TestOverlayMeetsAtTheAntimeridian(t *testing.T) {
	l := demo()
	l.Frame.Origin, l.Chance.Frame.Origin = orb.Point{179.9985, -17}, orb.Point{179.9985, -17}
	halves := l.ready().Overlay().split()
	require.Len(t, halves, 2)
	assert.Equal(t, 180.0, halves[0].East)
	assert.Equal(t, -180.0, halves[1].West)
	a, b := halves[0].Image.Bounds().Dx(), halves[1].Image.Bounds().Dx()
	step := (halves[0].East - halves[0].West) / float64(a)
	assert.InDelta(t, step, (halves[1].East-halves[1].West)/float64(b), 1e-9)
	lv := l.ready().worked.levels
	for k := 0; k < len(lv); k += 173 {
		p := l.Frame.ToLonLat(l.Chance.Centre(k%l.Chance.NX, k/l.Chance.NX))
		h := halves[0]
		if p.Lon() < 0 {
			h = halves[1]
		}
		x := h.Image.Bounds().Min.X + int(math.Floor((p.Lon()-h.West)/step))
		y := int(math.Floor((h.North - p.Lat()) / (h.North - h.South) * float64(h.Image.Bounds().Dy())))
		assert.Equal(t, shade(lv[k]), h.Image.ColorIndexAt(x, y), "cell %d", k)
	}
}

// The half hidden behind a hole must stay hidden: holes are holes.
func TestHolesAndIslands(t *testing.T) {
	l := demo()
	fc := geojsonOf(t, l)
	polygons, holes := 0, 0
	for _, f := range fc.Features {
		if f.Properties["kind"] == "area" {
			for _, pg := range f.Geometry.(orb.MultiPolygon) {
				polygons++
				holes += len(pg) - 1
			}
		}
	}
	assert.Greater(t, polygons, 4, "an island at least")
	assert.Positive(t, holes, "a hole at least")
	var doc struct {
		Inner []struct{} `xml:"Document>Folder>Placemark>MultiGeometry>Polygon>innerBoundaryIs"`
		Plain []struct{} `xml:"Document>Folder>Placemark>Polygon>innerBoundaryIs"`
	}
	require.NoError(t, xml.Unmarshal(made(t, l, "kml", Options{}), &doc))
	assert.Equal(t, holes, len(doc.Inner)+len(doc.Plain))
}

func geojsonOf(t *testing.T, l *Landing) *geojson.FeatureCollection {
	var fc geojson.FeatureCollection
	require.NoError(t, json.Unmarshal(made(t, l, "geojson", Options{}), &fc))
	return &fc
}
