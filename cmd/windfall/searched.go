package main

import (
	"context"
	"encoding/json"
	"errors"
	"os"
	"slices"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/report"
	"windfall/cmd/windfall/internal/show"
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
		return usage.Errorf("%s: %v; name a track that may be read", q.track, errors.Unwrap(err))
	}
	defer in.Close()
	if st, err := in.Stat(); err == nil && st.IsDir() {
		return usage.Errorf("%s: is a folder; name the track's file, such as walk.gpx", q.track)
	}
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
	return show.Searched(e.out, f.File.Path, a, files)
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
	return show.JSON(e.out, out)
}
