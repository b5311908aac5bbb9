// Package contactpage writes what was found in pictures for people to judge:
// a page that needs nothing but itself, points for maps, and a list.
package contactpage

import (
	"bytes"
	_ "embed"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"html/template"
	"io"
	"math"
	"path/filepath"
	"strings"

	"github.com/paulmach/orb"
	"github.com/twpayne/go-gpx"
	"github.com/twpayne/go-kml/v3"

	"windfall/cmd/windfall/internal/pictures"
	"windfall/geo"
	"windfall/geo/grid"
	"windfall/geo/place"
	"windfall/geo/plane"
)

//go:embed contacts.html
var text string

var page = template.Must(template.New("contacts").Parse(text))

// Data is what is shown.
type Data struct {
	Flight    string // its id
	File      string // the flight file, as the command line names it
	Survey    pictures.Survey
	Areas     []grid.Area    // of the map, to be drawn
	Ground    plane.Polygons // that was pictured
	Verdicts  map[int]string // by number: yes or no
	LeftAside []string
	Sharpness string // of the pictures, in words
}

type card struct {
	N                          int
	Place, Degrees, From       string
	Size, Colour, Level, Score string
	Files                      string
	Verdict                    string
	Crop                       template.URL
	Left, Top, Ring            float64 // percent of the crop's width and height
	X, Y                       float64 // on the map
}

type shape struct{ Path, Class string }

// Write writes the page as HTML.
func Write(w io.Writer, d Data) error {
	m := mapOf(d)
	shown := struct {
		Data
		Cards  []card
		Shapes []shape
		Box    string
		Dot    float64
	}{Data: d, Box: m.box(), Dot: m.side / 60}
	for _, a := range d.Areas {
		shown.Shapes = append(shown.Shapes, shape{m.path(a.Shape), fmt.Sprintf("a%.0f", 100*a.Probability)})
	}
	shown.Shapes = append(shown.Shapes, shape{m.path(d.Ground), "ground"})
	for _, c := range d.Survey.Candidates {
		shown.Cards = append(shown.Cards, cardOf(c, m, d.Verdicts[c.N]))
	}
	return page.Execute(w, shown)
}

func cardOf(c pictures.Candidate, m drawing, verdict string) card {
	at := orb.Point{c.At.Lon, c.At.Lat}
	k := card{N: c.N, Place: place.Format(at, place.Local(at)), Degrees: place.Format(at, place.Decimal),
		From: fromPad(c.At), Size: fmt.Sprintf("%.1f m by %.1f m", c.Long, c.Wide), Colour: c.Colour,
		Level: fmt.Sprintf("%.0f %%", 100*c.Level), Score: fmt.Sprintf("%.1f", c.Score), Verdict: verdict}
	var names []string
	for _, p := range c.Pictures {
		names = append(names, fmt.Sprintf("%s at %d,%d", filepath.Base(p.File), p.Pixel[0], p.Pixel[1]))
	}
	k.Files = strings.Join(names, "; ")
	if len(c.Crop) > 0 {
		k.Crop = template.URL("data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(c.Crop))
		wide, high := float64(max(c.CropSize[0], 1)), float64(max(c.CropSize[1], 1))
		k.Left, k.Top = 100*float64(c.Middle[0])/wide, 100*float64(c.Middle[1])/high
		k.Ring = math.Min(80, math.Max(12, 130*c.LongPixels/wide))
	}
	p := m.at(geo.XY{X: c.At.East, Y: c.At.North})
	k.X, k.Y = p.X, p.Y
	return k
}

func fromPad(p geo.Place) string {
	q := geo.XY{X: p.East, Y: p.North}
	return fmt.Sprintf("%.0f m from the pad on bearing %03.0f", q.Norm(), math.Mod(math.Round(q.BearingDeg()), 360))
}

// drawing turns metres into the map's own units: metres with y downward.
type drawing struct {
	low, high geo.XY
	side      float64
}

func mapOf(d Data) drawing {
	b := d.Ground.Bound()
	for _, a := range d.Areas {
		if a.Probability <= 0.5 { // beyond it the map would be mostly empty
			b = b.Union(a.Shape.Bound())
		}
	}
	for _, c := range d.Survey.Candidates {
		b = b.Extend(geo.XY{X: c.At.East, Y: c.At.North})
	}
	size := b.Size()
	side := math.Max(size.X, size.Y) * 1.1
	if !(side > 0) || math.IsInf(side, 0) {
		return drawing{side: 100}
	}
	half := geo.XY{X: side / 2, Y: side / 2}
	return drawing{b.Center().Sub(half), b.Center().Add(half), side}
}

func (m drawing) at(q geo.XY) geo.XY {
	return geo.XY{X: math.Round(10*(q.X-m.low.X)) / 10, Y: math.Round(10*(m.high.Y-q.Y)) / 10}
}

func (m drawing) box() string { return fmt.Sprintf("0 0 %.0f %.0f", m.side, m.side) }

func (m drawing) path(ps plane.Polygons) string {
	var b strings.Builder
	for _, p := range ps {
		for _, ring := range p {
			for i, q := range ring {
				c := "L"
				if i == 0 {
					c = "M"
				}
				at := m.at(q)
				fmt.Fprintf(&b, "%s%g %g", c, at.X, at.Y)
			}
			b.WriteString("Z")
		}
	}
	return b.String()
}

func name(c pictures.Candidate) string { return fmt.Sprintf("candidate %d", c.N) }

func describe(c pictures.Candidate) string {
	return fmt.Sprintf("%.1f m by %.1f m, colour %s, give or take %.0f m; in %s", c.Long, c.Wide, c.Colour, c.Error,
		filepath.Base(c.Pictures[0].File))
}

// KML writes the candidates as points (KML 2.2).
func KML(w io.Writer, d Data) error {
	doc := kml.Document(kml.Name(d.Flight + ": candidates in pictures"))
	for _, c := range d.Survey.Candidates {
		doc.Append(kml.Placemark(kml.Name(name(c)), kml.Description(describe(c)),
			kml.Point(kml.Coordinates(kml.Coordinate{Lon: c.At.Lon, Lat: c.At.Lat}))))
	}
	return kml.KML(doc).WriteIndent(w, "", " ")
}

// GPX writes the candidates as waypoints (GPX 1.1).
func GPX(w io.Writer, d Data) error {
	g := &gpx.GPX{Version: "1.1", Creator: "windfall"}
	for _, c := range d.Survey.Candidates {
		g.Wpt = append(g.Wpt, &gpx.WptType{Lat: c.At.Lat, Lon: c.At.Lon, Name: name(c), Desc: describe(c)})
	}
	return g.WriteIndent(w, "", " ")
}

// File is a file to be written.
type File struct {
	Name string
	Data []byte
}

// Files are the page, the points and the list.
func Files(d Data) (out []File, err error) {
	list, err := json.MarshalIndent(d.Survey, "", " ")
	if err != nil {
		return nil, err
	}
	for _, f := range []struct {
		name  string
		write func(io.Writer, Data) error
	}{{"candidates.html", Write}, {"candidates.kml", KML}, {"candidates.gpx", GPX}} {
		var b bytes.Buffer
		if err := f.write(&b, d); err != nil {
			return nil, fmt.Errorf("%s: %w", f.name, err)
		}
		out = append(out, File{f.name, b.Bytes()})
	}
	return append(out, File{"candidates.json", append(list, '\n')}), nil
}
