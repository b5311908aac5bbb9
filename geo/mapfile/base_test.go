package mapfile

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/geo"
	"windfall/geo/basemap"
	"windfall/geo/ink"
	"windfall/geo/place"
	"windfall/geo/plane"
)

// grounds are base maps of one colour each, the darkest and the brightest that a
// picture of open land has, and one of squares.
var grounds = map[string]func(x, y int) color.NRGBA{
	"woods":   func(int, int) color.NRGBA { return ink.RGB(0x24301E) },
	"stubble": func(int, int) color.NRGBA { return ink.RGB(0xE6DFB8) },
	"lake":    func(int, int) color.NRGBA { return ink.RGB(0x3F6C93) },
	"heath":   func(int, int) color.NRGBA { return ink.RGB(0x7A5B7E) }, // near the ramp's own hue
}

func baseOf(at func(x, y int) color.NRGBA) *Base {
	return &Base{Credit: "an invented survey", Draw: func(_ geo.Frame, _ plane.Box, w, h int) image.Image {
		img := image.NewNRGBA(image.Rect(0, 0, w, h))
		for y := range h {
			for x := range w {
				img.SetNRGBA(x, y, at(x, y))
			}
		}
		return img
	}}
}

// drawn is the picture of l and where places lie in it.
func drawn(t *testing.T, l *Landing, p Page) (img image.Image, at func(geo.XY) image.Point) {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, PNG(&b, l, p))
	img, err := png.Decode(&b)
	require.NoError(t, err)
	o := p.layout(l.ready())
	k := newCanvas(nil, o.box, o.extent, o.unit)
	return img, func(q geo.XY) image.Point {
		v := k.pt(q)
		return image.Pt(int(v.X.Points()*o.Scale), int((o.page.Max.Y-v.Y).Points()*o.Scale))
	}
}

// apart is how different two colours look: the distance in CIE 1976 L*a*b*
// (white D65, sRGB by IEC 61966-2-1), of which 2.3 is just noticeable (Mahy, Van
// Eycken and Oosterlinck 1994).
func apart(a, b color.Color) float64 {
	lab := func(c color.Color) (out [3]float64) {
		r, g, bl, _ := c.RGBA()
		var v [3]float64
		for i, x := range []uint32{r, g, bl} {
			s := float64(x) / 0xffff
			if v[i] = s / 12.92; s > 0.04045 {
				v[i] = math.Pow((s+0.055)/1.055, 2.4)
			}
		}
		f := func(t float64) float64 {
			if t > 216.0/24389 {
				return math.Cbrt(t)
			}
			return (24389.0/27*t + 16) / 116
		}
		x := f((0.4124*v[0] + 0.3576*v[1] + 0.1805*v[2]) / 0.95047)
		y := f(0.2126*v[0] + 0.7152*v[1] + 0.0722*v[2])
		z := f((0.0193*v[0] + 0.1192*v[1] + 0.9505*v[2]) / 1.08883)
		return [3]float64{116*y - 16, 500 * (x - y), 200 * (y - z)}
	}
	p, q := lab(a), lab(b)
	return math.Sqrt((p[0]-q[0])*(p[0]-q[0]) + (p[1]-q[1])*(p[1]-q[1]) + (p[2]-q[2])*(p[2]-q[2]))
}

// Over every ground the likely half looks at least ten times a just noticeable
// difference away from ground where it is not, and the likeliest more so.
func TestLikelyGroundShowsOverABase(t *testing.T) {
	for name, at := range grounds {
		l := &Landing{Frame: geo.Frame{Origin: orb.Point{-5.5831, 39.0512}}, Spots: []Spot{}, Base: baseOf(at)}
		l.Chance = demoMap(l.Frame, 200, 6)
		l.Areas = nil
		l.Mean = &geo.XY{X: 900, Y: 700}
		img, where := drawn(t, l, Page{})
		lv := l.ready().worked.levels
		plain := img.At(where(geo.XY{X: 880, Y: 60}).X, where(geo.XY{X: 880, Y: 60}).Y)
		n, least := 0, math.Inf(1)
		for k, v := range lv {
			if v > 0.4 {
				continue
			}
			q := where(l.Chance.Centre(k%l.Chance.NX, k/l.Chance.NX))
			if q.X < 30 || q.Y < 100 {
				continue
			}
			least = min(least, apart(img.At(q.X, q.Y), plain))
			n++
		}
		require.Greater(t, n, 200)
		t.Logf("%s: the likely ground is %.0f or more from the rest", name, least)
		assert.Greater(t, least, 23.0, name)
	}
}

// Lanes and contours show over every ground: crossing them changes the colour.
func TestLanesShowOverABase(t *testing.T) {
	for name, at := range grounds {
		l := golden()
		l.Base = baseOf(at)
		l.Covers, l.Covered, l.Parts, l.NoGo, l.Rays, l.Ellipses = nil, nil, nil, nil, nil, nil
		img, where := drawn(t, l, Page{})
		for _, r := range l.Plan.Searchers {
			shown, lanes := 0, 0
			for _, g := range r.Legs {
				if g.Kind != Search || g.To.Sub(g.From).Norm() < 60 {
					continue
				}
				lanes++
				best := 0.0
				for _, share := range []float64{0.3, 0.5, 0.7} {
					mid := g.From.Add(g.To.Sub(g.From).Scale(share))
					on, off := where(mid), where(mid.Add(geo.XY{Y: 5}))
					best = max(best, apart(img.At(on.X, on.Y), img.At(off.X, off.Y)))
				}
				if best > 11.5 { // five times just noticeable
					shown++
				}
			}
			assert.Positive(t, lanes)
			assert.Equal(t, lanes, shown, "%s, lanes of %s", name, r.Name)
		}
	}
}

// Towers of known latitude and longitude on a picture with a world file lie where
// the map has these places, to a pixel and a half; around the map nothing has
// moved, and the credit is written.
func TestFeaturesLieOnTheirPixels(t *testing.T) {
	const west, north, step = -5.590, 39.058, 1e-5 // a pixel is 0.86 by 1.11 m
	towers := []orb.Point{{-5.5801, 39.0529}, {-5.5763, 39.0551}, {-5.5822, 39.0524}}
	base := image.NewNRGBA(image.Rect(0, 0, 2200, 1300))
	draw.Draw(base, base.Bounds(), image.NewUniform(ink.RGB(0x9CB07A)), image.Point{}, draw.Src)
	for _, q := range towers {
		x, y := int((q.Lon()-west)/step), int((north-q.Lat())/step)
		draw.Draw(base, image.Rect(x-5, y-4, x+6, y+5), image.NewUniform(ink.RGB(0xFF0000)), image.Point{}, draw.Src)
	}
	path := filepath.Join(t.TempDir(), "field.png")
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, base))
	require.NoError(t, os.WriteFile(path, b.Bytes(), 0o644))
	world := fmt.Sprintf("%g\n0\n0\n%g\n%.7f\n%.7f\n", step, -step, west+step/2, north-step/2)
	require.NoError(t, os.WriteFile(filepath.Join(filepath.Dir(path), "field.pgw"), []byte(world), 0o644))
	m, err := basemap.Open(path)
	require.NoError(t, err)

	l := &Landing{Title: "towers", Frame: geo.Frame{Origin: orb.Point{-5.5831, 39.0512}}, Spots: []Spot{},
		Areas: demoMap(geo.Frame{}, 100, 12).Contours([]float64{0.9})}
	bare, _ := drawn(t, l, Page{Grid: place.UTM})
	l.Base = &Base{Credit: "club survey", Draw: func(f geo.Frame, b plane.Box, w, h int) image.Image { return m.Draw(f, b, w, h) }}
	img, where := drawn(t, l, Page{Grid: place.UTM})
	require.Equal(t, bare.Bounds(), img.Bounds())
	for _, q := range towers {
		want := where(l.Frame.ToXY(q))
		var x, y, n float64
		for j := want.Y - 20; j <= want.Y+20; j++ {
			for i := want.X - 20; i <= want.X+20; i++ {
				if r, g, _, _ := img.At(i, j).RGBA(); r>>8 > 240 && g>>8 < 140 {
					x, y, n = x+float64(i), y+float64(j), n+1
				}
			}
		}
		require.Greater(t, n, 10.0, "no tower at %v", q)
		assert.InDelta(t, float64(want.X), x/n, 1.5)
		assert.InDelta(t, float64(want.Y), y/n, 1.5)
	}
	o := Page{Grid: place.UTM}.layout(l.ready())
	inside := image.Rect(int(o.box.Min.X.Points()*o.Scale)-2, int((o.page.Max.Y-o.box.Max.Y).Points()*o.Scale)-2,
		int(o.box.Max.X.Points()*o.Scale)+3, int((o.page.Max.Y-o.box.Min.Y).Points()*o.Scale)+3)
	moved := 0
	for y := range img.Bounds().Dy() {
		for x := range img.Bounds().Dx() {
			if !image.Pt(x, y).In(inside) && img.At(x, y) != bare.At(x, y) {
				moved++
			}
		}
	}
	assert.Zero(t, moved, "the margins are as they were")
	svg := string(made(t, l, "svg", Options{}))
	assert.Contains(t, svg, "map: club survey")
}
