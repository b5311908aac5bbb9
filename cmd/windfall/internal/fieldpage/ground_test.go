package fieldpage

import (
	"bytes"
	"encoding/base64"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/geo"
	"windfall/geo/mapfile"
	"windfall/geo/plane"
)

// towers stand on a base map that is grey up to a line in the west and shows
// nothing beyond it.
func towers(at []orb.Point, west float64) *mapfile.Base {
	return &mapfile.Base{Credit: "<i>ours", Draw: func(f geo.Frame, b plane.Box, w, h int) image.Image {
		img := image.NewNRGBA(image.Rect(0, 0, w, h))
		metre := b.Size().X / float64(w)
		for py := range h {
			for px := range w {
				q := geo.XY{X: b.Min.X + (float64(px)+0.5)*metre, Y: b.Max.Y - (float64(py)+0.5)*metre}
				ink := color.NRGBA{210, 210, 210, 255}
				for _, t := range at {
					if f.ToXY(t).Sub(q).Norm() < 6 {
						ink = color.NRGBA{A: 255}
					}
				}
				if f.ToLonLat(q).Lon() < west {
					ink = color.NRGBA{}
				}
				img.SetNRGBA(px, py, ink)
			}
		}
		return img
	}}
}

// mercator is the ordinate of Web Mercator at a latitude (EPSG:3857), in radians.
func mercator(lat float64) float64 { return math.Atanh(math.Sin(lat * math.Pi / 180)) }

// The base map is one picture in the page, whose towers stand where Web Mercator
// has their latitude and longitude, to three metres; a plan without one has none.
func TestGround(t *testing.T) {
	l := landing()
	at := func(x, y float64) orb.Point { return l.Frame.ToLonLat(geo.XY{X: x, Y: y}) }
	stand := []orb.Point{at(-150, -200), at(200, 260), at(0, 0), at(220, -230)}
	l.Base = towers(stand, at(-180, 0).Lon())
	g, err := groundOf(l, mapfile.ChartOf(l))
	require.NoError(t, err)
	data, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(g.URL, "data:image/jpeg;base64,"))
	require.NoError(t, err)
	img, err := jpeg.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	w, h := float64(img.Bounds().Dx()), float64(img.Bounds().Dy())
	low, high := g.Bounds[0], g.Bounds[1]
	assert.InDelta(t, at(-180, 0).Lon(), low[1], 2e-5, "what the map does not show is cut off")
	for _, p := range stand {
		x := w * (p.Lon() - low[1]) / (high[1] - low[1])
		y := h * (mercator(high[0]) - mercator(p.Lat())) / (mercator(high[0]) - mercator(low[0]))
		for _, d := range [][2]float64{{0, 0}, {3, 0}, {-3, 0}, {0, 3}, {0, -3}} { // metres
			v, _, _, _ := img.At(int(x+d[0]/finest), int(y+d[1]/finest)).RGBA()
			assert.Less(t, v>>8, uint32(90), "%v %v", p, d)
		}
		for _, d := range [][2]float64{{9, 0}, {-9, 0}, {0, 9}, {0, -9}} {
			v, _, _, _ := img.At(int(x+d[0]/finest), int(y+d[1]/finest)).RGBA()
			assert.Greater(t, v>>8, uint32(150), "%v %v", p, d)
		}
	}
	files, err := Append(nil, l, Plan{})
	require.NoError(t, err)
	assert.Contains(t, string(files[0].Data), "data:image/jpeg;base64,/9j/")
	assert.NotContains(t, string(files[0].Data), "<i>ours")

	l.Base = towers(nil, 0) // all of it lies east
	g, err = groundOf(l, mapfile.ChartOf(l))
	assert.NoError(t, err)
	assert.Nil(t, g)
	l.Base = nil
	var b bytes.Buffer
	require.NoError(t, Write(&b, l, Plan{}))
	assert.NotContains(t, b.String(), `"base":`)
}

// What is laid by its edges lies within 0.4 m of where it is, 1 km from its
// middle and to 60 degrees of latitude.
func TestEdges(t *testing.T) {
	const half = 1000.0
	worst := 0.0
	for _, lat := range []float64{0, 42, -60, 60} {
		f := geo.Frame{Origin: orb.Point{-4.9, lat}}
		east, north := f.ToLonLat(geo.XY{X: half}).Lon(), mercator(f.ToLonLat(geo.XY{Y: half}).Lat())
		west, south := f.ToLonLat(geo.XY{X: -half}).Lon(), mercator(f.ToLonLat(geo.XY{Y: -half}).Lat())
		for x := -half; x <= half; x += half / 4 {
			for y := -half; y <= half; y += half / 4 {
				p := f.ToLonLat(geo.XY{X: x, Y: y})
				q := geo.XY{X: 2*half*(p.Lon()-west)/(east-west) - half, Y: 2*half*(mercator(p.Lat())-south)/(north-south) - half}
				worst = max(worst, q.Sub(geo.XY{X: x, Y: y}).Norm())
			}
		}
	}
	t.Logf("%.2f m at worst", worst)
	assert.Less(t, worst, 0.4)
	assert.Greater(t, worst, 0.05, "a frame is no Mercator")
}
