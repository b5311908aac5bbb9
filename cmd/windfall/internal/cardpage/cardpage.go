// Package cardpage writes the cards of observers as a page to print.
package cardpage

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"time"

	"github.com/paulmach/orb"

	"windfall/drift/evidence"
	"windfall/geo"
	"windfall/geo/place"
)

//go:embed cards.html
var text string

var page = template.Must(template.New("cards").Parse(text))

// Data is what the page shows.
type Data struct {
	Flight string
	When   time.Time // zero: not known
	Cards  []evidence.Card
}

type row struct{ Event, At, True, Compass, Up, Away string }

type card struct {
	Name, Grid, Degrees, From, Declination string
	Rows                                   []row
}

// Write writes the page as HTML.
func Write(w io.Writer, d Data) error {
	shown := struct {
		Flight, When string
		Cards        []card
	}{Flight: d.Flight}
	if !d.When.IsZero() {
		shown.When = d.When.Format("2 January 2006, 15:04 -07:00")
	}
	for _, c := range d.Cards {
		shown.Cards = append(shown.Cards, cardOf(c))
	}
	return page.Execute(w, shown)
}

func cardOf(c evidence.Card) card {
	at := orb.Point{c.Lon, c.Lat}
	k := card{Name: c.Name, Grid: place.Format(at, place.Local(at)), Degrees: place.Format(at, place.Decimal),
		From: fmt.Sprintf("%.5f,%.5f", c.Lat, c.Lon)}
	if d := c.Declination; d != nil {
		side := "east"
		if *d < 0 {
			side = "west"
		}
		k.Declination = fmt.Sprintf("%.1f deg %s", math.Abs(*d), side)
	}
	for _, e := range c.Events {
		r := row{Event: e.Event, At: fmt.Sprintf("%.0f s (%.0f to %.0f)", e.At, e.AtSpan[0], e.AtSpan[1]),
			True: fmt.Sprintf("%s (%s to %s)", Bearing(e.Bearing), Bearing(e.Span[0]), Bearing(e.Span[1])),
			Up:   fmt.Sprintf("%s (%s to %s)", Elevation(e.Height), Elevation(e.HeightSpan[0]), Elevation(e.HeightSpan[1])),
			Away: fmt.Sprintf("%.0f m", e.Distance)}
		if c.Declination != nil {
			r.Compass = Bearing(e.Bearing - *c.Declination)
		}
		k.Rows = append(k.Rows, r)
	}
	return k
}

// Bearing writes a bearing in whole degrees, 000 to 359.
func Bearing(deg float64) string {
	return fmt.Sprintf("%03.0f", geo.NormDeg(math.Floor(geo.NormDeg(deg)+0.5)))
}

// Elevation writes an elevation angle in whole degrees, never as -0.
func Elevation(deg float64) string { return fmt.Sprintf("%.0f", math.Round(deg)+0) }
