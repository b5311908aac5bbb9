// Package basemap reads the pictures of the ground that people have: raster
// tiles in one file (MBTiles 1.3, PMTiles 3), or a picture with its world file
// in degrees. It gives single tiles as they are, and draws any piece of ground
// in a local frame, north up. Tiles are in Web Mercator (EPSG:3857) and numbered
// as web maps do, y from the north.
//
//	m, err := basemap.Open("club.mbtiles")
//	img := m.Draw(frame, box, 1080, 900)
//
// Nothing here fetches anything, draws vector tiles or turns pictures.
package basemap

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"strings"

	"github.com/paulmach/orb"
)

// Map is a base map, open until Close.
type Map struct {
	Credit           string // whose it is, as its file says, without tags; empty: not said
	MinZoom, MaxZoom int    // of tiles

	tiles   tiles    // nil: a picture
	picture *picture // nil: tiles
}

// tiles gives the tiles of a file. One that is not there is nil.
type tiles interface {
	tile(z, x, y int) ([]byte, error)
	close() error
}

const mostZoom = 24

var errVector = errors.New("holds vector tiles, which are not drawn here; make one of pictures (png, jpg or webp)")

// ErrKind is that of a file whose name is that of no base map.
var ErrKind = errors.New("is no base map; name a .pmtiles, an .mbtiles, or a .png or .jpg with its world file")

// Open opens a .mbtiles, .pmtiles, .png, .jpg or .jpeg. Errors say what is wrong
// with the file and what to do; they leave its name to the caller.
func Open(path string) (*Map, error) {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".mbtiles":
		return openMBTiles(path)
	case ".pmtiles":
		return openPMTiles(path)
	case ".png", ".jpg", ".jpeg":
		return openPicture(path)
	}
	return nil, ErrKind
}

// Close ends the reading of the file.
func (m *Map) Close() error {
	if m.tiles == nil {
		return nil
	}
	return m.tiles.close()
}

// Tile returns a tile's bytes, nil where there is none. A picture has no tiles.
func (m *Map) Tile(z, x, y int) ([]byte, error) {
	if m.tiles == nil || z < 0 || z > mostZoom || x < 0 || y < 0 || x >= 1<<z || y >= 1<<z {
		return nil, nil
	}
	return m.tiles.tile(z, x, y)
}

// Picture returns the south-west and north-east corners of a picture; ok is
// false for tiles.
func (m *Map) Picture() (southWest, northEast orb.Point, ok bool) {
	if m.picture == nil {
		return southWest, northEast, false
	}
	p := m.picture
	return orb.Point{p.west, p.south}, orb.Point{p.east, p.north}, true
}

// Covers refuses a map that shows nothing of a place, or cannot be drawn there.
func (m *Map) Covers(at orb.Point) error {
	if p := m.picture; p != nil {
		if !(at.Lon() >= p.west && at.Lon() <= p.east && at.Lat() >= p.south && at.Lat() <= p.north) {
			return fmt.Errorf("does not cover %.5f, %.5f: it goes from %.5f, %.5f to %.5f, %.5f; give a picture of this place",
				at.Lat(), at.Lon(), p.south, p.west, p.north, p.east)
		}
		return p.load()
	}
	u, v := mercator(at)
	for z := min(m.MaxZoom, mostZoom); z >= max(m.MinZoom, 0); z-- {
		n := float64(int(1) << z)
		x, y := int(u*n), int(v*n)
		b, err := m.Tile(z, x, y)
		if err != nil {
			return fmt.Errorf("cannot be read (%v); make or copy it anew", err)
		}
		if b == nil {
			continue
		}
		if _, err := decode(b); err != nil {
			return fmt.Errorf("has a tile %d/%d/%d that is no picture (%v); make or copy it anew", z, x, y, err)
		}
		return nil
	}
	return fmt.Errorf("has no tile of %.5f, %.5f; give a base map of this place", at.Lat(), at.Lon())
}

// plain is an error of the file system without the name.
func plain(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return fmt.Errorf("%w; name a base map that is there", pe.Err)
	}
	return err
}

const mostCredit = 200 // letters

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
	s = strings.NewReplacer("&copy;", "\u00a9", "&amp;", "&", "&lt;", "<", "&gt;", ">").
		Replace(strings.TrimSpace(b.String()))
	if r := []rune(s); len(r) > mostCredit {
		s = string(r[:mostCredit])
	}
	return s
}
