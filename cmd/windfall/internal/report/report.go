// Package report takes what people report of a lost flight: a find, ground gone
// over. It is logged first; all that is worked out after that can only add a
// caution to the answer.
package report

import (
	"context"
	"errors"

	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/situation"
	"windfall/cmd/windfall/internal/usage"
)

// Options say where a report is logged and what is worked out after it.
type Options struct {
	Logbook string // path
	Stamp   record.Stamp
	Map     situation.Options
	Plan    situation.PlanOptions
}

// always are the options of a map that is made whatever was seen: a report must
// not be answered with the contradictions of others.
func (o Options) always() situation.Options {
	o.Map.Always = true
	return o.Map
}

// PlanError says what of a flight or of what was asked for keeps a plan from
// being made.
func PlanError(f *record.Flight, err error) error {
	switch {
	case err == nil, errors.Is(err, context.Canceled):
		return err
	case errors.Is(err, situation.ErrDark):
		return usage.Errorf("%w; begin by daylight (--begin 08:00), or plan all the same with --after-dark", err)
	}
	return usage.Mark(f.File.Explain(err))
}

// reason is an error for a caution.
func reason(err error) string {
	if errors.Is(err, context.Canceled) {
		return "interrupted"
	}
	return err.Error()
}

// logged is the flight with what the logbook holds of it now.
func (o Options) logged(f *record.Flight) (situation.Input, error) {
	now := *f
	err := now.LoadLogged(o.Logbook)
	return now.Input, err
}
