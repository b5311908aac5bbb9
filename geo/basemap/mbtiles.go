package basemap

import (
	"database/sql"
	"errors"
	"net/url"
	"os"
	"strconv"

	_ "modernc.org/sqlite" // MBTiles are SQLite files
)

// mbtiles is a file of the MBTiles specification, 1.3.
type mbtiles struct{ db *sql.DB }

func openMBTiles(path string) (*Map, error) {
	if _, err := os.Stat(path); err != nil {
		return nil, plain(err)
	}
	db, err := sql.Open("sqlite", "file:"+(&url.URL{Path: path}).EscapedPath()+"?mode=ro&immutable=1")
	if err != nil {
		return nil, err
	}
	meta, err := metadata(db)
	if err == nil && meta["format"] == "pbf" {
		err = errVector
	}
	if err != nil {
		db.Close()
		return nil, err
	}
	m := &Map{Credit: textOnly(meta["attribution"]), MaxZoom: mostZoom, tiles: mbtiles{db}}
	if z, err := strconv.Atoi(meta["minzoom"]); err == nil {
		m.MinZoom = z
	}
	if z, err := strconv.Atoi(meta["maxzoom"]); err == nil {
		m.MaxZoom = z
	} else if db.QueryRow("SELECT max(zoom_level) FROM tiles").Scan(&z) == nil {
		m.MaxZoom = z
	}
	return m, nil
}

func metadata(db *sql.DB) (map[string]string, error) {
	rows, err := db.Query("SELECT name, value FROM metadata")
	if err != nil {
		return nil, errors.New("is not an MBTiles file; name one that is, or a .pmtiles")
	}
	defer rows.Close()
	meta := map[string]string{}
	for rows.Next() {
		var k, v string
		if rows.Scan(&k, &v) == nil {
			meta[k] = v
		}
	}
	return meta, rows.Err()
}

func (m mbtiles) tile(z, x, y int) (b []byte, err error) {
	err = m.db.QueryRow("SELECT tile_data FROM tiles WHERE zoom_level=? AND tile_column=? AND tile_row=?", z, x, 1<<z-1-y).
		Scan(&b)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	return b, err
}

func (m mbtiles) close() error { return m.db.Close() }
