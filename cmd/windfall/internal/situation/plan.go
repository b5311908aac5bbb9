package situation

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"windfall/cmd/windfall/internal/usage"
	"windfall/geo/sun"
	"windfall/search"
	"windfall/search/detect"
)

// oneWalker is who searches where the flight names nobody.
var oneWalker = search.Searcher{Name: "walker", Kind: search.Walker, Speed: 3 / 3.6, Available: 90 * 60}

// Who returns who searches: the flight's own searchers, or one walker from the
// pad where it names nobody.
func (in Input) Who() []search.Searcher {
	if len(in.Searchers) == 0 {
		return []search.Searcher{oneWalker}
	}
	return in.Searchers
}

// Named returns the name of the searcher that a person means by one, in any
// case of letters.
func (in Input) Named(name string) (string, bool) {
	for _, w := range in.Who() {
		if strings.EqualFold(w.Name, strings.TrimSpace(name)) {
			return w.Name, true
		}
	}
	return name, false
}

// PlanOptions say how a plan is made. The zero value is what most want.
type PlanOptions struct {
	Seed      uint64
	Pattern   search.Pattern // "": the plan that finds soonest
	Law       detect.Law     // "": exponential
	Begin     time.Time      // zero: at ignition
	AfterDark bool           // do not end by civil dusk
	Change    *Change        // nil: none
}

// Change is what happened while a plan was carried out, after which it is made
// anew. Times in s; At counts from the plan's beginning.
type Change struct {
	At     float64
	Leaves []string           // who stops
	Late   map[string]float64 // who is behind the plan, and by how much
	Joins  []string           // who of the searchers comes only now
}

// Plan is who goes where from a state.
type Plan struct {
	*search.Plan
	State *State    // with the map and the searchers that were planned for
	Begin time.Time // of the plan's minute 0; zero: not known
}

// ErrDark says that a search would begin in the dark.
var ErrDark = errors.New("it is dark")

// MakePlan plans the search of a state. What the problem itself forbids comes
// back as the error of search; ErrDark when it is dark at the beginning.
func MakePlan(ctx context.Context, s *State, o PlanOptions) (*Plan, error) {
	out := &Plan{State: s.withSearchers(), Begin: o.Begin}
	if out.Begin.IsZero() {
		out.Begin = s.Input.Flight.When
	}
	p := problem(out.State, o.Law)
	so := search.Options{Seed: o.Seed, Pattern: o.Pattern}
	joins, err := withoutJoining(&p, o.Change)
	if err != nil {
		return nil, err
	}
	if p.Dark, err = untilDusk(s.Input, out.Begin, o.AfterDark); err != nil {
		return nil, err
	}
	if out.Plan, err = search.Make(ctx, p, so); err != nil || o.Change == nil {
		return out, err
	}
	next, err := search.Replan(ctx, p, out.Plan, search.Change{At: o.Change.At, Leaves: o.Change.Leaves,
		Late: o.Change.Late, Joins: joins})
	if err != nil {
		return nil, err
	}
	changed := *out.State
	changed.Input.Searchers, changed.Map = next.Searchers, next.Map
	out.State = &changed
	out.Begin = out.Begin.Add(time.Duration(o.Change.At * float64(time.Second)))
	if out.Plan, err = search.Make(ctx, next, so); err != nil {
		return nil, err
	}
	out.Cautions = append(out.Cautions,
		fmt.Sprintf("planned again after %.0f minutes: times count from then, chances are those left then", o.Change.At/60))
	return out, nil
}

// withSearchers is the state with somebody to search.
func (s *State) withSearchers() *State {
	if len(s.Input.Searchers) > 0 {
		return s
	}
	out := *s
	out.Input.Searchers = s.Input.Who()
	out.Input.Assumed = append(slices.Clone(s.Input.Assumed), "searchers: one walker from the pad, 3 km/h for 90 min")
	return &out
}

// problem is what is planned for.
func problem(s *State, law detect.Law) search.Problem {
	in := s.Input
	return search.Problem{
		Map: s.Map, Searchers: in.Who(), Target: in.Target, Ground: in.Ground,
		Terrain: in.Flight.Terrain, Wind: planWind(in), Law: law,
	}
}

// withoutJoining takes those who join at the change out of the problem and
// returns them.
func withoutJoining(p *search.Problem, ch *Change) (joins []search.Searcher, err error) {
	if ch == nil {
		return nil, nil
	}
	var rest []search.Searcher
	for _, w := range p.Searchers {
		if slices.Contains(ch.Joins, w.Name) {
			joins = append(joins, w)
		} else {
			rest = append(rest, w)
		}
	}
	if len(joins) < len(ch.Joins) {
		return nil, usage.Errorf("joins %q: not all are searchers of the flight file; add them there first",
			strings.Join(ch.Joins, ", "))
	}
	p.Searchers = rest
	return joins, nil
}

// untilDusk returns the seconds from the beginning to civil dusk, 0 when it
// does not limit the plan.
func untilDusk(in Input, begin time.Time, afterDark bool) (float64, error) {
	if begin.IsZero() || afterDark {
		return 0, nil
	}
	pad := in.Model.Frame().Origin
	if sun.LightAt(begin, pad) == sun.Dark {
		return 0, usage.Errorf("%w at %s", ErrDark, begin.Format("2006-01-02 15:04 MST"))
	}
	day := sun.On(begin, pad)
	if day.CivilDusk.IsZero() || !day.CivilDusk.After(begin) {
		return 0, nil
	}
	return day.CivilDusk.Sub(begin).Seconds(), nil
}
