package mapfile

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

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
	Letter  bool        // the sheet on US Letter; false: A4
	QRList  bool        // the sheet's QR codes list every turning point; false: a geo: link to the first search leg
}

// formats of files in the order they are made. Those not usual are made when
// Formats names them.
var formats = []struct {
	name     string
	planOnly bool // not made without a plan
	extra    bool // made when asked for alone
	write    func(io.Writer, *Landing, Options) error
}{
	{name: "kml", write: func(w io.Writer, l *Landing, _ Options) error { return KML(w, l) }},
	{name: "kmz", write: func(w io.Writer, l *Landing, _ Options) error { return KMZ(w, l) }},
	{name: "gpx", planOnly: true, write: func(w io.Writer, l *Landing, o Options) error { return GPX(w, l, o.Tracks) }},
	{name: "geojson", write: func(w io.Writer, l *Landing, _ Options) error { return GeoJSON(w, l) }},
	{name: "png", write: func(w io.Writer, l *Landing, o Options) error { return PNG(w, l, Page{Grid: o.Grid}) }},
	{name: "svg", extra: true, write: writeSVG},
	{name: "sheet", planOnly: true, write: Sheet},
}

func writeSVG(w io.Writer, l *Landing, o Options) error { return SVG(w, l, Page{Grid: o.Grid}) }

// Formats are the names that Options.Formats takes.
func Formats() []string {
	var out []string
	for _, f := range formats {
		out = append(out, f.name)
	}
	return out
}

// Only returns l with the plan of the searcher of that name alone; letter and
// colour stay what they are among all.
func (l *Landing) Only(name string) (*Landing, error) {
	var names []string
	if l.Plan != nil {
		for i, r := range l.Plan.Searchers {
			if r.Name == name {
				one, p := *l, *l.Plan
				r.nth = cmp.Or(r.nth, i+1)
				p.Searchers = []Route{r}
				one.Plan, one.worked = &p, nil
				return &one, nil
			}
			names = append(names, r.Name)
		}
	}
	return nil, fmt.Errorf("no searcher is called %q; the plan has %s", name, cmp.Or(strings.Join(names, ", "), "none"))
}

// Files makes the files of l in memory: landing.kml, landing.kmz,
// landing.geojson and landing.png, or with a Plan search.kml and so on with
// search.gpx and sheet.html.
func Files(l *Landing, o Options) ([]File, error) {
	l = l.ready()
	if o.Grid == place.Decimal {
		o.Grid = place.Local(l.Frame.Origin)
	}
	base := "landing."
	if l.Plan != nil {
		base = "search."
	}
	var out []File
	for _, f := range formats {
		usual := o.Formats == nil && !f.extra && (l.Plan != nil || !f.planOnly)
		if !usual && !slices.Contains(o.Formats, f.name) || f.name == "sheet" && l.Plan == nil {
			continue
		}
		var b bytes.Buffer
		if err := f.write(&b, l, o); err != nil {
			return nil, err
		}
		name := base + f.name
		if f.name == "sheet" {
			name = "sheet.html"
		}
		out = append(out, File{name, b.Bytes()})
	}
	return out, nil
}
