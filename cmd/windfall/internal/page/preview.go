package page

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"strconv"
	"time"

	"github.com/paulmach/orb"

	"windfall/cmd/windfall/internal/field"
	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/situation"
	"windfall/drift/evidence"
	"windfall/geo"
)

// previewDoc is the map before and after a sighting.
type previewDoc struct {
	Version       int64           `json:"version"`
	Before        shownDoc        `json:"before"`
	After         *shownDoc       `json:"after"`
	Contradiction string          `json:"contradiction,omitempty"`
	Sightings     json.RawMessage `json:"sightings"`
}

// preview shows what the sightings have done to the map, or what one more would
// do.
func (s *Server) preview(r *http.Request) (any, error) {
	var b struct {
		Now   time.Time       `json:"now"`
		Entry json.RawMessage `json:"entry"`
	}
	if err := readJSON(r, &b); err != nil {
		return nil, err
	}
	f, fl, err := s.fieldNow()
	if err != nil {
		return nil, err
	}
	v, err := fl.View()
	if err != nil {
		return nil, err
	}
	flight, err := s.logged(f)
	if err != nil {
		return nil, err
	}
	in := flight.Input
	in.Tracks = nil
	before, now := in, s.opt.Now()
	if b.Entry == nil {
		before.Sightings = nil
	} else {
		off := time.Duration(0)
		if !b.Now.IsZero() {
			off = b.Now.Sub(now)
		}
		x, err := fl.Draft(f, field.Who{Name: s.doors.who(r).Name}, b.Entry, off, now)
		if err != nil {
			return nil, faulty(err)
		}
		in.Sightings = append(append([]evidence.Sighting{}, in.Sightings...), *x)
	}
	d, err := s.weigh(r.Context(), before, in)
	if err != nil {
		return nil, err
	}
	d.Version = v.Version
	return d, nil
}

// weigh shows the map before and after.
func (s *Server) weigh(ctx context.Context, before, after situation.Input) (*previewDoc, error) {
	done, err := s.enter(ctx)
	if err != nil {
		return nil, err
	}
	defer done()
	d := &previewDoc{Sightings: json.RawMessage("[]")}
	was, err := situation.Locate(ctx, before, situation.Options{Seed: 1, Always: true})
	if err != nil {
		return nil, flown(err)
	}
	if d.Before, _, err = shown(was); err != nil {
		return nil, err
	}
	if len(after.Sightings) == 0 {
		d.After = &d.Before
		return d, nil
	}
	is, err := situation.Locate(ctx, after, situation.Options{Seed: 1, Divided: true})
	var c *evidence.Contradiction
	if errors.As(err, &c) {
		d.Contradiction = err.Error()
		d.Sightings, err = json.Marshal(disagreeing(c))
		return d, err
	}
	if err != nil {
		return nil, flown(err)
	}
	sum, err := situation.Summarise(is, situation.SummaryOptions{})
	if err != nil {
		return nil, err
	}
	if sum.Sightings != nil {
		if d.Sightings, err = json.Marshal(sum.Sightings); err != nil {
			return nil, err
		}
	}
	x, _, err := shown(is)
	d.After = &x
	return d, err
}

// atOdds is a sighting of those that leave nothing together.
type atOdds struct {
	ID        int64  `json:"id"`
	By        string `json:"by"`
	What      string `json:"what"`
	Disagrees bool   `json:"disagrees"`
}

func disagreeing(c *evidence.Contradiction) []atOdds {
	out := []atOdds{}
	for _, x := range c.Sightings {
		is := func(y *evidence.Sighting) bool { return y != nil && y.ID == x.ID && y.String() == x.String() }
		out = append(out, atOdds{x.ID, x.By, x.String(), (is(c.A) || is(c.B)) && !is(c.Better)})
	}
	return out
}

// getCards answers what to expect where and when, for those who watch.
func (s *Server) getCards(r *http.Request) (any, error) {
	f, _, err := s.fieldNow()
	if err != nil {
		return nil, err
	}
	stands := standsOf(f)
	q := r.URL.Query()
	if q.Has("lat") || q.Has("lon") {
		lat, err1 := strconv.ParseFloat(q.Get("lat"), 64)
		lon, err2 := strconv.ParseFloat(q.Get("lon"), 64)
		if err1 != nil || err2 != nil || !(lat >= -90 && lat <= 90 && lon >= -180 && lon <= 180) {
			return nil, refuse(http.StatusBadRequest, "lat %q, lon %q is no place; write degrees", clipped(q.Get("lat"), 20),
				clipped(q.Get("lon"), 20))
		}
		stands = []evidence.Candidate{{Name: "where you stand", At: orb.Point{lon, lat}}}
	}
	done, err := s.enter(r.Context())
	if err != nil {
		return nil, err
	}
	defer done()
	cards, err := evidence.Cards(r.Context(), f.Input.Model, stands, evidence.CardOptions{Seed: 1})
	if err != nil {
		return nil, flown(err)
	}
	return map[string]any{"cards": cards}, nil
}

const mostStands = 12

// standsOf are the pad and the places that are drawn on the ground, where people
// may stand.
func standsOf(f *record.Flight) []evidence.Candidate {
	out := []evidence.Candidate{{Name: "pad", At: f.File.Frame.Origin}}
	if f.Input.Ground == nil {
		return out
	}
	for _, p := range f.Input.Ground.Places {
		if b := p.Area.Bound(); len(out) < mostStands {
			mid := geo.XY{X: (b.Min.X + b.Max.X) / 2, Y: (b.Min.Y + b.Max.Y) / 2}
			out = append(out, evidence.Candidate{Name: p.Name, At: f.File.Frame.ToLonLat(mid)})
		}
	}
	return out
}
