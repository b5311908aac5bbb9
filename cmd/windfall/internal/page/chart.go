package page

import (
	"net/http"
	"time"

	"windfall/cmd/windfall/internal/situation"
	"windfall/geo/mapfile"
	"windfall/search"
)

// chartDoc is the ground and the plan in force, for phones to draw and to lead
// by.
type chartDoc struct {
	Plan  int            `json:"plan"` // number; 0: there is none
	Chart *mapfile.Chart `json:"chart"`
}

func (s *Server) getChart(*http.Request) (any, error) {
	f, fl, err := s.fieldNow()
	if err != nil {
		return nil, err
	}
	if err := s.adopt(f, fl); err != nil {
		return nil, err
	}
	v, err := fl.View()
	if err != nil {
		return nil, err
	}
	var plan *search.Plan
	var begin time.Time
	d := &chartDoc{}
	if v.Plan != nil {
		d.Plan, plan = v.Plan.Number, v.Plan.Plan
		if v.Plan.Begin != nil {
			begin = *v.Plan.Begin
		}
	}
	d.Chart = situation.ChartOf(f.Input, plan, begin)
	return d, nil
}
