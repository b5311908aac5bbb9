package report

import (
	"context"
	"errors"
	"io"

	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/situation"
	"windfall/drift/logbook"
)

// Track is a recorded track as reported: GPX, read from R.
type Track struct {
	R     io.Reader
	Name  string // of the file, for messages
	Again bool   // log it even if it is logged already
}

// Searched is what a track that was logged changed. Left, After and Summary are
// nil where they could not be worked out.
type Searched struct {
	Entry   logbook.Entry
	Track   *record.Track
	Left    *situation.Left
	After   *situation.State   // what is left
	Summary *situation.Summary // of After
	Caution []string
}

// LogTrack logs ground that was gone over without a find, by the law of
// o.Plan, and says what is left.
func LogTrack(ctx context.Context, f *record.Flight, t Track, o Options) (*Searched, error) {
	o.Stamp.By, _ = f.Input.Named(o.Stamp.By)
	track, err := record.ReadTrack(t.R, t.Name, f, o.Stamp.By, o.Plan.Law)
	if err != nil {
		return nil, err
	}
	a := &Searched{Track: track}
	if a.Entry, err = record.AddTrack(o.Logbook, f.File, track, t.Again, o.Stamp); err != nil {
		return nil, err
	}
	if err := a.left(ctx, f, o); err != nil {
		a.Missing(err)
	}
	return a, nil
}

// Missing notes what could not be worked out or written after all.
func (a *Searched) Missing(err error) {
	a.Caution = append(a.Caution, "the track is logged, but what is left is not shown in full: "+reason(err))
}

// left works out what is left after the track just logged.
func (a *Searched) left(ctx context.Context, f *record.Flight, o Options) error {
	in, err := o.logged(f)
	if err != nil {
		return err
	}
	last := len(in.Tracks) - 1
	if last < 0 {
		return errors.New("its entry cannot be read")
	}
	track := in.Tracks[last]
	in.Tracks = in.Tracks[:last]
	before, err := situation.Locate(ctx, in, o.always())
	if err != nil {
		return err
	}
	after, pos, err := situation.Without(before, track)
	if err != nil {
		return err
	}
	if pos < 1e-9 {
		a.Caution = append(a.Caution, "the track touches no likely ground")
	}
	if a.Left, err = situation.LeftAfter(ctx, before, after, pos, o.Plan); err != nil {
		return err
	}
	a.After = after
	a.Summary, err = situation.Summarise(after, situation.SummaryOptions{})
	return err
}
