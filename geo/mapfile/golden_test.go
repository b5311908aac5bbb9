package mapfile

import (
	"archive/zip"
	"bytes"
	"flag"
	"fmt"
	"image"
	_ "image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/geo"
	"windfall/geo/grid"
	"windfall/geo/plane"
)

var update = flag.Bool("update", false, "rewrite testdata/golden")

// golden is small with two searchers of few legs.
func golden() *Landing {
	l := small()
	l.Chance = demoMap(l.Frame, 30, 40)
	l.Areas = []grid.Area{{Probability: 0.9, AreaM2: 123456, Shape: plane.Polygons{ // drawn by hand: contours are another package's
		{corners(250, 0, 700, 50, 720, 400, 300, 420, 250, 0), corners(370, 150, 350, 190, 400, 200, 370, 150)},
		{corners(680, 480, 740, 490, 700, 540, 680, 480)},
	}}}
	l.Plan.Searchers = []Route{l.Plan.Searchers[0], l.Plan.Searchers[3]}
	for i := range l.Plan.Searchers {
		r := &l.Plan.Searchers[i]
		r.Legs = append(r.Legs[:4:4], r.Legs[13:]...)
	}
	return l
}

// The files of one small plan as they were last looked at; go test -update
// rewrites them, and the difference is for the eye. Pictures are compared by
// their pixels: packing may change with the Go version.
func TestGolden(t *testing.T) {
	files, err := Files(golden(), Options{Formats: []string{"kml", "kmz", "gpx", "geojson", "png", "svg", "sheet"}})
	require.NoError(t, err)
	for _, f := range files {
		path := filepath.Join("testdata", "golden", f.Name)
		if *update {
			require.NoError(t, os.WriteFile(path, f.Data, 0o644))
		}
		want, err := os.ReadFile(path)
		require.NoError(t, err)
		switch filepath.Ext(f.Name) {
		case ".png":
			assert.Empty(t, pixels(t, want, f.Data), f.Name)
		case ".kmz":
			sameKMZ(t, want, f.Data)
		case ".svg", ".html": // a picture within is packed
			assert.Equal(t, string(unpacked(want)), string(unpacked(f.Data)), f.Name)
		default:
			assert.Equal(t, string(want), string(f.Data), f.Name)
		}
	}
}

func unpacked(b []byte) []byte {
	for {
		i := bytes.Index(b, []byte("data:image/png;base64,"))
		if i < 0 {
			return b
		}
		j := bytes.IndexByte(b[i:], '"')
		b = append(append(bytes.Clone(b[:i]), "picture"...), b[i+j:]...)
	}
}

// pixels says where two pictures differ first, "" if they do not.
func pixels(t *testing.T, a, b []byte) string {
	x, _, err := image.Decode(bytes.NewReader(a))
	require.NoError(t, err)
	y, _, err := image.Decode(bytes.NewReader(b))
	require.NoError(t, err)
	if x.Bounds() != y.Bounds() {
		return fmt.Sprint(x.Bounds(), " is now ", y.Bounds())
	}
	for j := x.Bounds().Min.Y; j < x.Bounds().Max.Y; j++ {
		for i := x.Bounds().Min.X; i < x.Bounds().Max.X; i++ {
			r0, g0, b0, a0 := x.At(i, j).RGBA()
			r1, g1, b1, a1 := y.At(i, j).RGBA()
			for _, d := range []int{int(r0) - int(r1), int(g0) - int(g1), int(b0) - int(b1), int(a0) - int(a1)} {
				if d > 3*257 || d < -3*257 { // other processors may round otherwise
					return fmt.Sprintf("pixel %d, %d: %v is now %v", i, j, x.At(i, j), y.At(i, j))
				}
			}
		}
	}
	return ""
}

func sameKMZ(t *testing.T, a, b []byte) {
	x, err := zip.NewReader(bytes.NewReader(a), int64(len(a)))
	require.NoError(t, err)
	y, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	require.NoError(t, err)
	require.Len(t, y.File, len(x.File))
	for i := range x.File {
		name := x.File[i].Name
		require.Equal(t, name, y.File[i].Name)
		assert.Equal(t, x.File[i].Modified, y.File[i].Modified, "no clock in the bytes")
		if filepath.Ext(name) == ".png" {
			assert.Empty(t, pixels(t, unzipped(t, a, name), unzipped(t, b, name)), name)
		} else {
			assert.Equal(t, string(unzipped(t, a, name)), string(unzipped(t, b, name)), name)
		}
	}
}

func ExampleFiles() {
	l := &Landing{Title: "garza-01", Frame: geo.Frame{Origin: orb.Point{-5.5831, 39.0512}}, Mean: &geo.XY{X: 300, Y: 100}}
	files, err := Files(l, Options{Formats: []string{"kml", "geojson"}})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, f := range files {
		fmt.Println(f.Name)
	}
	// Output:
	// landing.kml
	// landing.geojson
}
