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
	"windfall/cmd/windfall/internal/report"
	"windfall/cmd/windfall/internal/situation"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/logbook"
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
	source  record.Source
	track   string // path
	again   bool
	options report.Options
	files   fileOptions
	json    bool
}

func readSearched(e env, c *cli.Context) (q searchedRequest, err error) {
	args := c.Args().Slice()
	if len(args) != 2 {
		return q, usage.Errorf("windfall searched needs a flight file and a track, such as: " +
			"windfall searched flight.yaml walk.gpx --by east")
	}
	q = searchedRequest{source: readSource(e, c, args[0]), track: args[1], again: c.Bool("again"),
		files: readFiles(c), json: c.Bool("json")}
	q.options = report.Options{Logbook: q.source.Logbook, Stamp: readStamp(e, c)}
	q.options.Plan.Seed = q.options.Stamp.Seed
	if q.options.Plan.Law, err = readLaw(c); err != nil {
		return q, err
	}
	q.options.Map, err = readMap(e, c)
	return q, err
}

// leftAnswer is what searched answers beside the entry.
type leftAnswer struct {
	Left     *situation.Left `json:"left,omitempty"`
	Files    []string        `json:"files"`
	Cautions []string        `json:"cautions,omitempty"`
}

func searched(ctx context.Context, e env, q searchedRequest) error {
	f, err := record.Read(q.source)
	if err != nil {
		return err
	}
	in, err := os.Open(q.track)
	if errors.Is(err, os.ErrNotExist) {
		return usage.Errorf("%s: no such file; check the name", q.track)
	}
	if err != nil {
		return usage.Errorf("%s: %v", q.track, err)
	}
	defer in.Close()
	a, err := report.LogTrack(ctx, f, report.Track{R: in, Name: q.track, Again: q.again}, q.options)
	if err != nil {
		return err
	}
	files := []string{}
	if a.Summary != nil {
		files, err = writeFiles(ctx, q.files.in(f.File.Path), "", a.After.Cloud, situation.Layers(a.After, a.Summary))
		if err != nil {
			files = []string{}
			a.Missing(err)
		}
	}
	if q.json {
		return writeEntry(e, a.Entry, leftAnswer{a.Left, files, a.Caution})
	}
	return printSearched(e, f, a, files)
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

func printSearched(e env, f *record.Flight, a *report.Searched, files []string) error {
	p := &printer{w: e.out}
	p.f("logged %d: %.1f km gone over by %s, sweep width %.0f m", a.Entry.ID, a.Track.LengthM/1000,
		orNobody(a.Entry.By), a.Track.SweepWidth)
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
	p.list("note", a.Track.Notes)
	p.list("caution", a.Caution)
	p.list("wrote", files)
	return p.err
}
