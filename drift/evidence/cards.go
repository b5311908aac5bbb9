package evidence

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"windfall/drift"
	"windfall/geo"
	"windfall/geo/magnetic"
)

// Card says what an observer will see from where they stand, and when.
type Card struct {
	Name string `json:"name"`
	geo.Place
	Declination *float64    `json:"declination_deg"` // east of true; null: not known
	Events      []CardEvent `json:"events"`
}

// CardEvent is an event as seen from the card's place. The pairs span 90 % of
// drawn flights, all outcomes, in which it happens.
type CardEvent struct {
	Event      string     `json:"event"`
	At         float64    `json:"at_s"` // of the flight as designed
	AtSpan     [2]float64 `json:"at_s_90"`
	Bearing    float64    `json:"bearing_deg"`
	Span       [2]float64 `json:"bearing_deg_90"` // clockwise from the first to the second
	Height     float64    `json:"elevation_deg"`  // above the level through the observer's eye
	HeightSpan [2]float64 `json:"elevation_deg_90"`
	Distance   float64    `json:"distance_m"` // over the ground
}

// CardOptions of Cards; the zero value is ready to use.
type CardOptions struct {
	Runs int // drawn flights behind the spans; 0: 400
	Seed uint64
}

const (
	cardRuns    = 400
	cardTail    = 20  // one in so many flights is beyond each end of a span
	cardBetween = 1.0 // s; an event sooner than that after another is nothing more to see
)

// Cards makes a card for each place, in order, for a standing observer. It
// returns ctx's error when it is cancelled, and one for a place beyond 60 km.
func Cards(ctx context.Context, m *drift.Model, stands []Candidate, o CardOptions) ([]Card, error) {
	fl, frame := m.Flight(), m.Frame()
	places := make([]post, len(stands))
	for k, s := range stands {
		var err error
		if places[k], err = standAt(Observer{From: &geo.Place{Lat: s.At.Lat(), Lon: s.At.Lon()}}, m); err != nil {
			return nil, err
		}
	}
	seen, err := watchAll(ctx, m, places, o)
	if err != nil {
		return nil, err
	}
	nominal := m.Nominal()
	out := make([]Card, len(stands))
	for k, s := range stands {
		c := Card{Name: s.Name, Place: frame.Place(places[k].from), Events: []CardEvent{}}
		if !fl.When.IsZero() {
			if d, err := magnetic.Declination(s.At, fl.Site.Elevation, fl.When); err == nil {
				c.Declination = &d
			}
		}
		design := places[k].look(nominal.Path, nominal.Events)
		for _, name := range worthWatching(nominal.Events) {
			c.Events = append(c.Events, spanned(name, design[name], seen[k]))
		}
		out[k] = c
	}
	return out, nil
}

// watchAll draws flights and looks at each from every place.
func watchAll(ctx context.Context, m *drift.Model, places []post, o CardOptions) ([][]view, error) {
	seen := make([][]view, len(places))
	w := drift.Work{Record: true}
	var in drift.Input
	for i := range cmp.Or(max(o.Runs, 0), cardRuns) {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		m.Draw(o.Seed, i, &in)
		m.Fly(in, &w)
		for k := range places {
			seen[k] = append(seen[k], places[k].look(w.Path, w.Events))
		}
	}
	return seen, nil
}

// view holds events by name as seen from one place.
type view map[string]seenEvent

type seenEvent struct{ t, bearing, height, distance float64 } // s, degrees, degrees, m

// look says where each event of a path stands.
func (p *post) look(path []drift.Sample, events []drift.Event) view {
	out := view{}
	for _, e := range events {
		i, _ := slices.BinarySearchFunc(path, e.T, func(s drift.Sample, t float64) int { return cmp.Compare(s.T, t) })
		s := path[min(i, len(path)-1)]
		m := moment{t: e.T, x: s.X, y: s.Y, z: s.Z}
		bearing, height := p.direction(&m)
		out[eventName(e)] = seenEvent{e.T, bearing, height, geo.XY{X: s.X, Y: s.Y}.Sub(p.from).Norm()}
	}
	return out
}

// worthWatching names the events to watch for, as they come.
func worthWatching(events []drift.Event) []string {
	var out []string
	last := math.Inf(-1)
	for _, e := range events {
		n := eventName(e)
		if n == "burnout" || slices.Contains(out, n) || e.T-last < cardBetween && n != "landing" {
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

// spanned is the event as designed with the spans of the drawn flights; where
// none has it, the spans are the design's own.
func spanned(name string, design seenEvent, seen []view) CardEvent {
	var t, turn, h []float64
	for _, s := range seen {
		if x, ok := s[name]; ok {
			t, h = append(t, x.t), append(h, x.height)
			turn = append(turn, math.Remainder(x.bearing-design.bearing, 360))
		}
	}
	if len(t) == 0 {
		t, h, turn = []float64{design.t}, []float64{design.height}, []float64{0}
	}
	b := middle(turn)
	return CardEvent{Event: name, At: design.t, Bearing: design.bearing, Height: design.height, Distance: design.distance,
		AtSpan: middle(t), HeightSpan: middle(h),
		Span: [2]float64{geo.NormDeg(design.bearing + b[0]), geo.NormDeg(design.bearing + b[1])}}
}

// middle returns the ends between which nine in ten of the values lie.
func middle(v []float64) [2]float64 {
	slices.Sort(v)
	k := len(v) / cardTail
	return [2]float64{v[k], v[len(v)-1-k]}
}
