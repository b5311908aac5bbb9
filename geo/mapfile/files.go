package mapfile

import (
	"bytes"
	"io"
	"slices"

	"windfall/geo/place"
)

// File is a finished file.
type File struct {
	Name string
	Data []byte
}

// Options are how Files writes; the zero value serves.
type Options struct {
	Grid    place.Style // of the pictures and the sheet; 0: what place.Local says of the pad
	Formats []string    // kml, kmz, gpx, geojson, png, svg, sheet; nil: the usual ones
	Tracks  bool        // GPX tracks in place of routes
}

// formats of files in the order they are made. Those not usual are made when
// Formats names them.
var formats = []struct {
	name      string
	plan      bool // needs a plan
	map_, svg bool // unusual without a plan, unusual altogether
	write     func(io.Writer, *Landing, Options) error
}{
	{name: "kml", write: func(w io.Writer, l *Landing, _ Options) error { return KML(w, l) }},
	{name: "kmz", write: func(w io.Writer, l *Landing, _ Options) error { return KMZ(w, l) }},
	{name: "gpx", map_: true, write: func(w io.Writer, l *Landing, o Options) error { return GPX(w, l, o.Tracks) }},
	{name: "geojson", write: func(w io.Writer, l *Landing, _ Options) error { return GeoJSON(w, l) }},
	{name: "png", write: func(w io.Writer, l *Landing, o Options) error { return PNG(w, l, Page{Grid: o.Grid}) }},
	{name: "svg", svg: true, write: func(w io.Writer, l *Landing, o Options) error { return SVG(w, l, Page{Grid: o.Grid}) }},
}

// Files makes the files of l in memory: landing.kml, landing.kmz,
// landing.geojson and landing.png, or with a Plan search.kml and so on with
// search.gpx and sheet.html.
func Files(l *Landing, o Options) ([]File, error) {
	if o.Grid == place.Decimal {
		o.Grid = place.Local(l.Frame.Origin)
	}
	base := "landing."
	if l.Plan != nil {
		base = "search."
	}
	var out []File
	for _, f := range formats {
		usual := !f.svg && (l.Plan != nil || !f.map_) && o.Formats == nil
		if !usual && !slices.Contains(o.Formats, f.name) {
			continue
		}
		var b bytes.Buffer
		if err := f.write(&b, l, o); err != nil {
			return nil, err
		}
		out = append(out, File{base + f.name, b.Bytes()})
	}
	return out, nil
}
