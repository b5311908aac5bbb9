package terrain

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"

	"windfall/geo"
	"windfall/geo/textin"
)

// maxPosts is the most posts a tile may have: a one-second tile has 13 million.
const maxPosts = 50_000_000

// Read reads an elevation tile; name is the file's, whose base gives the
// south-west corner of an .hgt and stands in errors. Names that end in .hgt are
// SRTM tiles (big-endian 16-bit metres, rows from the north, -32768 void),
// others ESRI ASCII grids with longitude and latitude in degrees. The tile must
// cover the pad, the frame's origin.
func Read(r io.Reader, name string, f geo.Frame) (*Tile, error) {
	var t *Tile
	var err error
	if strings.EqualFold(filepath.Ext(name), ".hgt") {
		t, err = readHGT(r, name)
	} else {
		t, err = readASCII(r, name)
	}
	if err != nil {
		return nil, err
	}
	if t.Voids == len(t.posts) {
		return nil, fmt.Errorf("%s: every post is void; use another tile, or leave terrain out for flat ground", name)
	}
	return t.place(f)
}

var hgtName = regexp.MustCompile(`(?i)^([NS])(\d{2})([EW])(\d{3})`)

func readHGT(r io.Reader, name string) (*Tile, error) {
	n := hgtName.FindStringSubmatch(filepath.Base(name))
	if n == nil {
		return nil, fmt.Errorf("%s: an .hgt file is named for its south-west corner; name it like N39W006.hgt", name)
	}
	lat, _ := strconv.ParseFloat(n[2], 64)
	lon, _ := strconv.ParseFloat(n[4], 64)
	if strings.EqualFold(n[1], "S") {
		lat = -lat
	}
	if strings.EqualFold(n[3], "W") {
		lon = -lon
	}
	if lat < -90 || lat > 89 || lon < -180 || lon > 179 {
		return nil, fmt.Errorf("%s: no such corner; latitudes go from S90 to N89, longitudes from W180 to E179", name)
	}
	b, err := io.ReadAll(io.LimitReader(r, 2*3601*3601+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	nx, ny := 0, 0
	switch len(b) {
	case 2 * 1201 * 1201:
		nx, ny = 1201, 1201
	case 2 * 3601 * 3601:
		nx, ny = 3601, 3601
	case 2 * 1801 * 3601:
		nx, ny = 1801, 3601
	default:
		more := ""
		if len(b) > 2*3601*3601 {
			more = " or more"
		}
		return nil, fmt.Errorf("%s: %d%s bytes; an .hgt tile has 2884802 (1201 x 1201 posts) or 25934402 (3601 x 3601): "+
			"unpack it, or fetch it again", name, len(b), more)
	}
	t := &Tile{
		Name: name, West: lon, South: lat, NX: nx, NY: ny,
		DLon: 1 / float64(nx-1), DLat: 1 / float64(ny-1), posts: make([]float32, nx*ny),
	}
	for row := range ny {
		for i := range nx {
			v := float32(int16(binary.BigEndian.Uint16(b[2*(row*nx+i):])))
			if v != -32768 && !onPlanet(float64(v)) {
				return nil, fmt.Errorf("%s: height %g m in row %d is not on this planet; fetch the tile again", name, v, row+1)
			}
			t.set((ny-1-row)*nx+i, v, v == -32768)
		}
	}
	return t, nil
}

// onPlanet says whether a height in metres can be on land or sea floor.
func onPlanet(h float64) bool { return h > -12000 && h < 9000 }

func (t *Tile) set(k int, v float32, void bool) {
	if void {
		v = float32(math.NaN())
		t.Voids++
	}
	t.posts[k] = v
}

// words yields the words of a text with the line each stands on.
type words struct {
	r    *bufio.Reader
	name string
	line int
	word []byte
}

// next returns the next word, or io.EOF; words are at most 64 bytes long.
func (w *words) next() (string, error) {
	w.word = w.word[:0]
	for {
		c, err := w.r.ReadByte()
		if err != nil {
			if err == io.EOF && len(w.word) > 0 {
				return string(w.word), nil
			}
			return "", err
		}
		space := c == ' ' || c == '\t' || c == '\r' || c == '\n'
		if space && len(w.word) > 0 {
			return string(w.word), w.r.UnreadByte()
		}
		if c == '\n' {
			w.line++
		}
		if space {
			continue
		}
		if w.word = append(w.word, c); len(w.word) > 64 {
			return "", w.errorf("%q... is no number", w.word[:16])
		}
	}
}

func (w *words) errorf(format string, a ...any) error {
	return fmt.Errorf("%s:%d: %s", w.name, w.line, fmt.Sprintf(format, a...))
}

func (w *words) number(what string) (float64, error) {
	s, err := w.next()
	if err == io.EOF {
		return 0, w.errorf("the file ends where %s should be; fetch it again", what)
	}
	if err != nil {
		return 0, err
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, w.errorf("%s is %q; write a number", what, s)
	}
	return v, nil
}

// header reads "key value" pairs up to the first number, which it returns.
func (w *words) header() (map[string]float64, string, error) {
	h := map[string]float64{}
	for {
		s, err := w.next()
		if err == io.EOF {
			return nil, "", w.errorf("no heights after the header")
		}
		if err != nil {
			return nil, "", err
		}
		if _, err := strconv.ParseFloat(s, 64); err == nil {
			return h, s, nil
		}
		key := strings.ToLower(s)
		switch key {
		case "ncols", "nrows", "xllcorner", "yllcorner", "xllcenter", "yllcenter", "cellsize", "dx", "dy", "nodata_value":
		default:
			return nil, "", w.errorf("%q is no part of an ESRI ASCII grid, which begins with ncols, nrows, xllcorner, "+
				"yllcorner, cellsize, nodata_value; other formats: gdal_translate -of AAIGrid", s)
		}
		if h[key], err = w.number(key); err != nil {
			return nil, "", err
		}
	}
}

func readASCII(r io.Reader, name string) (*Tile, error) {
	in, err := textin.Reader(r, name)
	if err != nil {
		return nil, err
	}
	w := &words{r: in, name: name, line: 1}
	h, first, err := w.header()
	if err != nil {
		return nil, err
	}
	t, err := gridOf(h, w)
	if err != nil {
		return nil, err
	}
	void, hasVoid := h["nodata_value"]
	n := t.NX * t.NY
	rows := make([]float32, 0, min(n, 1<<16))
	for k := range n {
		v := 0.0
		if k == 0 {
			v, err = strconv.ParseFloat(first, 64)
		} else {
			v, err = w.number(fmt.Sprintf("height %d of %d", k+1, n))
		}
		if err != nil {
			return nil, err
		}
		if hasVoid && v == void {
			v = math.NaN()
			t.Voids++
		} else if !onPlanet(v) {
			return nil, w.errorf("height %g m is not on this planet; give voids as nodata_value, heights in metres", v)
		}
		rows = append(rows, float32(v))
	}
	if s, err := w.next(); err != io.EOF {
		return nil, w.errorf("%q comes after the last of %d x %d heights", s, t.NX, t.NY)
	}
	t.posts = make([]float32, n)
	for j := range t.NY {
		copy(t.posts[j*t.NX:(j+1)*t.NX], rows[(t.NY-1-j)*t.NX:])
	}
	return t, nil
}

// gridOf returns the empty tile that an ESRI header describes.
func gridOf(h map[string]float64, w *words) (*Tile, error) {
	count := func(key string) (int, error) {
		v, ok := h[key]
		if !ok {
			return 0, w.errorf("%s is missing from the header", key)
		}
		if v != math.Trunc(v) || v < 2 || v > maxPosts {
			return 0, w.errorf("%s is %g; want a whole number, 2 or more", key, v)
		}
		return int(v), nil
	}
	t := &Tile{Name: w.name, margin: 0.5}
	var err error
	if t.NX, err = count("ncols"); err != nil {
		return nil, err
	}
	if t.NY, err = count("nrows"); err != nil {
		return nil, err
	}
	if t.NX > maxPosts/t.NY {
		return nil, w.errorf("%d x %d heights are too many; cut the grid to the surroundings of the pad", t.NX, t.NY)
	}
	t.DLon, t.DLat = h["cellsize"], h["cellsize"]
	if _, ok := h["dx"]; ok {
		t.DLon, t.DLat = h["dx"], h["dy"]
	}
	if !(t.DLon > 0) || !(t.DLat > 0) {
		return nil, w.errorf("cellsize is missing or not above zero; write the side of a cell in degrees")
	}
	var shift float64
	x, okX := h["xllcorner"]
	y, okY := h["yllcorner"]
	if okX && okY {
		shift = 0.5
	} else if x, okX = h["xllcenter"]; okX {
		y, okY = h["yllcenter"]
	}
	if !okX || !okY {
		return nil, w.errorf("xllcorner and yllcorner (or xllcenter and yllcenter) are missing from the header")
	}
	t.West, t.South = x+shift*t.DLon, y+shift*t.DLat
	north, east := t.South+t.DLat*float64(t.NY-1), t.DLon*float64(t.NX-1)
	if math.Abs(x) > 360 || t.South < -90.5 || north > 90.5 || east > 360.5 {
		return nil, w.errorf("corner %g, %g with cells of %g is not in degrees; "+
			"gdalwarp -t_srs EPSG:4326 -of AAIGrid makes a grid in degrees", x, y, t.DLon)
	}
	return t, nil
}
