// Package situation works out what is known of one flight and what to do next:
// the map before launch and after sightings, what is left after ground was gone
// over, who goes where next, how well a map had done once the vehicle is found,
// and what of it is shown. It is where drift and search meet.
//
// Every stage is a function of its input and its Options that returns new
// values and changes none:
//
//	Input -> Predict or Locate -> State -> Without -> State
//	State -> MakePlan -> Plan;  State -> Judge, Plan -> PlanWorth
//	State, Plan -> Summarise, Layers
//
// It knows no command line, file, clock or terminal. Metres, seconds, degrees,
// chances 0 to 1, places in metres east and north of the pad.
package situation

import (
	"context"
	"errors"

	"windfall/drift"
	"windfall/drift/evidence"
	"windfall/geo"
	"windfall/geo/chance"
	"windfall/geo/grid"
	"windfall/geo/ground"
	"windfall/geo/plane"
	"windfall/search"
	"windfall/search/detect"
)

// Input is what was read of one flight.
type Input struct {
	Flight    drift.Flight
	Model     *drift.Model   // Flight made ready
	Field     plane.Polygons // the ground we have leave to use; nil: not given
	Ground    *ground.Ground // nil: not given
	Searchers []search.Searcher
	Target    search.Target
	Sightings []evidence.Sighting // logged
	Tracks    []Track             // ground gone over without a find, logged
	Assumed   []string            // what the reader took for granted
	Cautions  []string            // what the reader warns of
	Learned   *Learned            // what finds have put into Flight; nil: nothing
	Measured  []string            // what was measured on the ground and put into Flight
}

// Learned says what finds have put into a flight.
type Learned struct {
	ID    int64    `json:"id"` // of the learning in the logbook
	Finds int      `json:"finds"`
	Used  []string `json:"used"`
}

// Track is ground gone over without a find.
type Track struct {
	By       string
	Lines    [][]geo.XY
	Searcher search.Searcher
	Law      detect.Law // by which it was reckoned; "": exponential
	Width    float64    // m, mean sweep width when it was logged

	Entry  int64          // of the logbook; 0: not said
	Looked *search.Survey // in place of lines: ground looked at in pictures
}

// passes returns the track's ways with their sweep widths.
func (t Track) passes(in Input) []search.Pass {
	return search.Passes(t.Lines, t.Searcher, in.Target, in.Ground)
}

// MeanWidth returns the track's sweep width (m), mean over its length.
func (t Track) MeanWidth(in Input) float64 {
	length, sum := 0.0, 0.0
	for _, l := range t.Lines {
		for i := 1; i < len(l); i++ {
			length += l[i].Sub(l[i-1]).Norm()
		}
	}
	for _, p := range t.passes(in) {
		sum += p.Width * p.B.Sub(p.A).Norm() / length
	}
	return sum
}

// Options of Predict and Locate. The zero value is what most want.
type Options struct {
	Runs    int // simulated flights; 0: until the ellipse is known to 1 %
	Seed    uint64
	Divided bool // the map also when the sightings contradict each other
	// Always asks for a map in any case: where the sightings leave nothing
	// together, the one without them, with a caution.
	Always   bool
	Progress func(stage string, done, total int) // nil: not shown
}

func (o Options) progress(stage string) func(done, total int) {
	if o.Progress == nil {
		return nil
	}
	return func(done, total int) { o.Progress(stage, done, total) }
}

// State is what is known of where a flight comes down. It is not changed once
// made.
type State struct {
	Input     Input
	Cloud     *drift.Cloud
	Moments   grid.Moments
	Map       *grid.Map
	Unwalked  *grid.Map           // Map before the tracks were taken out of it
	Parts     []partMap           // of shed parts
	Posterior *evidence.Posterior // nil: nothing seen
	FoundBy   float64             // chance that the tracks had to find it
	Cautions  []string
}

// partMap is where a shed part comes down, should it come off. Map is nil when
// no flight lasted until it could.
type partMap struct {
	Name    string
	Chance  float64
	Moments grid.Moments
	Map     *grid.Map
}

// Predict is the state before launch: nothing seen, nothing gone over.
func Predict(ctx context.Context, in Input, o Options) (*State, error) {
	in.Sightings, in.Tracks = nil, nil
	return Locate(ctx, in, o)
}

// Locate is the state given all sightings and tracks of the input. It returns
// an *evidence.Contradiction where the sightings leave nothing together, or
// little without o.Divided.
func Locate(ctx context.Context, in Input, o Options) (*State, error) {
	s, err := seen(ctx, in, o)
	var c *evidence.Contradiction
	if o.Always && errors.As(err, &c) {
		in.Sightings = nil
		if s, err = seen(ctx, in, o); err == nil {
			s.Cautions = append(s.Cautions,
				"the sightings contradict each other; this is the map without them: see windfall locate")
		}
	}
	if err != nil {
		return nil, err
	}
	s.Unwalked = s.Map
	if len(in.Tracks) > 0 {
		if s, _, err = s.gone(in.Tracks); err != nil {
			return nil, err
		}
	}
	return s, s.mapParts()
}

// seen is the state given the sightings alone.
func seen(ctx context.Context, in Input, o Options) (*State, error) {
	s := &State{Input: in}
	s.Input.Tracks = nil
	var err error
	if len(in.Sightings) == 0 {
		s.Cloud, err = in.Model.Run(ctx, drift.Options{Runs: o.Runs, Seed: o.Seed, Progress: o.progress("flying")})
	} else {
		s.Posterior, err = evidence.Locate(ctx, in.Model, in.Sightings, evidence.Options{
			Runs: o.Runs, Seed: o.Seed, Divided: o.Divided || o.Always, Progress: o.progress("weighing")})
	}
	if err != nil {
		return nil, err
	}
	if s.Posterior != nil {
		s.Cloud = s.Posterior.Cloud
	}
	s.Moments, s.Map, err = mapOf(s.Cloud.Frame, points(s.Cloud), s.Cloud.Weights)
	return s, err
}

// mapOf measures weighted points and makes their map; nil weights: equal.
func mapOf(f geo.Frame, at []geo.XY, weights []float64) (grid.Moments, *grid.Map, error) {
	mom, err := grid.Measure(at, weights)
	if err != nil {
		return mom, nil, err
	}
	m, err := grid.From(f, at, weights, grid.Options{})
	return mom, m, err
}

func points(c *drift.Cloud) []geo.XY {
	at, _ := c.Points(nil)
	return at
}

// mapParts makes the maps of shed parts.
func (s *State) mapParts() error {
	for _, p := range s.Cloud.Parts {
		pm := partMap{Name: p.Name, Chance: p.Chance}
		if len(p.Landings) > 0 {
			at, weights := s.Cloud.PartPoints(p)
			var err error
			if pm.Moments, pm.Map, err = mapOf(s.Cloud.Frame, at, weights); err != nil {
				return err
			}
		}
		s.Parts = append(s.Parts, pm)
	}
	return nil
}

// counted is the cloud as chances are counted in it.
func (s *State) counted() chance.Cloud {
	c := chance.Cloud{At: points(s.Cloud), Weights: s.Cloud.Weights, Outcome: make([]int, len(s.Cloud.Landings))}
	for i, l := range s.Cloud.Landings {
		c.Outcome[i] = l.Outcome
	}
	for _, o := range s.Cloud.Outcomes {
		c.Names = append(c.Names, o.Name)
	}
	return c
}
