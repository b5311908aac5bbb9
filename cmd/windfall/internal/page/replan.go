package page

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"path/filepath"
	"slices"
	"time"

	"windfall/cmd/windfall/internal/field"
	"windfall/cmd/windfall/internal/keptplan"
	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/report"
	"windfall/cmd/windfall/internal/situation"
)

// planDoc is the plan in force.
type planDoc struct {
	Version int64       `json:"version"`
	Plan    *field.Plan `json:"plan"`
}

// adopt makes the plan that search has kept for this flight the field's, where
// it is not among the field's yet.
func (s *Server) adopt(f *record.Flight, fl *field.Field) error {
	dir := filepath.Join(filepath.Dir(s.opt.Flight), "out")
	is := stampOf(filepath.Join(dir, keptplan.File))
	s.crew.mu.Lock()
	seen := s.crew.adopted == is
	s.crew.mu.Unlock()
	if seen {
		return nil
	}
	kept, err := keptplan.Read(dir)
	if err == nil && kept != nil {
		err = s.take(f, fl, kept)
	} else {
		err = nil // export says what is wrong with it
	}
	if err == nil {
		s.crew.mu.Lock()
		s.crew.adopted = is
		s.crew.mu.Unlock()
	}
	return err
}

// take makes a kept plan the field's, where it is not among the field's yet.
func (s *Server) take(f *record.Flight, fl *field.Field, kept *situation.Kept) error {
	v, err := fl.View()
	if err != nil || v.HasPlan(kept.Key) {
		return err
	}
	p := field.Plan{Key: kept.Key, Begin: orNone(kept.Begin), Plan: kept.Plan, Cautions: kept.Cautions}
	if _, err = fl.AddPlan(f, field.Who{Name: "windfall search"}, p, 0, s.opt.Now()); err == nil {
		s.news.tell()
	}
	return err
}

// postPlan plans the search anew from now.
func (s *Server) postPlan(r *http.Request) (any, error) {
	var b struct {
		If        int  `json:"if_plan"`
		AfterDark bool `json:"after_dark"`
		FromStart bool `json:"from_start"`
	}
	if err := readJSON(r, &b); err != nil {
		return nil, err
	}
	f, fl, err := s.fieldNow()
	if err != nil {
		return nil, err
	}
	if err := s.adopt(f, fl); err != nil {
		return nil, err
	}
	now := s.opt.Now()
	v, err := fl.View()
	if err != nil {
		return nil, err
	}
	if b.If != 0 && v.Plan != nil && v.Plan.Number != b.If {
		return nil, refuse(http.StatusConflict, "plan %d is in force, not plan %d: look at it first", v.Plan.Number, b.If)
	}
	places, _ := fl.Positions.All()
	if b.FromStart {
		places = nil
	}
	p, err := s.plan(r.Context(), f, v, places, situation.PlanOptions{Seed: 1, Begin: now, AfterDark: b.AfterDark})
	if err != nil {
		return nil, err
	}
	if v.HasPlan(p.Key) {
		p.Key = fmt.Sprintf("%s-%d", p.Key, v.Version) // made again of the same
	}
	was := 0
	if v.Plan != nil {
		was = v.Plan.Number
	}
	made, err := fl.AddPlan(f, field.Who{Name: s.doors.who(r).Name}, *p, was, now)
	switch {
	case errors.Is(err, field.ErrReplaced):
		return nil, refuse(http.StatusConflict, "%v", err)
	case err != nil:
		return nil, err
	}
	s.news.tell()
	version, err := fl.Version()
	return planDoc{version, made}, err
}

// logged is the flight with what the logbook holds of it now.
func (s *Server) logged(f *record.Flight) (*record.Flight, error) {
	now := *f
	now.Input.Cautions = slices.Clone(f.Input.Cautions)
	return &now, now.LoadLogged(s.opt.Logbook)
}

// plan makes a plan of what is left for those who are there.
func (s *Server) plan(ctx context.Context, f *record.Flight, v *field.View, places map[string]field.Place,
	o situation.PlanOptions) (*field.Plan, error) {
	now, err := s.logged(f)
	if err != nil {
		return nil, err
	}
	squad, notes, err := field.Squad(now.Input, f.File.Frame, v, places, o.Begin)
	if err != nil {
		return nil, refuse(http.StatusConflict, "%v", err)
	}
	unseen := field.Unrecorded(now, v)
	if n := lines(unseen); n > 0 {
		notes = append(notes, fmt.Sprintf("%d lanes were done without a recording of them: the plan takes them as walked "+
			"where they were planned, the map does not", n))
	}
	now.Input.Tracks = append(slices.Clone(now.Input.Tracks), unseen...)
	now.Input.Searchers = squad
	done, err := s.enter(ctx)
	if err != nil {
		return nil, err
	}
	defer done()
	state, err := situation.Locate(ctx, now.Input, situation.Options{Seed: 1, Always: true})
	if err != nil {
		return nil, flown(err)
	}
	plan, err := situation.MakePlan(ctx, state, o)
	switch {
	case errors.Is(err, situation.ErrDark):
		return nil, refuse(http.StatusConflict, "%v; after_dark plans all the same", err)
	case err != nil:
		return nil, flown(report.PlanError(now, err))
	}
	return &field.Plan{Key: plan.Kept.Key, Begin: orNone(plan.Begin), Plan: plan.Plan,
		Cautions: append(notes, plan.Cautions...)}, nil
}

func lines(tracks []situation.Track) (n int) {
	for _, t := range tracks {
		n += len(t.Lines)
	}
	return n
}

func orNone(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	return &t
}
