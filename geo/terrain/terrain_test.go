package terrain

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/geo"
	"windfall/geo/geotest"
)

var pad = geo.Frame{Origin: orb.Point{-5.5831, 39.0512}}

// hgt returns a 3 arc second tile whose post at row, column (from the north
// west) is h.
func hgt(h func(row, col int) int16) []byte {
	b := make([]byte, 0, 2*1201*1201)
	for row := range 1201 {
		for col := range 1201 {
			b = binary.BigEndian.AppendUint16(b, uint16(h(row, col)))
		}
	}
	return b
}

// testdata/hills_bilinear.csv is hills.asc resampled by GDAL 3.6.2, gdalwarp
// -r bilinear -tr 0.0017 0.0013 -te -5.595 39.033 -5.56 39.06 -ot Float64,
// every third pixel. GDAL computes in 32 bits: 1e-3 m.
func TestBilinearAgreesWithGDAL(t *testing.T) {
	f, err := os.Open("testdata/hills.asc")
	require.NoError(t, err)
	defer f.Close()
	tile, err := Read(f, "testdata/hills.asc", pad)
	require.NoError(t, err)
	assert.Equal(t, 3, tile.Voids)
	rows := geotest.Table(t, "hills_bilinear.csv")
	require.Greater(t, len(rows), 99)
	for _, r := range rows {
		lon, lat, want := r.Number("lon"), r.Number("lat"), r.Number("elevation_m")
		got, ok := tile.at(lon, lat)
		if want == -9999 {
			// GDAL gives up where the nearest post is void; we go on with the others.
			assert.True(t, ok && got > 300 && got < 500, "%v", r)
			continue
		}
		assert.True(t, ok, "%v", r)
		assert.InDelta(t, want, got, 1e-3, "%v", r)
	}
}

// A plane of posts is reproduced by linear interpolation exactly; the frame's
// series is checked through it too: 1 m of height for each 1/1200 degree.
func TestHGTPlane(t *testing.T) {
	b := hgt(func(row, col int) int16 { return int16(col + 2*(1200-row)) })
	tile, err := Read(bytes.NewReader(b), "maps/n39w006.hgt", pad)
	require.NoError(t, err)
	for _, q := range []geo.XY{{}, {X: 500, Y: -300}, {X: -4000, Y: 9000}, {X: 19000, Y: 19000}, {X: 25000, Y: 30000}} {
		p := pad.ToLonLat(q)
		got, ok := tile.Elevation(q)
		require.True(t, ok)
		// a tenth of a metre of place is 0.1/77 m in height at most
		assert.InDelta(t, (p.Lon()+6)*1200+2*(p.Lat()-39)*1200, got, 0.004, "%v", q)
	}
}

func TestHGTEdgesAndVoids(t *testing.T) {
	b := hgt(func(row, col int) int16 {
		if row == 600 && col == 600 || row < 10 {
			return -32768
		}
		return 100
	})
	tile, err := Read(bytes.NewReader(b), "N39W006.hgt", pad)
	require.NoError(t, err)
	assert.Equal(t, 1+10*1201, tile.Voids)
	for _, c := range []struct {
		lon, lat float64
		ok       bool
	}{
		{-6, 39, true}, {-5, 39, true}, {-5.5, 39.4999, true}, // corners, beside the void
		{-5.5, 39.5, false}, // on it
		{-6.0001, 39.5, false}, {-4.9999, 39.5, false}, {-5.5, 38.9999, false}, {-5.5, 40.0001, false},
		{-5.5, 39.999, false},                                  // inside the void band
		{-5.5, 40 - 9.5/1200, true}, {-5.5 + 360, 39.25, true}, // touches a good row; the same place
	} {
		m, ok := tile.at(c.lon, c.lat)
		assert.Equal(t, c.ok, ok, "%v", c)
		if ok {
			assert.Equal(t, 100.0, m, "voids do not pull heights down")
		}
	}
}

func TestAcrossTheDateLine(t *testing.T) {
	f := geo.Frame{Origin: orb.Point{179.999, -16.5}}
	west, err := Read(bytes.NewReader(hgt(func(_, _ int) int16 { return 5 })), "S17E179.hgt", f)
	require.NoError(t, err)
	east, err := readHGT(bytes.NewReader(hgt(func(_, _ int) int16 { return 9 })), "S17W180.hgt")
	require.NoError(t, err)
	east.frame, east.near = f, newSeries(f)
	_, ok := west.Elevation(geo.XY{X: 1000})
	assert.False(t, ok)
	m, ok := Join{west, east}.Elevation(geo.XY{X: 1000})
	assert.True(t, ok)
	assert.Equal(t, 9.0, m)
	m, _ = Join{west, east}.Elevation(geo.XY{X: -1000})
	assert.Equal(t, 5.0, m)
}

// The series stays within its 0.1 m of the geodesic, and hands over beyond.
func TestSeries(t *testing.T) {
	for _, lat := range []float64{0, 39, -51.5, 69.65, 85, 89.99} {
		f := geo.Frame{Origin: orb.Point{-179.99, lat}}
		s := newSeries(f)
		assert.Equal(t, lat < 88, s.good, "latitude %g", lat)
		for k := range 200 {
			q := geo.Polar(float64(k)*130, float64(k*37))
			lon, la := s.lonLat(f, q)
			got := f.ToXY(orb.Point{lon, la})
			assert.InDelta(t, 0, got.Sub(q).Norm(), 0.15, "latitude %g, %v", lat, q)
		}
	}
}

func TestBadTiles(t *testing.T) {
	flat := hgt(func(_, _ int) int16 { return 100 })
	head := "ncols 2\nnrows 2\nxllcorner -6\nyllcorner 39\ncellsize 0.5\n"
	for _, c := range []struct{ name, body, want string }{
		{"hill.hgt", string(flat), "hill.hgt: an .hgt file is named for its south-west corner; name it like N39W006.hgt"},
		{"N39W006.hgt", "zip", "N39W006.hgt: 3 bytes; an .hgt tile has 2884802"},
		{"N41W006.hgt", string(flat), "covers latitude 41.0000 to 42.0000, longitude -6.0000 to -5.0000, but the pad is at 39.05120, -5.58310; use the tile of the pad, such as N39W006.hgt"},
		{"S91W006.hgt", string(flat), "no such corner"},
		{"N39W006.hgt", string(hgt(func(_, _ int) int16 { return -32768 })), "every post is void"},
		{"N39W006.hgt", string(hgt(func(_, _ int) int16 { return 9100 })), "height 9100 m in row 1 is not on this planet"},
		{"a.asc", "", "a.asc:1: no heights after the header"},
		{"a.asc", "II*\x00", "a.asc:1: is not text; save it as text"},
		{"a.asc", "ncols x", `a.asc:1: ncols is "x"; write a number`},
		{"a.asc", "nrows 3\n1 2", "a.asc:2: ncols is missing"},
		{"a.asc", "ncols 1\nnrows 2\n1", "a.asc:3: ncols is 1; want a whole number, 2 or more"},
		{"a.asc", "ncols 2\nnrows 2\ncellsize 1\n1 2 3 4", "xllcorner and yllcorner"},
		{"a.asc", "ncols 2\nnrows 2\nxllcorner 1\nyllcorner 2\n1 2 3 4", "cellsize is missing"},
		{"a.asc", "ncols 2\nnrows 2\nxllcorner 652310\nyllcorner 4340120\ncellsize 30\n1 2 3 4", "is not in degrees; gdalwarp"},
		{"a.asc", "ncols 40000\nnrows 40000\nxllcorner -6\nyllcorner 39\ncellsize 0.5\n1", "are too many"},
		{"a.asc", head + "1 2\n3", "a.asc:7: the file ends where height 4 of 4 should be"},
		{"a.asc", head + "1 2\n3 4\n5", `a.asc:8: "5" comes after the last of 2 x 2 heights`},
		{"a.asc", head + "1 2\n3 -32768", "a.asc:7: height -32768 m is not on this planet"},
		{"a.asc", head + "1 2\n3 " + strings.Repeat("9", 99), "is no number"},
	} {
		_, err := Read(strings.NewReader(c.body), c.name, pad)
		assert.ErrorContains(t, err, c.want)
	}
}

// What is accepted survives being written as a grid and read again.
func FuzzRead(f *testing.F) {
	f.Add("a.asc", []byte("ncols 2\nnrows 2\nxllcorner -6\nyllcorner 39\ncellsize 0.5\nnodata_value -1\n1 2\n3 -1\n"))
	f.Add("a.asc", []byte("NCOLS 3\nNROWS 2\nXLLCENTER -5.6\nYLLCENTER 39\nDX 0.1\nDY 0.2\n1 2 3 4 5 6"))
	f.Add("N39W006.hgt", []byte("zip"))
	f.Add("a.asc", []byte("ncols 2e9 nrows 2e9"))
	f.Fuzz(func(t *testing.T, name string, b []byte) {
		tile, err := Read(bytes.NewReader(b), name, pad)
		if err != nil || tile.NX*tile.NY > 10000 {
			return
		}
		var s strings.Builder
		fmt.Fprintf(&s, "ncols %d\nnrows %d\nxllcenter %v\nyllcenter %v\ndx %v\ndy %v\nnodata_value -99999\n",
			tile.NX, tile.NY, tile.West, tile.South, tile.DLon, tile.DLat)
		for j := tile.NY - 1; j >= 0; j-- {
			for _, v := range tile.posts[j*tile.NX : (j+1)*tile.NX] {
				if v != v {
					v = -99999
				}
				fmt.Fprintf(&s, "%v ", v)
			}
		}
		again, err := Read(strings.NewReader(s.String()), "b.asc", pad)
		require.NoError(t, err, s.String())
		for _, q := range []geo.XY{{}, {X: 100, Y: 50}, {X: -3000, Y: 900}} {
			a, okA := tile.Elevation(q)
			b, okB := again.Elevation(q)
			require.Equal(t, okA, okB)
			require.InDelta(t, a, b, 1e-6*(1+math.Abs(a)))
		}
	})
}

func BenchmarkElevation(b *testing.B) {
	tile, err := Read(bytes.NewReader(hgt(func(row, col int) int16 { return int16(row ^ col) })), "N39W006.hgt", pad)
	require.NoError(b, err)
	var sum float64
	for i := 0; b.Loop(); i++ {
		m, _ := tile.Elevation(geo.XY{X: float64(i % 5000), Y: float64(i % 3000)})
		sum += m
	}
	_ = sum
}

func ExampleRead() {
	const posts = "ncols 2\nnrows 2\nxllcorner -5.60\nyllcorner 39.00\ncellsize 0.1\nNODATA_value -9999\n300 320\n310 330\n"
	f := geo.Frame{Origin: orb.Point{-5.5, 39.1}}
	tile, err := Read(strings.NewReader(posts), "hills.asc", f)
	if err != nil {
		fmt.Println(err)
		return
	}
	m, ok := tile.Elevation(geo.XY{})
	fmt.Printf("%.0f m %v\n", m, ok)
	// Output: 315 m true
}
