package situation

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/json"
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
	Blocks    int            // most blocks of a walker; 0: three
	Abreast   bool           // walkers go in pairs, side by side
	Kept      *Kept          // a plan made before, taken when it is of the same inputs; nil: none
	OnlyKept  bool           // never plan: ErrNotKept when Kept is none or of other inputs
	Progress  func(stage string, done, total int)
}

// Kept is a plan with the key of its inputs, to be put away and used again.
// First is the plan before a change; nil without one.
type Kept struct {
	Key      string       `json:"key"`
	Plan     *search.Plan `json:"plan"`
	Cautions []string     `json:"cautions"`
	First    *search.Plan `json:"first,omitempty"`
	Begin    time.Time    `json:"begin,omitzero"` // of minute 0; zero: not known
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
	Kept  Kept
	Again bool // taken from what was kept
}

// ErrNotKept says that the plan was not made before.
var ErrNotKept = errors.New("the plan has not been made")

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
	so := search.Options{Seed: o.Seed, Pattern: o.Pattern, Blocks: o.Blocks, Abreast: o.Abreast, Progress: o.progress()}
	joins, err := withoutJoining(&p, o.Change)
	if err != nil {
		return nil, err
	}
	if p.Dark, err = untilDusk(s.Input, out.Begin, o.AfterDark); err != nil {
		return nil, err
	}
	if out.Kept.Key, err = key(p, so, o.Change, joins); err != nil {
		return nil, err
	}
	if out.Again = o.Kept != nil && o.Kept.Key == out.Kept.Key; out.Again {
		out.Kept = *o.Kept
		out.Kept.Plan.Cautions = out.Kept.Cautions
	} else if o.OnlyKept {
		return nil, ErrNotKept
	}
	first := cmp.Or(out.Kept.First, out.Kept.Plan)
	if first == nil {
		if first, err = search.Make(ctx, p, so); err != nil {
			return out, err
		}
	}
	if out.Plan = first; o.Change == nil {
		out.keep(nil)
		return out, nil
	}
	return out, out.change(ctx, p, so, search.Change{At: o.Change.At, Leaves: o.Change.Leaves, Late: o.Change.Late,
		Joins: joins})
}

// change makes the plan anew after a change.
func (p *Plan) change(ctx context.Context, was search.Problem, o search.Options, ch search.Change) error {
	first := p.Plan
	next, err := search.Replan(ctx, was, first, ch)
	if err != nil {
		return err
	}
	changed := *p.State
	changed.Input.Searchers, changed.Map = next.Searchers, next.Map
	p.State = &changed
	p.Begin = p.Begin.Add(time.Duration(ch.At * float64(time.Second)))
	if p.Again {
		p.Plan = p.Kept.Plan
		return nil
	}
	if p.Plan, err = search.Make(ctx, next, o); err != nil {
		return err
	}
	p.Cautions = append(p.Cautions,
		fmt.Sprintf("planned again after %.0f minutes: times count from then, chances are those left then", ch.At/60))
	p.keep(first)
	return nil
}

// keep notes the plan, and the one before a change, to be put away.
func (p *Plan) keep(first *search.Plan) {
	p.Kept.Plan, p.Kept.Cautions, p.Kept.First, p.Kept.Begin = p.Plan, p.Cautions, first, p.Begin
}

// key is that of all a plan hangs on.
func key(p search.Problem, o search.Options, ch *Change, joins []search.Searcher) (string, error) {
	k, err := search.Key(p, o)
	if err != nil || ch == nil {
		return k, err
	}
	text, err := json.Marshal(struct {
		Change Change
		Joins  []search.Searcher
	}{*ch, joins})
	return fmt.Sprintf("%s-%x", k, sha256.Sum256(text)), err
}

func (o PlanOptions) progress() func(done, total int) {
	if o.Progress == nil {
		return nil
	}
	return func(done, total int) { o.Progress("planning", done, total) }
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
