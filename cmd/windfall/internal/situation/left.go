package situation

import (
	"context"
	"errors"
	"math"
	"slices"

	"windfall/drift"
	"windfall/geo"
	"windfall/geo/grid"
	"windfall/search"
	"windfall/search/detect"
)

// Without is the state had the tracks, too, been gone over without a find, and
// the chance they had to find it. The map and the weight of every run fall by
// the chance that the tracks missed it, so that the outcomes change with it.
func Without(s *State, tracks ...Track) (after *State, pos float64, err error) {
	after, pos, err = s.gone(tracks)
	if err != nil {
		return nil, 0, err
	}
	return after, pos, after.mapParts()
}

// gone is Without, but for the maps of parts.
func (s *State) gone(tracks []Track) (*State, float64, error) {
	out := *s
	out.Parts = nil
	out.Input.Tracks = slices.Concat(s.Input.Tracks, tracks)
	pos := 0.0
	for _, g := range byLaw(s.Input, tracks) {
		m, found, err := search.Searched(out.Map, g.law, g.passes)
		if err != nil {
			return nil, 0, err
		}
		out.Map = m
		pos += (1 - pos) * found
	}
	if v := looked(tracks); len(v.Areas) > 0 {
		m, found, err := search.LookedAt(out.Map, v)
		if err != nil {
			return nil, 0, err
		}
		out.Map = m
		pos += (1 - pos) * found
	}
	here := s.Input
	here.Tracks = tracks
	missed := Missed(here)
	out.FoundBy = s.FoundBy + (1-s.FoundBy)*pos
	cloud, err := weighed(s.Cloud, missed)
	if err != nil {
		return nil, 0, err
	}
	out.Cloud = cloud
	out.Moments, err = grid.Measure(points(cloud), cloud.Weights)
	return &out, pos, err
}

// Missed is the chance that all the tracks of an input missed what lies at a place.
func Missed(in Input) func(geo.XY) float64 {
	missed := func(geo.XY) float64 { return 1 }
	for _, g := range byLaw(in, in.Tracks) {
		before, here := missed, search.Missed(g.law, g.passes)
		missed = func(q geo.XY) float64 { return before(q) * here(q) }
	}
	if v := looked(in.Tracks); len(v.Areas) > 0 {
		before, unseen := missed, v.Unseen()
		missed = func(q geo.XY) float64 { return before(q) * unseen(q) }
	}
	return missed
}

// looked is the ground that all tracks looked at in pictures, as one: pictures
// of one place fail together.
func looked(tracks []Track) (v search.Survey) {
	for _, t := range tracks {
		if t.Looked != nil {
			v.Areas = append(v.Areas, t.Looked.Areas...)
			v.Open = append(v.Open, t.Looked.Open...)
		}
	}
	return v
}

// reckoned is passes whose detection follows one law.
type reckoned struct {
	law    detect.Law
	passes []search.Pass
}

// byLaw gathers the passes of tracks by their laws, in the order of the tracks.
func byLaw(in Input, tracks []Track) []reckoned {
	var out []reckoned
	for _, t := range tracks {
		law := t.Law
		if law == "" {
			law = detect.Exponential
		}
		k := slices.IndexFunc(out, func(g reckoned) bool { return g.law == law })
		if k < 0 {
			k, out = len(out), append(out, reckoned{law: law})
		}
		out[k].passes = append(out[k].passes, t.passes(in)...)
	}
	return slices.DeleteFunc(out, func(g reckoned) bool { return len(g.passes) == 0 })
}

var errAllGone = errors.New("the tracks rule out every simulated flight; check the sweep widths and what was logged")

// weighed is the cloud with every run's weight times its chance to have been
// missed, scaled to sum 1.
func weighed(c *drift.Cloud, missed func(geo.XY) float64) (*drift.Cloud, error) {
	out := *c
	out.Weights = make([]float64, len(c.Landings))
	total := 0.0
	for i, l := range c.Landings {
		out.Weights[i] = c.Weight(i) * missed(l.At)
		total += out.Weights[i]
	}
	if total <= 0 {
		return nil, errAllGone
	}
	for i := range out.Weights {
		out.Weights[i] /= total
	}
	return &out, nil
}

// Left says what a track changed and what is left.
type Left struct {
	POS        float64       `json:"probability_of_success"` // of this track, on the map before it
	POSTotal   float64       `json:"probability_of_success_total"`
	Outside    float64       `json:"outside_map"` // odds that it is outside altogether
	WasOutside float64       `json:"outside_map_before"`
	Moved      float64       `json:"mean_moved_m"`
	Landing    landing       `json:"landing"`
	Outcomes   []leftOutcome `json:"outcomes"`
	NextHour   *nextHour     `json:"next_hour"` // null: not planned, or none can be
	Advice     string        `json:"advice"`
}

type leftOutcome struct {
	Name        string  `json:"name"`
	Probability float64 `json:"probability"`
	Was         float64 `json:"was"`
}

// nextHour is what another hour of the flight's searchers would buy.
type nextHour struct {
	POS        float64 `json:"probability_of_success"`
	UpperBound float64 `json:"upper_bound"`
}

// LeftAfter compares the states before and after a track whose chance to find
// it was pos, and plans another hour by the law and seed of o. What cannot be
// planned is said in the advice; the error is that of ctx alone.
func LeftAfter(ctx context.Context, before, after *State, pos float64, o PlanOptions) (*Left, error) {
	l := Changed(before, after, pos)
	p := problem(after, o.Law)
	p.Searchers = slices.Clone(p.Searchers)
	for i := range p.Searchers {
		p.Searchers[i].Available, p.Searchers[i].Joins = 3600, 0
	}
	plan, err := search.Make(ctx, p, search.Options{Seed: o.Seed, Quick: true})
	switch {
	case err == nil:
		l.NextHour = &nextHour{plan.POS, plan.UpperBound}
	case ctx.Err() != nil:
		return nil, ctx.Err()
	}
	l.Advice = advice(l)
	return l, nil
}

// Changed is LeftAfter without a plan and advice: what is known changes again
// when the candidates of pictures are judged.
func Changed(before, after *State, pos float64) *Left {
	l := &Left{
		POS: pos, POSTotal: after.FoundBy, Outside: after.Map.Outside, WasOutside: before.Map.Outside,
		Moved:   after.Moments.Mean.Sub(before.Moments.Mean).Norm(),
		Landing: after.Landing(),
	}
	now, was := outcomeChances(after.Cloud), outcomeChances(before.Cloud)
	for k, out := range after.Cloud.Outcomes {
		l.Outcomes = append(l.Outcomes, leftOutcome{out.Name, now[k], was[k]})
	}
	return l
}

// Bounds of the advice to stop: choices of ours, no source.
const (
	littleHour  = 0.05 // POS of another hour under which it buys next to nothing
	muchOutside = 0.5  // odds that the map itself is wrong
	littleTrack = 0.01 // POS of a track under which it went to no likely ground
)

// advice says whether going on makes sense.
func advice(l *Left) string {
	switch {
	case l.Outside >= muchOutside:
		return "it is more likely outside the map than in it: stop, and think again about what was seen and assumed"
	case l.NextHour == nil:
		return "no plan can be made for another hour: see windfall search"
	case l.NextHour.POS < littleHour:
		return "another hour buys next to nothing: stopping is reasonable"
	case l.POS < littleTrack:
		return "this track went where it hardly lies; going on is worth while where a plan leads: windfall search makes one"
	}
	return "going on is worth while: windfall search plans it from here"
}

// outcomeChances returns the chance of each outcome in a cloud.
func outcomeChances(c *drift.Cloud) []float64 {
	out := make([]float64, len(c.Outcomes))
	total := 0.0
	for i, l := range c.Landings {
		w := c.Weight(i)
		out[l.Outcome] += w
		total += w
	}
	for k := range out {
		out[k] /= total
	}
	return out
}

// planWind is the wind speed that drones meet, m/s: the greatest of the
// profiles at the drones' heights.
func planWind(in Input) float64 {
	speed := 0.0
	for _, who := range in.Searchers {
		for _, w := range in.Flight.Wind {
			if who.Height > 0 {
				u, v := w.Profile.At(who.Height)
				speed = max(speed, math.Hypot(u, v))
			}
		}
	}
	return speed
}
