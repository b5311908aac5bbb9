package main

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"slices"
	"strings"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/drift"
	"windfall/geo"
	"windfall/geo/magnetic"
	"windfall/geo/place"
)

// spotterCard says what one observer of the best set will see from where they
// stand, and when.
type spotterCard struct {
	Name string `json:"name"`
	geo.Place
	Declination *float64    `json:"declination_deg"` // east of true; null: not known
	Events      []cardEvent `json:"events"`
}

// cardEvent is an event as seen from the card's place. From and To span 90 % of
// drawn flights, all outcomes, in which it happens.
type cardEvent struct {
	Event    string     `json:"event"`
	At       float64    `json:"at_s"` // of the flight as designed
	AtSpan   [2]float64 `json:"at_s_90"`
	Bearing  float64    `json:"bearing_deg"`
	Span     [2]float64 `json:"bearing_deg_90"` // clockwise from the first to the second
	Height   float64    `json:"elevation_deg"`
	HeightSp [2]float64 `json:"elevation_deg_90"`
	Distance float64    `json:"distance_m"` // over the ground
}

const (
	cardRuns = 400 // drawn flights behind the spans of a card
	eyeM     = 1.6 // m, an observer's eye above the ground
)

// cards makes a card for each place, in order.
func cards(f *flightfile.File, m *drift.Model, stands []spotterResult, seed uint64) []spotterCard {
	nominal := m.Nominal()
	seen := make([][]sightings, len(stands))
	var w drift.Work
	var in drift.Input
	w.Record = true
	for i := range cardRuns {
		m.Draw(seed, i, &in)
		m.Fly(in, &w)
		for k := range stands {
			seen[k] = append(seen[k], look(f, stands[k], w.Path, w.Events))
		}
	}
	out := make([]spotterCard, len(stands))
	for k, s := range stands {
		out[k] = spotterCard{Name: s.Name, Place: s.Place, Events: []cardEvent{}}
		if d, err := magnetic.Declination(f.Frame.ToLonLat(geo.XY{X: s.East, Y: s.North}), f.Flight.Site.Elevation, f.Flight.When); err == nil && !f.Flight.When.IsZero() {
			out[k].Declination = &d
		}
		design := look(f, s, nominal.Path, nominal.Events)
		for _, name := range eventOrder(nominal.Events) {
			out[k].Events = append(out[k].Events, spanned(name, design[name], seen[k]))
		}
	}
	return out
}

// sighted is where an event stands as seen from a place.
type sighted struct{ t, bearing, height, distance float64 } // s, degrees, degrees, m

type sightings map[string]sighted

// eventOrder names the events worth watching for, as they come. One within a
// second of another is nothing more to see.
func eventOrder(events []drift.Event) []string {
	var out []string
	last := math.Inf(-1)
	for _, e := range events {
		n := eventName(e)
		if n == "burnout" || slices.Contains(out, n) || e.T-last < 1 && n != "landing" {
			continue
		}
		out, last = append(out, n), e.T
	}
	return out
}

func eventName(e drift.Event) string {
	if e.Name == "opening" {
		return fmt.Sprintf("opening of device %d", e.Device+1)
	}
	return e.Name
}

// look says where each event of a path stands as seen from a place.
func look(f *flightfile.File, from spotterResult, path []drift.Sample, events []drift.Event) sightings {
	at := geo.XY{X: from.East, Y: from.North}
	eye := eyeM
	if t := f.Flight.Terrain; t != nil {
		if m, ok := t.Elevation(at); ok {
			eye += m - f.Flight.Site.Elevation
		}
	}
	out := sightings{}
	for _, e := range events {
		i, _ := slices.BinarySearchFunc(path, e.T, func(s drift.Sample, t float64) int {
			if s.T < t {
				return -1
			}
			return 1
		})
		s := path[min(i, len(path)-1)]
		d := geo.XY{X: s.X, Y: s.Y}.Sub(at)
		out[eventName(e)] = sighted{e.T, d.BearingDeg(), math.Atan2(s.Z-eye, d.Norm()) * 180 / math.Pi, d.Norm()}
	}
	return out
}

// spanned is the event as designed with the spans of the drawn flights.
func spanned(name string, design sighted, seen []sightings) cardEvent {
	out := cardEvent{Event: name, At: design.t, Bearing: design.bearing, Height: design.height, Distance: design.distance}
	var t, b, h []float64
	for _, s := range seen {
		if x, ok := s[name]; ok {
			t, h = append(t, x.t), append(h, x.height)
			b = append(b, math.Remainder(x.bearing-design.bearing, 360))
		}
	}
	if len(t) == 0 {
		out.AtSpan, out.Span, out.HeightSp = [2]float64{out.At, out.At}, [2]float64{out.Bearing, out.Bearing}, [2]float64{out.Height, out.Height}
		return out
	}
	span := func(v []float64) [2]float64 {
		slices.Sort(v)
		return [2]float64{v[len(v)/20], v[len(v)-1-len(v)/20]}
	}
	out.AtSpan, out.HeightSp = span(t), span(h)
	turn := span(b)
	out.Span = [2]float64{geo.NormDeg(design.bearing + turn[0]), geo.NormDeg(design.bearing + turn[1])}
	return out
}

// up writes an elevation angle in whole degrees, never as -0.
func up(deg float64) string { return fmt.Sprintf("%.0f", math.Round(deg)+0) }

// printCards says where to stand and which way to look.
func printCards(p *printer, cs []spotterCard) {
	p.f("")
	p.f("the best set: where to look, as designed (90 %% of flights)")
	for _, c := range cs {
		var says []string
		for _, e := range c.Events {
			says = append(says, fmt.Sprintf("%s at %.0f s on %03.0f (%03.0f to %03.0f), %s deg up", e.Event, e.At, whole(e.Bearing), whole(e.Span[0]), whole(e.Span[1]), up(e.Height)))
		}
		p.f("  %s: %s", c.Name, strings.Join(says, "; "))
	}
}

//go:embed template/cards.html
var cardsText string

var cardsPage = template.Must(template.New("cards").Parse(cardsText))

// writeCards writes the cards to print, one a page half.
func writeCards(w io.Writer, f *flightfile.File, cs []spotterCard) error {
	type row struct{ Event, At, True, Compass, Up, Away string }
	type card struct {
		Name, Grid, Degrees, From, Declination string
		Rows                                   []row
	}
	data := struct {
		Flight, When string
		Cards        []card
	}{Flight: f.Flight.ID}
	if !f.Flight.When.IsZero() {
		data.When = f.Flight.When.Format("2 January 2006, 15:04 -07:00")
	}
	for _, c := range cs {
		at := f.Frame.ToLonLat(geo.XY{X: c.East, Y: c.North})
		k := card{Name: c.Name, Grid: place.Format(at, place.Local(at)), Degrees: place.Format(at, place.Decimal), From: fmt.Sprintf("%.5f,%.5f", c.Lat, c.Lon)}
		if c.Declination != nil {
			side := "east"
			if *c.Declination < 0 {
				side = "west"
			}
			k.Declination = fmt.Sprintf("%.1f deg %s", math.Abs(*c.Declination), side)
		}
		for _, e := range c.Events {
			r := row{Event: e.Event, At: fmt.Sprintf("%.0f s (%.0f to %.0f)", e.At, e.AtSpan[0], e.AtSpan[1]),
				True: fmt.Sprintf("%03.0f (%03.0f to %03.0f)", whole(e.Bearing), whole(e.Span[0]), whole(e.Span[1])),
				Up:   fmt.Sprintf("%s (%s to %s)", up(e.Height), up(e.HeightSp[0]), up(e.HeightSp[1])), Away: fmt.Sprintf("%.0f m", e.Distance)}
			if c.Declination != nil {
				r.Compass = fmt.Sprintf("%03.0f", whole(geo.NormDeg(e.Bearing-*c.Declination)))
			}
			k.Rows = append(k.Rows, r)
		}
		data.Cards = append(data.Cards, k)
	}
	return cardsPage.Execute(w, data)
}
