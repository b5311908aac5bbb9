package page

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"sync"
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
	Caution       string          `json:"caution,omitempty"` // of the one that is being thought of
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
	logged, caution := in, ""
	if b.Entry == nil {
		in.Sightings = nil
	} else {
		x, err := s.draftSighting(r, f, fl, b.Entry, b.Now)
		if err != nil {
			return nil, err
		}
		if caution, err = doubtful(r.Context(), in, *x); err != nil {
			return nil, err
		}
		in.Sightings = append(slices.Clone(in.Sightings), *x)
	}
	d, err := s.weigh(r.Context(), logged, in, fmt.Sprint(v.Evidence, " ", stampsOf(f)))
	if err != nil {
		return nil, err
	}
	d.Version, d.Caution = v.Version, caution
	return d, nil
}

// doubtful says what no simulated flight comes near, or hardly; "": nothing. It
// is logged all the same.
func doubtful(ctx context.Context, in situation.Input, x evidence.Sighting) (string, error) {
	caution, err := evidence.Check(ctx, in.Model, x, evidence.Options{Seed: 1})
	var cannot *evidence.OutOfReach
	if errors.As(err, &cannot) {
		return cannot.Error(), nil
	}
	if err != nil {
		return "", flown(err)
	}
	return caution, nil
}

// draftSighting is an entry as it would be if it were logged now.
func (s *Server) draftSighting(r *http.Request, f *record.Flight, fl *field.Field, raw json.RawMessage,
	theirs time.Time) (*evidence.Sighting, error) {
	now, off := s.opt.Now(), time.Duration(0)
	if !theirs.IsZero() {
		off = theirs.Sub(now)
	}
	x, err := fl.Draft(f, field.Who{Name: s.doors.who(r).Name}, raw, off, now)
	if err != nil {
		return nil, faulty(err)
	}
	return x, nil
}

// weigh shows the map with the sightings that are logged, by key, before or
// after other: before one more, after none.
func (s *Server) weigh(ctx context.Context, logged, other situation.Input, key string) (*previewDoc, error) {
	done, err := s.enter(ctx)
	if err != nil {
		return nil, err
	}
	defer done()
	mine, err := s.crew.seen.get(key, func() (*seenDoc, error) { return seen(ctx, logged) })
	if err != nil {
		return nil, err
	}
	is, err := seen(ctx, other)
	if err != nil {
		return nil, err
	}
	before, after := mine, is
	if len(other.Sightings) == 0 {
		before, after = is, mine
	}
	d := &previewDoc{Before: before.shownDoc, Contradiction: after.contradiction, Sightings: after.sightings}
	if d.Contradiction == "" {
		d.After = &after.shownDoc
	}
	return d, nil
}

// seenDoc is a map after sightings, and what each did to it. Where they leave
// nothing together it is the map without them.
type seenDoc struct {
	shownDoc
	sightings     json.RawMessage
	contradiction string
}

// seenKept is the one of the logged sightings that was worked out last.
type seenKept struct {
	mu  sync.Mutex
	key string
	doc *seenDoc
}

func (k *seenKept) get(key string, work func() (*seenDoc, error)) (*seenDoc, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.doc != nil && k.key == key {
		return k.doc, nil
	}
	d, err := work()
	if err == nil {
		k.key, k.doc = key, d
	}
	return d, err
}

// seen works out the map after sightings.
func seen(ctx context.Context, in situation.Input) (*seenDoc, error) {
	d := &seenDoc{sightings: json.RawMessage("[]")}
	state, err := situation.Locate(ctx, in, situation.Options{Seed: 1, Divided: true})
	var c *evidence.Contradiction
	if errors.As(err, &c) {
		d.contradiction = err.Error()
		if d.sightings, err = json.Marshal(disagreeing(c)); err != nil {
			return nil, err
		}
		in.Sightings = nil
		state, err = situation.Locate(ctx, in, situation.Options{Seed: 1})
	}
	if err != nil {
		return nil, flown(err)
	}
	var sum *situation.Summary
	if d.shownDoc, sum, err = shown(state); err != nil {
		return nil, err
	}
	if sum.Sightings != nil {
		d.sightings, err = json.Marshal(sum.Sightings)
	}
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
