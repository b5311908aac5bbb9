package evidence

import (
	"context"
	"fmt"
	"math"

	"windfall/drift"
	"windfall/drift/internal/stream"
)

const (
	checkRuns  = 300 // of each outcome
	checkReach = 2.0 // their inputs' spread, in the model's own
	checkSDs   = 4.0 // how far outside them a sighting is impossible
)

// OutOfReach is the error of a sighting that no flight of the model comes near.
type OutOfReach struct{ what string }

func (e *OutOfReach) Error() string { return e.what }

func outOfReach(format string, args ...any) error {
	return &OutOfReach{fmt.Sprintf(format, args...)}
}

// extremes is what the flights of a model reach, seen by one sighting.
type extremes struct {
	earliest, latest float64 // of the sighting's event, s
	landing          float64 // latest landing, s
	highest          float64 // at the event, m
	steepest         float64 // elevation angle from the observer, degrees
	closest          float64 // of the bearing to what was seen, degrees
}

// checked is a law whose sightings Check can hold against the extremes.
type checked interface {
	widen(e *extremes, l *drift.Landing, w *drift.Work) // by one flight
	judge(e *extremes) (caution string, err error)      // what of the sighting they rule out
}

// Check holds one sighting against flights of the model whose inputs spread
// twice as widely as they do, every outcome as often as any other. What none of
// them comes near (an elevation angle above all of them, a time after the last
// landing) is an *OutOfReach that says what they reach; what only lies aside gives a
// caution.
func Check(ctx context.Context, m *drift.Model, s Sighting, o Options) (caution string, err error) {
	return check(ctx, m, s, o)
}

func check(ctx context.Context, m model, s Sighting, o Options) (string, error) {
	t, err := ready(s, m)
	if err != nil {
		return "", err
	}
	c, ok := t.law.(checked)
	if !ok {
		return "", nil
	}
	e := &extremes{earliest: math.Inf(1), latest: math.Inf(-1), closest: math.Inf(1), highest: math.Inf(-1),
		steepest: math.Inf(-1)}
	w := &drift.Work{Record: true}
	z := make([]float64, len(m.Coords()))
	for k := range m.Outcomes() {
		for i := range checkRuns {
			if err := ctx.Err(); err != nil {
				return "", err
			}
			rng := stream.Extremes.New(o.Seed, uint64(k)<<32|uint64(i))
			for j := range z {
				z[j] = checkReach * rng.NormFloat64()
			}
			l := m.Fly(drift.Input{Outcome: k, Z: z}, w)
			e.landing = math.Max(e.landing, l.LandingS)
			c.widen(e, &l, w)
		}
	}
	return c.judge(e)
}

// clock widens the times of the sighting's event; it is false where that never came.
func (e *extremes) clock(c *clock, l *drift.Landing, w *drift.Work) bool {
	if c.Event == "" {
		return true
	}
	v := c.seconds(l, w)
	if math.IsNaN(v) {
		return false
	}
	e.earliest, e.latest = math.Min(e.earliest, v), math.Max(e.latest, v)
	return true
}

// judge says which times of a sighting the extremes rule out.
func (c *clock) judge(e *extremes) error {
	slack := checkSDs * c.TimeSD
	late := func(v *float64) bool { return c.Event == "" && c.Since == "" && v != nil && *v > e.landing+slack }
	switch {
	case c.Event != "" && math.IsInf(e.latest, -1):
		return outOfReach("event %q never comes in any simulated flight of this file: log another event, or look at the "+
			"motor's delay and the devices", c.Event)
	case c.Event != "" && c.At != nil && (*c.At > e.latest+slack || *c.At < e.earliest-slack):
		return outOfReach("%s at %.4g s: in simulated flights it comes between %.4g and %.4g s: check the time", c.Event,
			*c.At, e.earliest, e.latest)
	case late(c.At):
		return outOfReach("at %.4g s is after the landing: the latest simulated flight lands at %.4g s: check the time",
			*c.At, e.landing)
	case late(c.After):
		return outOfReach("after %.4g s is after the landing: the latest simulated flight lands at %.4g s: check the "+
			"time", *c.After, e.landing)
	}
	return nil
}
