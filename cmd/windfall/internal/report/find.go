package report

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/situation"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/logbook"
	"windfall/geo"
)

// Find is a find as reported.
type Find struct {
	record.Find
	Place     string // as written
	InsteadOf int64  // the entry it corrects; 0: none
	Anyway    bool   // log it even where no simulated flight comes near
	NoPlan    bool   // leave out whether the plan would have found it

	far bool // no simulated flight comes near
}

// Found is the JSON document of a find that was logged. The judgement and the
// plan are left out where they could not be worked out.
type Found struct {
	ID      int64     `json:"id"`
	Flight  string    `json:"flight"`
	Part    string    `json:"part,omitempty"`
	Outcome string    `json:"outcome,omitempty"`
	Place   geo.Place `json:"place"`
	*situation.Judgement
	Plan    *situation.Worth `json:"plan,omitempty"`
	Caution []string         `json:"cautions"`
}

// LogFind logs a find, unless it is most likely mistyped, and says how well the
// map had done.
func LogFind(ctx context.Context, f *record.Flight, find Find, o Options) (*Found, error) {
	at := f.File.Frame.ToXY(find.At())
	what := situation.Find{At: at, Part: find.Part, Outcome: find.Outcome}
	if err := what.Unknown(f.Input); err != nil {
		return nil, usage.Errorf("--%w", err)
	}
	find.far = what.Mistyped(ctx, f.Input)
	if find.far && !find.Anyway {
		return nil, usage.Errorf("%s is %.1f km from the pad, where no simulated flight comes near; "+
			"check the place, or log it all the same with --anyway", find.Place, at.Norm()/1000)
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	entry, cautions, err := record.AddFind(o.Logbook, f.File, find.Find, find.InsteadOf, o.Stamp)
	if err != nil {
		return nil, err
	}
	a := &Found{ID: entry.ID, Flight: entry.Flight, Part: find.Part, Outcome: find.Outcome,
		Place:   geo.Place{Lat: find.Lat, Lon: find.Lon, East: at.X, North: at.Y},
		Caution: append([]string{}, f.Input.Cautions...)}
	if err := a.judge(ctx, f, what, &find, o); err != nil {
		a.Caution = append(a.Caution, "the find is logged, but not how well the map had done: "+reason(err))
	}
	if a.Judgement != nil {
		if err := keep(o, entry, a.Judgement); err != nil {
			a.Caution = append(a.Caution, "the find is logged, but how well the map had done could not be kept: "+reason(err))
		}
	}
	a.Caution = append(a.Caution, cautions...)
	return a, nil
}

// keep keeps a judgement with its find, for the lists.
func keep(o Options, e logbook.Entry, j *situation.Judgement) error {
	text, err := json.Marshal(j)
	if err != nil {
		return err
	}
	b, err := logbook.Open(o.Logbook)
	if err != nil {
		return err
	}
	return errors.Join(b.Judge(e, o.Stamp.Now, text), b.Close())
}

// judge holds the find against the map and, unless it is left out, the plan.
func (a *Found) judge(ctx context.Context, f *record.Flight, what situation.Find, find *Find, o Options) error {
	in, err := o.logged(f)
	if err != nil {
		return err
	}
	if find.far { // no map reaches it, and that of all that was seen may take long
		in.Sightings, in.Tracks = nil, nil
		a.Caution = append(a.Caution,
			"it lies so far off that it was held against the map without what was seen and searched")
	}
	s, err := situation.Locate(ctx, in, o.always())
	if err != nil {
		return err
	}
	a.Caution = append(a.Caution, s.Cautions...)
	if a.Judgement, err = situation.Judge(s, what); err != nil {
		return err
	}
	if a.Judgement.Unwalked != nil {
		a.Caution = append(a.Caution, fmt.Sprintf("searched ground was taken out of the map before the find was held "+
			"against it: without the tracks its level is %.3f", *a.Judgement.Unwalked))
	}
	if find.NoPlan || find.far || what.Part != "" {
		return nil
	}
	plan, err := situation.MakePlan(ctx, s, o.Plan)
	if err != nil {
		a.Caution = append(a.Caution,
			"whether the plan would have found it is not known: "+reason(PlanError(f, err)))
		return nil
	}
	w := situation.PlanWorth(plan.Plan, what.At, o.Plan.Law)
	a.Plan = &w
	return nil
}
