package evidence

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"windfall/drift"
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
	if err != nil || s.Kind == NothingIn || s.Kind == PartFound || s.Kind == Looks {
		return "", err
	}
	e := extremes{earliest: math.Inf(1), latest: math.Inf(-1), closest: math.Inf(1), highest: math.Inf(-1), steepest: math.Inf(-1)}
	w := &drift.Work{Record: true}
	z := make([]float64, len(m.Coords()))
	for k := range m.Outcomes() {
		for i := range checkRuns {
			if err := ctx.Err(); err != nil {
				return "", err
			}
			rng := rand.New(rand.NewPCG(splitmix(o.Seed^0xc4ec), uint64(k)<<32|uint64(i)))
			for j := range z {
				z[j] = checkReach * rng.NormFloat64()
			}
			l := m.Fly(drift.Input{Outcome: k, Z: z}, w)
			e.take(t, &l, w)
		}
	}
	return t.judge(e)
}

// take widens the extremes by one flight.
func (e *extremes) take(t *term, l *drift.Landing, w *drift.Work) {
	e.landing = math.Max(e.landing, l.LandingS)
	if t.Event != "" {
		v := t.seconds(l, w)
		if math.IsNaN(v) {
			return
		}
		e.earliest, e.latest = math.Min(e.earliest, v), math.Max(e.latest, v)
	}
	if t.Kind == Height {
		when := math.Min(t.when(l, w), l.LandingS)
		e.highest = math.Max(e.highest, at(w.Path, when).z)
		if t.Event == "apogee" {
			e.highest = math.Max(e.highest, l.ApogeeM)
		}
	}
	if t.Kind != Bearing {
		return
	}
	for i := range w.Path {
		p := &w.Path[i]
		dx, dy := p.X-t.from.X, p.Y-t.from.Y
		r := math.Hypot(dx, dy)
		e.steepest = math.Max(e.steepest, math.Atan2(p.Z-t.eye, r)*180/math.Pi)
		b := math.Atan2(dx*t.cos-dy*t.sin, dx*t.sin+dy*t.cos) * 180 / math.Pi
		e.closest = math.Min(e.closest, math.Abs(wrapDeg(b-*t.BearingDeg)))
	}
}

// judge says what of the sighting the extremes rule out.
func (t *term) judge(e extremes) (caution string, err error) {
	slack := checkSDs * t.TimeSD
	if t.Event != "" && math.IsInf(e.latest, -1) {
		return "", outOfReach("event %q never comes in any simulated flight of this file: log another event, or look at the motor's delay and the devices", t.Event)
	}
	switch {
	case t.Event != "" && t.At != nil && (*t.At > e.latest+slack || *t.At < e.earliest-slack):
		return "", outOfReach("%s at %.4g s: in simulated flights it comes between %.4g and %.4g s: check the time", t.Event, *t.At, e.earliest, e.latest)
	case t.Event != "" && t.After != nil && t.Kind == Timing && *t.After > e.latest+slack:
		return "", outOfReach("%s after %.4g s: in simulated flights it comes by %.4g s: check the time", t.Event, *t.After, e.latest)
	case t.Event != "" && t.Before != nil && t.Kind == Timing && *t.Before < e.earliest-slack:
		return "", outOfReach("%s before %.4g s: in simulated flights it comes from %.4g s on: check the time", t.Event, *t.Before, e.earliest)
	case t.Event == "" && t.Since == "" && t.At != nil && *t.At > e.landing+slack:
		return "", outOfReach("at %.4g s is after the landing: the latest simulated flight lands at %.4g s: check the time", *t.At, e.landing)
	case t.Event == "" && t.Since == "" && t.After != nil && *t.After > e.landing+slack:
		return "", outOfReach("after %.4g s is after the landing: the latest simulated flight lands at %.4g s: check the time", *t.After, e.landing)
	case t.Kind == Height && *t.HeightM > e.highest+checkSDs*t.HeightSD:
		return "", outOfReach("height %.4g m: the highest simulated flight is at %.4g m then: check it (is it feet?)", *t.HeightM, e.highest)
	case t.ElevDeg != nil && *t.ElevDeg > e.steepest+checkSDs*t.ElevSD:
		return "", outOfReach("elevation %.3g deg: from there no simulated flight stands higher than %.3g deg: check the angle and the place", *t.ElevDeg, e.steepest)
	case t.Kind == Bearing && e.closest > checkSDs*t.BearingSD:
		return fmt.Sprintf("bearing %.4g deg from there points %.0f deg aside of every simulated flight; it will count as a mistake unless other sightings agree with it", *t.BearingDeg, e.closest), nil
	}
	return "", nil
}
