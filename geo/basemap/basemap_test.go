package basemap

import (
	"bytes"
	"database/sql"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/maptile"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/geo"
	"windfall/geo/plane"
)

var (
	pad   = orb.Point{-4.921, 41.905}
	frame = geo.Frame{Origin: pad}
	marks = []geo.XY{{X: 0, Y: 0}, {X: 320, Y: 210}, {X: -410, Y: 95}, {X: 150, Y: -390}}
	paint = color.NRGBA{0xE0, 0x20, 0x20, 255}
	grass = color.NRGBA{0x5C, 0x7A, 0x48, 255}
	box   = plane.Box{Min: geo.XY{X: -500, Y: -450}, Max: geo.XY{X: 500, Y: 450}}
)

// tileAt is the pixel of a place on a zoom's tiles of 256, by orb's own tiling.
func tileAt(p orb.Point, zoom maptile.Zoom) (maptile.Tile, image.Point) {
	f := maptile.Fraction(p, zoom)
	t := maptile.At(p, zoom)
	return t, image.Pt(int((f.X()-float64(t.X))*256), int((f.Y()-float64(t.Y))*256))
}

// writeMBTiles makes tiles of grass around the pad with a red square of 9 pixels
// on every mark.
func writeMBTiles(t testing.TB, path string, zoom maptile.Zoom) {
	t.Helper()
	tiles := map[maptile.Tile]*image.NRGBA{}
	mid := maptile.At(pad, zoom)
	for x := mid.X - 3; x <= mid.X+3; x++ {
		for y := mid.Y - 3; y <= mid.Y+3; y++ {
			img := image.NewNRGBA(image.Rect(0, 0, 256, 256))
			draw.Draw(img, img.Bounds(), image.NewUniform(grass), image.Point{}, draw.Src)
			tiles[maptile.New(x, y, zoom)] = img
		}
	}
	for _, m := range marks {
		at, q := tileAt(frame.ToLonLat(m), zoom)
		draw.Draw(tiles[at], image.Rect(q.X-4, q.Y-4, q.X+5, q.Y+5), image.NewUniform(paint), image.Point{}, draw.Src)
	}
	db, err := sql.Open("sqlite", path)
	require.NoError(t, err)
	defer db.Close()
	for _, q := range []string{"CREATE TABLE metadata (name text, value text)",
		"CREATE TABLE tiles (zoom_level integer, tile_column integer, tile_row integer, tile_data blob)",
		fmt.Sprintf("INSERT INTO metadata VALUES ('format', 'png'), ('attribution', '<b>club survey</b>'), ('minzoom', '%d')", zoom)} {
		_, err = db.Exec(q)
		require.NoError(t, err)
	}
	for at, img := range tiles {
		var b bytes.Buffer
		require.NoError(t, png.Encode(&b, img))
		_, err = db.Exec("INSERT INTO tiles VALUES (?, ?, ?, ?)", zoom, at.X, 1<<zoom-1-at.Y, b.Bytes())
		require.NoError(t, err)
	}
}

// pixel is where a place of the frame lies in a drawing of the box.
func pixel(q geo.XY, width, height int) (float64, float64) {
	return (q.X - box.Min.X) / box.Size().X * float64(width), (box.Max.Y - q.Y) / box.Size().Y * float64(height)
}

// middle is the middle of the red near a place, in pixels.
func middle(img *image.NRGBA, x, y float64) (mx, my, n float64) {
	for j := int(y) - 25; j <= int(y)+25; j++ {
		for i := int(x) - 25; i <= int(x)+25; i++ {
			if c := img.NRGBAAt(i, j); c.R > 0xA0 && c.G < 0x60 {
				mx, my, n = mx+float64(i)+0.5, my+float64(j)+0.5, n+1
			}
		}
	}
	return mx / n, my / n, n
}

// Marks of known coordinates lie on their pixels: those of tiles (whose places
// orb's tiling gives) to half a tile's pixel, whatever the tiles' zoom.
func TestMarksLieOnTheirPixels(t *testing.T) {
	for _, zoom := range []maptile.Zoom{15, 16, 17} {
		path := filepath.Join(t.TempDir(), "club.mbtiles")
		writeMBTiles(t, path, zoom)
		m, err := Open(path)
		require.NoError(t, err)
		defer m.Close()
		assert.Equal(t, "club survey", m.Credit)
		require.NoError(t, m.Covers(pad))
		const width, height = 1000, 900 // a metre a pixel
		img := m.Draw(frame, box, width, height)
		tilePixel := earthAround * math.Cos(pad.Lat()*math.Pi/180) / float64(int(256)<<zoom) // m
		for _, q := range marks {
			x, y := pixel(q, width, height)
			mx, my, n := middle(img, x, y)
			require.Greater(t, n, 4.0, "zoom %d: no mark at %v", zoom, q)
			assert.InDelta(t, x, mx, tilePixel/2+0.5, "zoom %d, %v", zoom, q)
			assert.InDelta(t, y, my, tilePixel/2+0.5, "zoom %d, %v", zoom, q)
			assert.InEpsilon(t, 9*tilePixel*9*tilePixel, n, 0.3, "the mark's size")
		}
		r, g, b, a := img.At(5, 5).RGBA()
		assert.Equal(t, grass, color.NRGBA{uint8(r >> 8), uint8(g >> 8), uint8(b >> 8), uint8(a >> 8)})
	}
}

// writePicture makes a picture in degrees from west, north with so many pixels a
// degree.
func writePicture(t testing.TB, path string, w, h int, west, north, step float64) {
	t.Helper()
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	draw.Draw(img, img.Bounds(), image.NewUniform(grass), image.Point{}, draw.Src)
	for _, m := range marks {
		p := frame.ToLonLat(m)
		x, y := int((p.Lon()-west)/step), int((north-p.Lat())/step)
		draw.Draw(img, image.Rect(x-4, y-4, x+5, y+5), image.NewUniform(paint), image.Point{}, draw.Src)
	}
	var b bytes.Buffer
	if filepath.Ext(path) == ".png" {
		require.NoError(t, png.Encode(&b, img))
	} else {
		require.NoError(t, jpeg.Encode(&b, img, &jpeg.Options{Quality: 95}))
	}
	require.NoError(t, os.WriteFile(path, b.Bytes(), 0o644))
	world := fmt.Sprintf("%.12g\n0\n0\n%.12g\n%.12g\n%.12g\n", step, -step, west+step/2, north-step/2)
	ext := map[string]string{".png": ".pgw", ".jpg": ".jgw"}[filepath.Ext(path)]
	require.NoError(t, os.WriteFile(path[:len(path)-4]+ext, []byte(world), 0o644))
}

func TestPictures(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"club.png", "club.jpg"} {
		path := filepath.Join(dir, name)
		writePicture(t, path, 1600, 1000, -4.93, 41.911, 1e-5)
		m, err := Open(path)
		require.NoError(t, err)
		require.NoError(t, m.Covers(pad))
		low, high, ok := m.Picture()
		require.True(t, ok)
		assert.InDelta(t, -4.914, high.Lon(), 1e-9)
		assert.InDelta(t, 41.901, low.Lat(), 1e-9)
		img := m.Draw(frame, box, 1000, 900)
		for _, q := range marks {
			x, y := pixel(q, 1000, 900)
			mx, my, n := middle(img, x, y)
			require.Greater(t, n, 20.0, "%s: no mark at %v", name, q)
			assert.InDelta(t, x, mx, 1.1, "%s %v", name, q)
			assert.InDelta(t, y, my, 1.1, "%s %v", name, q)
		}
		none, err := m.Tile(1, 0, 0)
		assert.NoError(t, err)
		assert.Nil(t, none)
		assert.ErrorContains(t, m.Covers(orb.Point{3, 41}), "give a picture of this place")
		assert.NoError(t, m.Close())
	}
	// Half the box: the rest is transparent.
	path := filepath.Join(dir, "half.png")
	writePicture(t, path, 800, 1200, -4.929, 41.911, 1e-5)
	m, err := Open(path)
	require.NoError(t, err)
	img := m.Draw(frame, box, 100, 90)
	assert.Equal(t, uint8(255), img.NRGBAAt(20, 45).A)
	assert.Zero(t, img.NRGBAAt(80, 45).A)
	assert.True(t, m.Draw(frame, box, 0, 9).Bounds().Empty())
}

// A map of one coarse zoom serves a fine drawing, one too fine to be read whole
// leaves it blank, and what is nowhere near draws nothing.
func TestZooms(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "club.mbtiles")
	writeMBTiles(t, path, 14)
	m, err := Open(path)
	require.NoError(t, err)
	defer m.Close()
	small := plane.Box{Min: geo.XY{X: -50, Y: -50}, Max: geo.XY{X: 50, Y: 50}}
	assert.Equal(t, uint8(255), m.Draw(frame, small, 400, 400).NRGBAAt(10, 10).A)
	vast := plane.Box{Min: geo.XY{X: -4e5, Y: -4e5}, Max: geo.XY{X: 4e5, Y: 4e5}}
	assert.Zero(t, m.Draw(frame, vast, 200, 200).NRGBAAt(100, 100).A)
	assert.Zero(t, m.Draw(geo.Frame{Origin: orb.Point{20, 10}}, box, 20, 20).NRGBAAt(10, 10).A)
}

func TestRefusals(t *testing.T) {
	dir := t.TempDir()
	file := func(name, text string) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
		return path
	}
	good := filepath.Join(dir, "good.png")
	writePicture(t, good, 40, 40, -4.93, 41.911, 1e-3)
	whole, err := os.ReadFile(good)
	require.NoError(t, err)
	file("cut.pgw", "1e-3\n0\n0\n-1e-3\n-4.93\n41.911\n")
	var huge bytes.Buffer // a header that promises much, and nothing after it
	require.NoError(t, png.Encode(&huge, image.NewGray(image.Rect(0, 0, 1, 1))))
	big := huge.Bytes()
	copy(big[16:24], []byte{0, 0, 0x80, 0, 0, 0, 0x80, 0})
	binary.BigEndian.PutUint32(big[29:], crc32.ChecksumIEEE(big[12:29]))
	file("big.pgw", "1e-4\n0\n0\n-1e-4\n-6\n42\n")
	db := filepath.Join(dir, "empty.mbtiles")
	writeMBTiles(t, db, 10)
	for path, says := range map[string]string{
		filepath.Join(dir, "none.mbtiles"): "no such file or directory; name a base map",
		filepath.Join(dir, "none.pmtiles"): "no such file or directory",
		filepath.Join(dir, "none.png"):     "no such file or directory",
		file("a.tif", ""):                  "is no base map; name a .pmtiles",
		file("a.mbtiles", "text"):          "is not an MBTiles file",
		file("a.pmtiles", "text"):          "is not a PMTiles file",
		file("a.png", "text"):              "is not a picture that can be read",
		file("alone.png", string(whole)):   "has no world file beside it, such as alone.pgw",
	} {
		_, err := Open(path)
		assert.ErrorContains(t, err, says, path)
	}
	for text, says := range map[string]string{
		"1\n0\n0\n-1\n350000\n4640000\n": "is not in degrees; reproject", "1\n2\n": "has 2 numbers",
		"1\n0.2\n0\n-1\n0\n0\n": "north up", "a\n0\n0\n-1\n0\n0\n": "no number", "NaN\n0\n0\n-1\n0\n0\n": "north up",
	} {
		file("alone.pgw", text)
		_, err := Open(filepath.Join(dir, "alone.png"))
		assert.ErrorContains(t, err, says, text)
	}
	for name, text := range map[string][]byte{"cut.png": whole[:len(whole)-40], "big.png": big} {
		m, err := Open(file(name, string(text)))
		require.NoError(t, err, name)
		says := map[string]string{"cut.png": "is broken", "big.png": "32768 by 32768 pixels, more than"}[name]
		assert.ErrorContains(t, m.Covers(pad), says)
		assert.Zero(t, m.Draw(frame, box, 20, 20).NRGBAAt(10, 10).A)
	}
	m, err := Open(db)
	require.NoError(t, err)
	defer m.Close()
	assert.ErrorContains(t, m.Covers(orb.Point{100, 10}), "has no tile of 10.00000, 100.00000; give a base map of this place")
	raw, err := sql.Open("sqlite", db)
	require.NoError(t, err)
	_, err = raw.Exec("UPDATE tiles SET tile_data = 'text'")
	require.NoError(t, err)
	require.NoError(t, raw.Close())
	again, err := Open(db)
	require.NoError(t, err)
	defer again.Close()
	assert.ErrorContains(t, again.Covers(pad), "that is no picture")
}

func Example() {
	_, err := Open("club.tif")
	fmt.Println(err)
	// Output: is no base map; name a .pmtiles, an .mbtiles, or a .png or .jpg with its world file
}
