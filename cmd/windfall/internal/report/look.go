package report

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"windfall/cmd/windfall/internal/pictures"
	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/situation"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/logbook"
	"windfall/geo/grid"
)

// Photos are pictures to be looked at.
type Photos struct {
	Files []string
	Kept  string // path of what is done already
	How   *pictures.Settings
	Done  func(done, total int) // nil: not told
}

// Looked is what pictures that were logged hold and changed. Left, After and
// Summary are nil where they could not be worked out.
type Looked struct {
	Entry    logbook.Entry
	Pictures []pictures.Picture
	Survey   pictures.Survey
	Verdicts map[int]string // of the candidates that were judged before
	Areas    []grid.Area    // of the map before
	Left     *situation.Left
	After    *situation.State
	Summary  *situation.Summary
	Caution  []string
}

// mapAreas are drawn beside a candidate.
var mapAreas = []float64{0.5, 0.9}

// LogLook looks at pictures, logs the ground they show with what was found
// there, and says what is left.
func LogLook(ctx context.Context, f *record.Flight, p Photos, o Options) (*Looked, error) {
	in, err := o.logged(f)
	if err != nil {
		return nil, err
	}
	before, err := situation.Locate(ctx, in, o.always())
	if err != nil {
		return nil, err
	}
	a := &Looked{Areas: before.Map.Contours(mapAreas)}
	if a.Pictures, err = p.How.Run(ctx, p.Files, p.Kept, p.Done); err != nil {
		return nil, err
	}
	if a.Survey = p.How.Gather(a.Pictures, before.Map); a.Survey.Looked == 0 {
		return nil, usage.Errorf("none of the pictures can be used: %s", strings.Join(pictures.Reasons(a.Pictures), "; "))
	}
	entry := pictures.Entry(a.Pictures, a.Survey)
	if a.Entry, err = record.AddLook(o.Logbook, f.File, entry, o.Stamp); err != nil {
		return nil, err
	}
	a.Verdicts = a.Survey.Number(entry)
	if err := a.left(ctx, f, o); err != nil {
		a.Missing(err)
	}
	return a, nil
}

// Missing notes what could not be worked out or written after all.
func (a *Looked) Missing(err error) {
	a.Caution = append(a.Caution, fmt.Sprintf("the ground looked at is logged, but not all is shown: %s", reason(err)))
}

// left works out what is left after the ground just logged.
func (a *Looked) left(ctx context.Context, f *record.Flight, o Options) error {
	in, err := o.logged(f)
	if err != nil {
		return err
	}
	after, err := situation.Locate(ctx, in, o.always())
	if err != nil {
		return err
	}
	in.Tracks = slices.DeleteFunc(slices.Clone(in.Tracks), func(t situation.Track) bool { return t.Entry == a.Entry.ID })
	before, err := situation.Locate(ctx, in, o.always())
	if err != nil {
		return err
	}
	pos := 0.0
	if before.FoundBy < 1 {
		pos = max(0, 1-(1-after.FoundBy)/(1-before.FoundBy))
	}
	a.Left, a.After = situation.Changed(before, after, pos), after
	a.Summary, err = situation.Summarise(after, situation.SummaryOptions{})
	return err
}
