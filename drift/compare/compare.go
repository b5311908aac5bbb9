// Package compare flies variants of one flight side by side and ranks them:
// other hours, other choices, best first, and how far the runs can tell one
// from the next.
//
// All variants meet the same draws (Draws): run i of each has the same gust, the
// same lean of the rail and the same strength of motor, so that what differs is
// the choice. Run flies every combination of the axes and hours, gives up the
// worse half of a large grid again and again, turns the rail where it is asked
// to find the direction, and ranks: first what keeps the limits in daylight,
// then by the chance of coming down in the field, without a field by the
// smallest 90 % area. Table.Verdict holds the rows against the errors of their
// differences.
//
// Lengths are metres, speeds m/s, times seconds, chances 0 to 1. The package
// reads no file and knows no key of a flight but rail.toward and when: Input.Vary
// makes a flight of settings.
package compare

import (
	"context"
	"slices"
	"time"

	"windfall/drift"
	"windfall/geo/ground"
	"windfall/geo/plane"
)

// Setting is one key of the flight given another value: {"motor.delay", "6 s"}.
type Setting struct{ Key, Value string }

// Flight is one variant made ready to fly, and the ground it is on.
type Flight struct {
	Model  *drift.Model
	Field  plane.Polygons // nil: none given
	Ground *ground.Ground // nil: none given

	Assumed  []string // what its reader took for granted
	Warnings []string // of its reader, for who flies it
}

// Input is what a comparison starts from.
type Input struct {
	Base  *drift.Model // the flight as it is written; the draws are its own
	Axes  []Axis
	Hours []time.Time // to try, in the flight's zone; empty: the flight's own time alone

	// Vary returns the flight with settings put in place; an hour is the key
	// "when" in RFC 3339. It is called from many goroutines. Its error is
	// returned with the settings before it.
	Vary func([]Setting) (Flight, error)
}

// Options of Run.
type Options struct {
	Runs     int    // flights of each row of the table; 0: 5000
	Seed     uint64 // same seed, same table
	Limits   Limits
	Workers  int                   // 0: all cores; the table does not depend on it
	Progress func(done, total int) // nil: nobody watches
}

// Table is a comparison, best row first.
type Table struct {
	Rows    []*Row
	Dropped Dropped
	ByField bool // ranked by the chance of the field; else by the 90 % area
	Limits  Limits

	Title string // the flight's ID
	Axes  []Axis
	Hours []time.Time
}

// Dropped says how many rows a large grid lost to the search, and after how
// many runs the last of them.
type Dropped struct {
	Rows int `json:"rows"`
	Runs int `json:"runs"`
}

// What a large grid costs; choices of ours. A day of 24 hours by 5 delays is
// flown in full.
const (
	MostVariants = 5000 // combinations; more are no choice for a person
	fullGrid     = 200  // combinations flown in full; of more, the worse half is dropped again and again
	firstRuns    = 250  // flights of each in the first round of a large grid: a chance to 3 % at worst
	defaultRuns  = 5000
)

// InputError says what was asked for that cannot be compared.
type InputError string

func (e InputError) Error() string { return string(e) }

// Run flies every combination of hours and values and ranks them. Errors are
// those of Vary, InputError for more than MostVariants combinations or rows of
// which some have a field and some not, and ctx's when it is cancelled.
func Run(ctx context.Context, in Input, o Options) (*Table, error) {
	if o.Runs <= 0 {
		o.Runs = defaultRuns
	}
	e := &engine{in: in, o: o, fly: NewDraws(in.Base, o.Seed).Fly}
	return e.run(ctx)
}

// engine is a comparison in the making.
type engine struct {
	in  Input
	o   Options
	fly func(ctx context.Context, m *drift.Model, runs int) ([]drift.Landing, error)
}

func (e *engine) run(ctx context.Context) (*Table, error) {
	rows, err := e.in.rows()
	if err != nil {
		return nil, err
	}
	t := &Table{Limits: e.o.Limits, Title: e.in.Base.Flight().ID, Axes: e.in.Axes, Hours: e.in.Hours}
	if rows, err = e.halve(ctx, rows, &t.Dropped); err != nil {
		return nil, err
	}
	err = e.each(ctx, rows, func(r *Row) error {
		if err := e.flyRow(ctx, r, e.o.Runs); err != nil {
			return err
		}
		return r.summarise()
	})
	if err == nil {
		err = e.rank(rows)
	}
	if err != nil {
		return nil, err
	}
	t.Rows, t.ByField = rows, rows[0].In != nil
	for _, r := range rows {
		r.Label = t.label(r)
		r.against(rows[0])
	}
	return t, nil
}

// halve drops the worse half of more rows than fullGrid, flies the others twice
// as often, and so on.
func (e *engine) halve(ctx context.Context, rows []*Row, lost *Dropped) ([]*Row, error) {
	for runs := firstRuns; len(rows) > fullGrid; runs *= 2 {
		n := min(runs, e.o.Runs)
		if err := e.each(ctx, rows, func(r *Row) error { return e.flyRow(ctx, r, n) }); err != nil {
			return nil, err
		}
		if err := e.rank(rows); err != nil {
			return nil, err
		}
		keep := max(fullGrid/2, len(rows)/2)
		lost.Rows += len(rows) - keep
		lost.Runs = n
		rows = slices.Clone(rows[:keep]) // the others' landings go
	}
	return rows, nil
}

// rank puts rows best first.
func (e *engine) rank(rows []*Row) error {
	for _, r := range rows {
		if (r.In == nil) != (rows[0].In == nil) {
			return InputError("some of the choices have a field and some have none; give all of them one, or none")
		}
		r.judge(e.o.Limits)
	}
	sortRows(rows)
	return nil
}
