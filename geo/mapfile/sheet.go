package mapfile

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"strings"

	"github.com/skip2/go-qrcode"

	"windfall/geo"
	"windfall/geo/place"
)

//go:embed sheet.html
var sheetText string

var sheetTemplate = template.Must(template.New("sheet").Parse(sheetText))

// Sheet writes one HTML page to print, without any file beside it: the map,
// then each searcher's legs with bearing, distance and where they end, places
// in the local grid and decimal degrees, a QR code, whom to call and cautions.
// It is made for black ink on A4 or Letter. The landing must have a Plan.
func Sheet(w io.Writer, l *Landing, o Options) error {
	l = l.ready()
	if l.Plan == nil {
		return fmt.Errorf("the sheet needs a plan")
	}
	if o.Grid == place.Decimal {
		o.Grid = place.Local(l.Frame.Origin)
	}
	s := sheet{
		Title: clean(l.Title), Subtitle: clean(l.Subtitle), Paper: "A4",
		POS: percent(l.Plan.POS), Bound: percent(l.Plan.UpperBound),
		Minutes: fmt.Sprintf("%.0f", l.Plan.Minutes), Contacts: l.Contacts, Grid: gridName(l, o.Grid),
		Cautions: append(append([]string(nil), l.Cautions...), standing...), Compass: compass(l),
	}
	if o.Letter {
		s.Paper = "letter"
	}
	s.Many = len(l.Plan.Searchers) > 4
	var err error
	if s.Map, err = inlineMap(l, o.Grid, s.mapHeight()); err != nil {
		return err
	}
	s.Spots = append(s.Spots, spotRow(l, o.Grid, "pad", geo.XY{}))
	for _, p := range l.spots() {
		s.Spots = append(s.Spots, spotRow(l, o.Grid, p.Name, p.At))
	}
	for _, p := range l.Parts {
		row := spotRow(l, o.Grid, p.Name, p.Mean)
		row.Way += p.should()
		s.Spots = append(s.Spots, row)
	}
	for _, r := range l.Plan.Searchers {
		t, err := searcherTable(l, o, r.nth-1, r)
		if err != nil {
			return err
		}
		s.Searchers = append(s.Searchers, t)
	}
	s.layOut()
	return sheetTemplate.Execute(w, s)
}

// standing are the cautions every sheet and every plan carries (common practice,
// no source).
var standing = []string{
	"The club's safety code, the law of the place and the range safety officer's word come before this plan.",
	"A rocket on or near a power line: touch nothing, keep everyone away, call the network's emergency number.",
	"A motor or charge that has not fired may fire in your hands: stay out of its line, let it rest, disarm it first.",
	"No climbing. No railway, motorway or water. No ground without leave: shut gates, spare crops and livestock.",
	"Keep in call of another, be back before dark and cold. Drones: lawful, off people, down in bad weather.",
}

// Standing returns the cautions that go with every plan.
func Standing() []string { return append([]string(nil), standing...) }

type sheet struct {
	Title, Subtitle, Paper, POS, Bound, Minutes, Grid, Compass string
	Map                                                        template.HTML
	Contacts, Cautions                                         []string
	Spots                                                      []spotLine
	Searchers                                                  []searcherSheet
	Layout                                                     string
	Many                                                       bool // searchers: their codes stand in one row
}

type spotLine struct{ Name, Way, Grid, Decimal string }

type searcherSheet struct {
	Letter, Name, Summary, StartName, StartGrid, StartDecimal, QRText string
	QR                                                                template.HTML
	Paces, Magnetic, Blocks                                           bool
	Rows                                                              []legRow
	Rest                                                              string // which legs are not here, and where they are
}

type legRow struct {
	N                                                       string // leg, or first and last
	Kind, True, Magnetic, Metres, Paces, Until, Width, Grid string
	Decimal, Mark, Short                                    string
	Search                                                  bool
	Told, Later                                             string // of a block or way; what is said above it
	Finds, Sum                                              string // chance to find it here, and here and before
	Ticks                                                   []int  // lanes of a block
}

func spotRow(l *Landing, grid place.Style, name string, q geo.XY) spotLine {
	p := l.Frame.ToLonLat(q)
	way := ""
	if q != (geo.XY{}) {
		way = fmt.Sprintf("%s, %s of pad", metres(q.Norm()), bearing(q.BearingDeg()))
	}
	return spotLine{clean(name), way, spaced(place.Format(p, grid)), shortDecimal(l, q)}
}

// spaced parts an MGRS reference for the eye: 30S TJ 76470 25634.
func spaced(s string) string {
	if strings.ContainsAny(s, " ,") || len(s) < 13 {
		return s
	}
	n := len(s) - 10
	return s[:n-2] + " " + s[n-2:n] + " " + s[n:n+5] + " " + s[n+5:]
}

// shortDecimal writes a place in degrees with five decimals, 1 m.
func shortDecimal(l *Landing, q geo.XY) string {
	p := l.Frame.ToLonLat(q)
	return fmt.Sprintf("%.5f, %.5f", p.Lat()+0, p.Lon()+0)
}

// qrText is a geo: URI (RFC 5870) of where the searcher's first block or search
// leg begins, or the list of turning points as lines of latitude and longitude.
func qrText(l *Landing, r Route, list bool) string {
	first := r.Start
	for _, g := range r.Legs {
		if g.Kind == Search {
			first = g.From
			break
		}
	}
	if len(r.Blocks) > 0 {
		first = r.Blocks[0].Begin
	}
	if !list || len(r.Legs) == 0 {
		p := l.Frame.ToLonLat(first)
		return fmt.Sprintf("geo:%.5f,%.5f", p.Lat()+0, p.Lon()+0)
	}
	const most = 60 // places; a code of more is too fine to scan from wet paper
	lines := []string{clean(r.Name)}
	for _, g := range r.Legs {
		if len(lines) > most {
			break
		}
		if g.From != g.To {
			lines = append(lines, strings.ReplaceAll(shortDecimal(l, g.To), " ", ""))
		}
	}
	return strings.Join(lines, "\n")
}

// qrSVG draws a QR code (ISO/IEC 18004, a quarter of it may be lost or, for
// long texts, a fourteenth) as one path.
func qrSVG(text string) (template.HTML, error) {
	level := qrcode.High
	if len(text) > 100 {
		level = qrcode.Low
	}
	q, err := qrcode.New(text, level)
	if err != nil {
		return "", fmt.Errorf("QR code of %d characters: %w", len(text), err)
	}
	bits := q.Bitmap()
	var b strings.Builder
	for y, row := range bits {
		for x := 0; x < len(row); x++ {
			from := x
			for x < len(row) && row[x] {
				x++
			}
			if x > from {
				fmt.Fprintf(&b, "M%d %dh%dv1h-%dz", from, y, x-from, x-from)
			}
		}
	}
	n := len(bits)
	return template.HTML(fmt.Sprintf(`<svg class="qr" viewBox="0 0 %d %d" shape-rendering="crispEdges">`+
		`<path fill="#fff" d="M0 0h%dv%dH0z"/><path d="%s"/></svg>`, n, n, n, n, b.String())), nil
}

// mapHeight is the height of the map, of 720 across, that leaves the first page
// room for the rest.
func (s *sheet) mapHeight() float64 {
	h := 515 - 9*float64(max(0, len(s.Cautions)-8)) - 18*float64(max(0, len(s.Contacts)-6))
	h -= 24 * float64(max(0, len(s.Spots)-4))
	if s.Paper == "letter" {
		h -= 70
	}
	if s.Many {
		h -= 25
	}
	return max(300, h)
}

// inlineMap draws the picture for paper as SVG that fills its width.
func inlineMap(l *Landing, grid place.Style, height float64) (template.HTML, error) {
	var b bytes.Buffer
	bare := *l
	bare.Title, bare.Subtitle = "", ""
	if err := SVG(&b, &bare, Page{Width: 720, Height: height, Lettering: 0.6, Grid: grid, Untitled: true}); err != nil {
		return "", err
	}
	s := b.String()
	return template.HTML(`<svg class="map" ` + s[strings.Index(s, "viewBox"):]), nil // without its size in points
}

func gridName(l *Landing, style place.Style) string {
	switch style {
	case place.UTM, place.MGRS, place.BNG:
		name := place.GridAt(l.Frame.Origin, style).Name
		if style == place.MGRS {
			return "MGRS, " + name
		}
		return name
	}
	return style.String()
}

// compass says how to get from true to magnetic bearings.
func compass(l *Landing) string {
	if l.Declination == nil {
		return "Bearings are from true north."
	}
	d := *l.Declination
	way, side := "subtract", "east"
	if d < 0 {
		way, side = "add", "west"
	}
	size := math.Abs(d)
	return fmt.Sprintf("Declination %.1f° %s: from true to compass bearing %s %.1f°.", size, side, way, size)
}
