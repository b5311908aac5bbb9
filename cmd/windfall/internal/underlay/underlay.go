// Package underlay lays the pictures of maps and plans over the flier's own base
// map: a file of tiles or a picture with its world file.
package underlay

import (
	"image"
	"path/filepath"

	"github.com/paulmach/orb"

	"windfall/cmd/windfall/internal/usage"
	"windfall/geo"
	"windfall/geo/basemap"
	"windfall/geo/mapfile"
	"windfall/geo/plane"
)

// Map is a base map for pictures; nil is none.
type Map struct {
	file *basemap.Map
	base *mapfile.Base
}

// Open opens the base map at path, as key names it, for pictures around a pad;
// credit stands in place of what the file says of whose it is. No path: none.
func Open(key, path, credit string, pad orb.Point) (*Map, error) {
	if path == "" {
		if credit != "" {
			return nil, usage.Errorf("--base-credit %.40q without a base map; name it with --base, or leave the credit out",
				credit)
		}
		return nil, nil
	}
	m, err := basemap.Open(path)
	if err == nil {
		if err = m.Covers(pad); err != nil {
			m.Close()
		}
	}
	if err != nil {
		return nil, usage.Errorf("%s %s: %w", key, path, err)
	}
	if credit == "" {
		credit = m.Credit
	}
	if credit == "" {
		credit = filepath.Base(path)
	}
	return &Map{m, &mapfile.Base{Credit: credit,
		Draw: func(f geo.Frame, b plane.Box, w, h int) image.Image { return m.Draw(f, b, w, h) }}}, nil
}

// Under lays the map under a picture's layers, which it returns.
func (m *Map) Under(l *mapfile.Landing) *mapfile.Landing {
	if m != nil {
		l.Base = m.base
	}
	return l
}

// Close ends the reading of the file.
func (m *Map) Close() error {
	if m == nil {
		return nil
	}
	return m.file.Close()
}
