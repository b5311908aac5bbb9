// Package newflight writes a commented, working flight folder to start from,
// and a made-up forecast to practise with.
package newflight

import (
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"text/template"
	"time"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/outdir"
	"windfall/cmd/windfall/internal/usage"
	"windfall/geo"
	"windfall/geo/place"
)

//go:embed template/flight.yaml
var flightTemplate string

// Start is what a new flight is written with.
type Start struct {
	ID, When               string
	Pad                    string // as typed
	Elevation, ElevationFt string // empty: not known
	at                     orb.Point
	imperial               bool
}

// Tile is the name of the elevation tile that the pad lies on: its south-west
// corner, as SRTM tiles are called.
func (s Start) Tile() string {
	lat, lon := int(math.Floor(s.at.Lat())), int(math.Floor(s.at.Lon()))
	name := func(v int, plus, minus string, digits int) string {
		if v < 0 {
			return fmt.Sprintf("%s%0*d", minus, digits, -v)
		}
		return fmt.Sprintf("%s%0*d", plus, digits, v)
	}
	return name(lat, "N", "S", 2) + name(lon, "E", "W", 3) + ".hgt"
}

// The example's pad, for those who name none.
const (
	examplePad       = "41.9050, -4.9210"
	exampleElevation = "741 m"
	exampleFeet      = "2431 ft"
)

// From is a start at a pad, in any form of a place ("": the example's), in
// metric or imperial units.
func From(pad, units string) (t Start, err error) {
	switch units {
	case "metric":
	case "imperial":
		t.imperial = true
	default:
		return t, usage.Errorf("--units %q is not known; write metric or imperial", units)
	}
	t.Pad = pad
	if pad == "" {
		t.Pad, t.Elevation, t.ElevationFt = examplePad, exampleElevation, exampleFeet
	}
	if t.at, err = place.Parse(t.Pad); err != nil {
		return t, usage.Errorf("--pad: %w", err)
	}
	return t, nil
}

// Write writes a flight folder, for the weekend after now, and returns its
// files.
func (s Start) Write(dir string, now time.Time) ([]string, error) {
	if es, err := os.ReadDir(dir); err == nil && len(es) > 0 {
		return nil, usage.Errorf("%s: is not empty; name a new folder", dir)
	} else if err != nil && !errors.Is(err, os.ErrNotExist) {
		return nil, usage.Errorf("%s: is not a folder; name a new one", dir)
	}
	abs, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	s.ID, s.When = flightfile.Slug(filepath.Base(abs)), comingWeekend(now).Format(time.RFC3339)
	t, err := template.New("flight").Funcs(template.FuncMap{"u": func(metric, imperial string) string {
		if s.imperial {
			return imperial
		}
		return metric
	}}).Parse(flightTemplate)
	if err != nil {
		return nil, err
	}
	set := outdir.Open(dir)
	defer set.Discard()
	if err := set.Write("flight.yaml", func(w io.Writer) error { return t.Execute(w, s) }); err != nil {
		return nil, err
	}
	field, err := fieldAround(s.at)
	if err != nil {
		return nil, err
	}
	if err := set.Bytes("field.geojson", field); err != nil {
		return nil, err
	}
	return set.Commit()
}

// comingWeekend is eleven o'clock on the next Saturday or Sunday after today.
func comingWeekend(now time.Time) time.Time {
	t := time.Date(now.Year(), now.Month(), now.Day(), 11, 0, 0, 0, now.Location())
	for {
		t = t.AddDate(0, 0, 1)
		if d := t.Weekday(); d == time.Saturday || d == time.Sunday {
			return t
		}
	}
}

const fieldRadius = 600.0 // m, to be redrawn by whoever knows the ground

// fieldAround is a GeoJSON octagon around a pad.
func fieldAround(pad orb.Point) ([]byte, error) {
	f := geo.Frame{Origin: pad}
	var ring orb.Ring
	for k := range 9 {
		a := 2 * math.Pi * (float64(k%8) + 0.5) / 8
		p := f.ToLonLat(geo.XY{X: fieldRadius * math.Cos(a), Y: fieldRadius * math.Sin(a)})
		ring = append(ring, orb.Point{math.Round(p[0]*1e6) / 1e6, math.Round(p[1]*1e6) / 1e6})
	}
	ft := geojson.NewFeature(orb.Polygon{ring})
	ft.Properties["name"] = "our field: redraw me"
	text, err := json.MarshalIndent(geojson.NewFeatureCollection().Append(ft), "", " ")
	return append(text, '\n'), err
}
