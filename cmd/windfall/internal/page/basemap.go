package page

import (
	"database/sql"
	"errors"
	"fmt"
	"image"
	_ "image/jpeg" // pictures that a base map may be
	_ "image/png"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	_ "modernc.org/sqlite" // MBTiles are SQLite files

	"windfall/cmd/windfall/internal/usage"
)

// mapDoc says what the base map is.
type mapDoc struct {
	Kind        string         `json:"kind"` // none, tiles or image
	URL         string         `json:"url,omitempty"`
	Attribution string         `json:"attribution,omitempty"`
	MinZoom     int            `json:"min_zoom,omitempty"`
	MaxZoom     int            `json:"max_zoom,omitempty"`
	Bounds      *[2][2]float64 `json:"bounds,omitempty"` // south-west and north-east corners, latitude and longitude
}

// baseMap is the base map that was chosen when the page was served.
type baseMap struct {
	doc     mapDoc
	tiles   tileSource // nil: none here
	picture string     // path; empty: none
}

// tileSource gives the tiles of a file, in the scheme of web maps: y from the
// north. A tile that is not there is nil.
type tileSource interface {
	tile(z, x, y int) ([]byte, error)
	close() error
}

const tileURL = "/map/{z}/{x}/{y}"

// openBase opens what --map names.
func openBase(name, credit string) (b baseMap, err error) {
	switch ext := strings.ToLower(filepath.Ext(name)); {
	case name == "":
		b.doc.Kind = "none"
		return b, nil
	case strings.Contains(name, "://"):
		b, err = onlineBase(name)
	case ext == ".mbtiles":
		b, err = openMBTiles(name)
	case ext == ".pmtiles":
		b, err = openPMTiles(name)
	case ext == ".png" || ext == ".jpg" || ext == ".jpeg":
		b, err = openPicture(name)
	default:
		err = errors.New("is no base map; name a .pmtiles, an .mbtiles, a .png or .jpg with its world file, " +
			"or an address with {z}, {x} and {y}")
	}
	if err != nil {
		return b, usage.Errorf("%s: %w", name, err)
	}
	if credit != "" {
		b.doc.Attribution = credit
	}
	return b, nil
}

func (b baseMap) close() {
	if b.tiles != nil {
		b.tiles.close() // it was only read
	}
}

// origin is what the content security policy must let in, with a space before.
func (b baseMap) origin() string {
	u, err := url.Parse(b.doc.URL)
	if err != nil || u.Host == "" {
		return ""
	}
	return " " + u.Scheme + "://" + u.Host
}

func onlineBase(address string) (b baseMap, err error) {
	u, err := url.Parse(address)
	if err != nil || u.Host == "" || u.Scheme != "https" && u.Scheme != "http" ||
		strings.ContainsAny(u.Host, " ;,'{}") {
		return b, errors.New("is no address of map tiles; write one such as https://maps.example.org/{z}/{x}/{y}.png")
	}
	for _, k := range []string{"{z}", "{x}", "{y}"} {
		if !strings.Contains(address, k) {
			return b, fmt.Errorf("has no %s; write an address with {z}, {x} and {y}", k)
		}
	}
	b.doc = mapDoc{Kind: "tiles", URL: address, Attribution: "map from " + u.Host, MaxZoom: 19}
	return b, nil
}

// mbtiles is a file of the MBTiles specification, 1.3.
type mbtiles struct{ db *sql.DB }

func openMBTiles(path string) (b baseMap, err error) {
	if _, err := os.Stat(path); err != nil {
		return b, errors.New(plain(err))
	}
	db, err := sql.Open("sqlite", "file:"+(&url.URL{Path: path}).EscapedPath()+"?mode=ro&immutable=1")
	if err != nil {
		return b, err
	}
	rows, err := db.Query("SELECT name, value FROM metadata")
	if err != nil {
		db.Close()
		return b, errors.New("is not an MBTiles file")
	}
	defer rows.Close()
	meta := map[string]string{}
	for rows.Next() {
		var k, v string
		if rows.Scan(&k, &v) == nil {
			meta[k] = v
		}
	}
	if f := meta["format"]; f == "pbf" {
		db.Close()
		return b, errVector
	}
	b.doc = mapDoc{Kind: "tiles", URL: tileURL, Attribution: textOnly(meta["attribution"]), MaxZoom: 22}
	if z, err := strconv.Atoi(meta["minzoom"]); err == nil {
		b.doc.MinZoom = z
	}
	if z, err := strconv.Atoi(meta["maxzoom"]); err == nil {
		b.doc.MaxZoom = z
	} else if db.QueryRow("SELECT max(zoom_level) FROM tiles").Scan(&z) == nil {
		b.doc.MaxZoom = z
	}
	b.tiles = mbtiles{db}
	return b, nil
}

var errVector = errors.New("holds vector tiles, which this page does not draw; make one of pictures (png, jpg or webp)")

func (m mbtiles) tile(z, x, y int) (b []byte, err error) {
	err = m.db.QueryRow("SELECT tile_data FROM tiles WHERE zoom_level=? AND tile_column=? AND tile_row=?", z, x, 1<<z-1-y).
		Scan(&b)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	return b, err
}

func (m mbtiles) close() error { return m.db.Close() }

// textOnly takes the tags out of an attribution: files carry links in it.
func textOnly(s string) string {
	var b strings.Builder
	in := false
	for _, r := range s {
		switch {
		case r == '<':
			in = true
		case r == '>' && in:
			in = false
		case !in:
			b.WriteRune(r)
		}
	}
	return clipped(
		strings.NewReplacer("&copy;", "\u00a9", "&amp;", "&", "&lt;", "<", "&gt;", ">").
			Replace(strings.TrimSpace(b.String())),
		200,
	)
}

// openPicture takes a picture with its world file in degrees: six lines, of
// which the second and third, turns, are 0.
func openPicture(path string) (b baseMap, err error) {
	f, err := os.Open(path)
	if err != nil {
		return b, errors.New(plain(err))
	}
	defer f.Close()
	c, _, err := image.DecodeConfig(f)
	if err != nil {
		return b, errors.New("is not a picture that can be read")
	}
	w, name, err := worldFile(path)
	if err != nil {
		return b, err
	}
	if w[1] != 0 || w[2] != 0 || !(w[0] > 0) || !(w[3] < 0) {
		return b, fmt.Errorf("%s turns the picture; give one with north up", name)
	}
	west, north := w[4]-w[0]/2, w[5]-w[3]/2
	east, south := west+w[0]*float64(c.Width), north+w[3]*float64(c.Height)
	if west < -181 || east > 181 || south < -90 || north > 90 {
		return b, fmt.Errorf(
			"%s is not in degrees; reproject the picture to EPSG:4326, such as with gdalwarp -t_srs EPSG:4326",
			name,
		)
	}
	b.picture = path
	b.doc = mapDoc{
		Kind:        "image",
		URL:         "/map/picture",
		Attribution: filepath.Base(path),
		Bounds:      &[2][2]float64{{south, west}, {north, east}},
	}
	return b, nil
}

// worldFile reads the six numbers beside a picture.
func worldFile(path string) (w [6]float64, name string, err error) {
	ext := filepath.Ext(path)
	stem := strings.TrimSuffix(path, ext)
	for _, x := range []string{ext[:2] + ext[len(ext)-1:] + "w", ext + "w", ".wld"} {
		name = stem + x
		text, err := os.ReadFile(name)
		if err != nil {
			continue
		}
		lines := strings.Fields(string(text))
		if len(lines) != 6 {
			return w, name, fmt.Errorf("%s has %d numbers; a world file has 6", name, len(lines))
		}
		for i, l := range lines {
			if w[i], err = strconv.ParseFloat(l, 64); err != nil {
				return w, name, fmt.Errorf("%s: %q is no number", name, clipped(l, 40))
			}
		}
		return w, name, nil
	}
	return w, "", fmt.Errorf(
		"has no world file beside it, such as %s",
		filepath.Base(stem)+ext[:2]+ext[len(ext)-1:]+"w",
	)
}

func (s *Server) getMap(*http.Request) (any, error) { return s.base.doc, nil }

func (s *Server) getTile(w http.ResponseWriter, r *http.Request) {
	z, err1 := strconv.Atoi(r.PathValue("z"))
	x, err2 := strconv.Atoi(r.PathValue("x"))
	y, err3 := strconv.Atoi(r.PathValue("y"))
	if s.base.tiles == nil || err1 != nil || err2 != nil || err3 != nil || z < 0 || z > 24 || x < 0 || y < 0 ||
		x >= 1<<z ||
		y >= 1<<z {
		http.NotFound(w, r)
		return
	}
	b, err := s.base.tiles.tile(z, x, y)
	if err != nil || b == nil {
		http.NotFound(w, r)
		return
	}
	t := http.DetectContentType(b)
	if !strings.HasPrefix(t, "image/") {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", t)
	w.Header().Set("Cache-Control", "max-age=3600")
	w.Write(b)
}

func (s *Server) getPicture(w http.ResponseWriter, r *http.Request) {
	if s.base.picture == "" {
		http.NotFound(w, r)
		return
	}
	http.ServeFile(w, r, s.base.picture)
}
