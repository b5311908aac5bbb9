package main

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"os"
	"slices"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/situation"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/logbook"
	"windfall/search/detect"
)

func searchedCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "searched", Usage: "log ground covered without a find, then show what is left", ArgsUsage: "FLIGHT TRACK.gpx",
		Flags: append(slices.Concat(mapFlags(), words("by", "detection"), switches("again")), jsonFlag(), outFlag()),
		Action: func(c *cli.Context) error {
			q, err := readSearched(e, c)
			if err != nil {
				return err
			}
			return searched(c.Context, e, q)
		},
	}
}

// searchedRequest is what searched is asked for.
type searchedRequest struct {
	mapRequest
	track string // path
	again bool
	law   detect.Law
	stamp record.Stamp
}

func readSearched(e env, c *cli.Context) (q searchedRequest, err error) {
	args := c.Args().Slice()
	if len(args) != 2 {
		return q, usage.Errorf("windfall searched needs a flight file and a track, such as: windfall searched " +
			"flight.yaml walk.gpx --by east")
	}
	q = searchedRequest{track: args[1], again: c.Bool("again"), stamp: readStamp(e, c)}
	q.source, q.files, q.json = readSource(e, c, args[0]), readFiles(c), c.Bool("json")
	if q.law, err = readLaw(c); err != nil {
		return q, err
	}
	q.make, err = readMap(e, c)
	q.make.Always = true // what was seen must not hide what is left
	return q, err
}

// leftAnswer is what searched answers beside the entry.
type leftAnswer struct {
	Left     *situation.Left `json:"left,omitempty"`
	Files    []string        `json:"files"`
	Cautions []string        `json:"cautions,omitempty"`
}

// searched logs the track; all that comes after can only add a caution.
func searched(ctx context.Context, e env, q searchedRequest) error {
	f, err := record.Read(q.source)
	if err != nil {
		return err
	}
	t, err := readTrack(q, f)
	if err != nil {
		return err
	}
	entry, err := record.AddTrack(q.source.Logbook, f.File, t, q.again, q.stamp)
	if err != nil {
		return err
	}
	answer := leftAnswer{Files: []string{}}
	if err := q.left(ctx, f, entry, &answer); err != nil {
		answer.Cautions = append(answer.Cautions, "the track is logged, but what is left is not shown in full: "+reason(err))
	}
	if q.json {
		return writeEntry(e, entry, answer)
	}
	return printSearched(e, f, entry, t, answer)
}

// readTrack reads and cleans the GPX file.
func readTrack(q searchedRequest, f *record.Flight) (*record.Track, error) {
	file, err := os.Open(q.track)
	if errors.Is(err, os.ErrNotExist) {
		return nil, usage.Errorf("%s: no such file; check the name", q.track)
	}
	if err != nil {
		return nil, usage.Errorf("%s: %v", q.track, err)
	}
	defer file.Close()
	return record.ReadTrack(file, q.track, f, q.stamp.By, q.law)
}

// left works out what is left after the track just logged and writes its map.
func (q searchedRequest) left(ctx context.Context, f *record.Flight, logged logbook.Entry, a *leftAnswer) error {
	if err := f.LoadLogged(q.source.Logbook); err != nil {
		return err
	}
	last := len(f.Input.Tracks) - 1
	track := f.Input.Tracks[last]
	f.Input.Tracks = f.Input.Tracks[:last]
	before, err := situation.Locate(ctx, f.Input, q.make)
	if err != nil {
		return err
	}
	after, pos, err := situation.Without(before, track)
	if err != nil {
		return err
	}
	if pos < 1e-9 {
		a.Cautions = append(a.Cautions, "the track touches no likely ground")
	}
	if a.Left, err = situation.LeftAfter(ctx, before, after, pos,
		situation.PlanOptions{Seed: q.make.Seed, Law: q.law}); err != nil {
		return err
	}
	r, err := situation.Summarise(after, situation.SummaryOptions{})
	if err != nil {
		return err
	}
	a.Files, err = writeFiles(ctx, q.files.in(f.File.Path), "", after.Cloud, situation.Layers(after, r))
	return err
}

// reason is an error for a caution: one that was interrupted says so.
func reason(err error) string {
	if errors.Is(err, context.Canceled) {
		return "interrupted"
	}
	return err.Error()
}

// writeEntry writes an entry's JSON with the keys of more after its own.
func writeEntry(e env, entry logbook.Entry, more any) error {
	out := map[string]json.RawMessage{}
	for _, v := range []any{entry, more} {
		b, err := json.Marshal(v)
		if err != nil {
			return err
		}
		if err := json.Unmarshal(b, &out); err != nil {
			return err
		}
	}
	return writeJSON(e.out, out)
}

func printSearched(e env, f *record.Flight, entry logbook.Entry, t *record.Track, a leftAnswer) error {
	p := &printer{w: e.out}
	p.f("logged %d: %.1f km gone over by %s, sweep width %.0f m", entry.ID, t.LengthM/1000, orNobody(entry.By),
		t.SweepWidth)
	if l := a.Left; l != nil {
		p.f("  this track        would have found it with %.1f %%; all tracks together with %.1f %%", 100*l.POS,
			100*l.POSTotal)
		p.f("  the middle        has moved by %.0f m, to %s", l.Moved, fromPad(l.Landing.Mean))
		p.f("  50 / 90 %% in      %s / %s", hectares(l.Landing.Within(0.5)), hectares(l.Landing.Within(0.9)))
		p.f("  outside the map   %.2f %%, before it %.2f %%", 100*l.Outside, 100*l.WasOutside)
		for _, o := range l.Outcomes {
			if math.Abs(o.Probability-o.Was) >= 0.005 {
				p.f("  %-17s %.1f %%, before it %.1f %%", o.Name, 100*o.Probability, 100*o.Was)
			}
		}
		if l.NextHour != nil {
			p.f("  another hour      finds it with %.0f %% (no plan: more than %.0f %%)", 100*l.NextHour.POS,
				100*l.NextHour.UpperBound)
		}
		p.f("%s", l.Advice)
	}
	p.f("next: windfall search %s", f.File.Path)
	p.list("note", t.Notes)
	p.list("caution", a.Cautions)
	p.list("wrote", a.Files)
	return p.err
}
