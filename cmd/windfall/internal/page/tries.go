package page

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"math"
	"net/http"
	"slices"
	"strconv"
	"sync"
	"time"

	"github.com/paulmach/orb"

	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/situation"
	"windfall/geo"
	"windfall/geo/chance"
	"windfall/geo/magnetic"
	"windfall/geo/mapfile"
	"windfall/geo/place"
)

// tries are the landing maps made of late, for questions about points of them.
type tries struct {
	mu   sync.Mutex
	next int
	kept []madeTry // the newest last
}

type madeTry struct {
	id    string
	state *situation.State
}

const keptTries = 12 // of a few MB each: two for each of a few windows

func (t *tries) keep(s *situation.State) string {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.next++
	id := strconv.Itoa(t.next)
	t.kept = append(t.kept, madeTry{id, s})
	if len(t.kept) > keptTries {
		t.kept = slices.Delete(t.kept, 0, 1)
	}
	return id
}

func (t *tries) state(id string) *situation.State {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, m := range t.kept {
		if m.id == id {
			return m.state
		}
	}
	return nil
}

// tryBody asks for the landing of a draft.
type tryBody struct {
	draftBody
	Runs int    `json:"runs"` // 0: as many as predict flies
	Seed uint64 `json:"seed"` // 0: 1, the commands' own
}

// mostRuns is what one answer may fly; more are for the command line.
const mostRuns = 200_000

// tryDoc is the landing of a draft. Result is the document of predict --json,
// without files.
type tryDoc struct {
	ID          string             `json:"id"`
	Result      *situation.Summary `json:"result"`
	Shapes      json.RawMessage    `json:"shapes"`
	Sinks       []sink             `json:"sinks"`
	Wind        []curve            `json:"wind"`
	Hours       []time.Time        `json:"hours"`
	Rail        railDoc            `json:"rail"`
	Pad         latLon             `json:"pad"`
	Declination *float64           `json:"declination_deg"`
	Warnings    []string           `json:"warnings"`
}

type railDoc struct {
	Lean   float64 `json:"lean_deg"`
	Toward float64 `json:"toward_deg"`
}

// sink is how fast the nominal flight sinks when it reaches the ground.
type sink struct {
	Name string  `json:"name"`
	Mps  float64 `json:"mps"`
}

func (s *Server) postTry(r *http.Request) (any, error) {
	var b tryBody
	if err := readJSON(r, &b); err != nil {
		return nil, err
	}
	if b.Runs != 0 && (b.Runs < 100 || b.Runs > mostRuns) {
		return nil, refuse(
			http.StatusBadRequest,
			"runs %d is out of range; write 100 to %d, or 0 for as many as predict flies",
			b.Runs,
			mostRuns,
		)
	}
	d, err := s.draft(b.draftBody)
	if err != nil {
		return nil, err
	}
	f, err := s.read(d)
	if err != nil {
		return nil, err
	}
	done, err := s.enter(r.Context())
	if err != nil {
		return nil, err
	}
	defer done()
	state, err := situation.Predict(r.Context(), f.Input, situation.Options{Runs: b.Runs, Seed: orOne(b.Seed)})
	if err != nil {
		return nil, flown(err)
	}
	return s.tryDoc(f, state)
}

func orOne(seed uint64) uint64 {
	if seed == 0 {
		return 1
	}
	return seed
}

// enter waits for one of the few places for work that takes all cores.
func (s *Server) enter(ctx context.Context) (done func(), err error) {
	select {
	case s.heavy <- struct{}{}:
		return func() { <-s.heavy }, nil
	case <-ctx.Done():
		return nil, flown(ctx.Err())
	case <-s.stopping.Done():
		return nil, refuse(http.StatusServiceUnavailable, "the program is stopping")
	}
}

// flown gives an error of a flight its status.
func flown(err error) error {
	if errors.Is(err, context.Canceled) {
		return refuse(499, "cancelled") // nobody waits for it
	}
	return faulty(err)
}

func (s *Server) tryDoc(f *record.Flight, state *situation.State) (*tryDoc, error) {
	sum, err := situation.Summarise(state, situation.SummaryOptions{BeforeLaunch: true})
	if err != nil {
		return nil, err
	}
	var shapes bytes.Buffer
	if err := mapfile.GeoJSON(&shapes, situation.Layers(state, sum)); err != nil {
		return nil, err
	}
	fl, origin := f.Input.Model.Flight(), f.File.Frame.Origin
	doc := &tryDoc{
		ID:     s.tries.keep(state),
		Result: sum,
		Shapes: shapes.Bytes(),
		Sinks:  sinksOf(f),
		Wind:   curvesOf(f),
		Hours:  f.File.Hours,
		Rail: railDoc{
			fl.Rail.LeanDeg,
			fl.Rail.TowardDeg,
		},
		Pad:      latLon{origin.Lat(), origin.Lon()},
		Warnings: append([]string{}, f.File.Warnings...),
	}
	if doc.Hours == nil {
		doc.Hours = []time.Time{}
	}
	if !fl.When.IsZero() {
		if dec, err := magnetic.Declination(origin, fl.Site.Elevation, fl.When); err == nil {
			doc.Declination = &dec
		}
	}
	return doc, nil
}

// sinksOf returns how fast the nominal flight sinks at the ground.
func sinksOf(f *record.Flight) []sink {
	path := f.Input.Model.Nominal().Path
	if len(path) == 0 {
		return []sink{}
	}
	name := "nothing"
	if devices := f.Input.Flight.Recovery; len(devices) > 0 {
		name = "the " + devices[len(devices)-1].Kind
	}
	return []sink{{name, math.Round(100*math.Max(0, -path[len(path)-1].VZ)) / 100}}
}

// curve is a wind by height.
type curve struct {
	Weight float64 `json:"weight"`
	Label  string  `json:"label"`
	Points []gust  `json:"points"`
}

type gust struct {
	Height float64 `json:"height_m"`
	U      float64 `json:"u_mps"` // toward east
	V      float64 `json:"v_mps"` // toward north
}

const (
	curvePoints = 33
	mostCurves  = 12 // of an ensemble; more are a blur
)

// curvesOf returns the winds of a flight up to above its apogee.
func curvesOf(f *record.Flight) []curve {
	m := f.Input.Model
	top := math.Max(100, 1.15*m.Nominal().ApogeeM)
	out := []curve{}
	for _, c := range m.Flight().Wind {
		if len(out) == mostCurves {
			break
		}
		k := curve{Weight: c.Weight, Label: c.Label}
		for i := range curvePoints {
			// Closer near the ground, where the wind changes most.
			z := math.Max(2, top*math.Pow(float64(i)/(curvePoints-1), 1.6))
			u, v := c.Profile.At(z)
			k.Points = append(k.Points, gust{z, u, v})
		}
		out = append(out, k)
	}
	return out
}

// pointDoc is what is known of a point of a try's map.
type pointDoc struct {
	Lat         float64 `json:"lat"`
	Lon         float64 `json:"lon"`
	East        float64 `json:"east_m"`
	North       float64 `json:"north_m"`
	Grid        string  `json:"grid"`
	Degrees     string  `json:"degrees"`
	Distance    float64 `json:"distance_m"`
	Bearing     float64 `json:"bearing_deg"`
	Probability float64 `json:"probability"` // of coming down within 50 m
	SE          float64 `json:"se"`
	Level       float64 `json:"level"` // of the area whose edge passes through it
}

const nearBy = 50.0 // m: a walk of a minute round a marked point; our choice

func (s *Server) getPoint(r *http.Request) (any, error) {
	state := s.tries.state(r.PathValue("id"))
	if state == nil {
		return nil, refuse(http.StatusNotFound, "this map is no longer kept; change something, or load the page again")
	}
	lat, err1 := strconv.ParseFloat(r.URL.Query().Get("lat"), 64)
	lon, err2 := strconv.ParseFloat(r.URL.Query().Get("lon"), 64)
	if err1 != nil || err2 != nil || !(math.Abs(lat) <= 90) || !(math.Abs(lon) <= 540) {
		return nil, refuse(
			http.StatusBadRequest,
			"lat=%q and lon=%q are no place; write degrees",
			clipped(r.URL.Query().Get("lat"), 40),
			clipped(r.URL.Query().Get("lon"), 40),
		)
	}
	return pointOf(state, orb.Point{math.Remainder(lon, 360), lat}), nil
}

func pointOf(s *situation.State, p orb.Point) pointDoc {
	f := s.Map.Frame
	q := f.ToXY(p)
	at := make([]geo.XY, len(s.Cloud.Landings))
	for i := range at {
		at[i] = s.Cloud.Landings[i].At
	}
	c := chance.Cloud{At: at, Weights: s.Cloud.Weights}
	near := c.Event("near", "", func(i int) bool { return at[i].Sub(q).Norm() <= nearBy })
	return pointDoc{
		Lat:         p.Lat(),
		Lon:         p.Lon(),
		East:        q.X,
		North:       q.Y,
		Grid:        place.Format(p, place.Local(f.Origin)),
		Degrees:     place.Format(p, place.Decimal),
		Distance:    q.Norm(),
		Bearing:     q.BearingDeg(),
		Probability: near.Probability,
		SE:          near.SE,
		Level:       s.Map.LevelAt(q),
	}
}
