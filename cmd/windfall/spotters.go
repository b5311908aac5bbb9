package main

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"slices"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/cardpage"
	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/outdir"
	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/show"
	"windfall/cmd/windfall/internal/situation"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/evidence"
	"windfall/drift/evidence/candidates"
	"windfall/geo/quantity"
)

func spottersCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "spotters", Usage: "before launch: where observers would help most", ArgsUsage: "FLIGHT",
		Flags: append(slices.Concat(flightFlags(), words("candidates")), &cli.IntFlag{Name: "n", Value: 2},
			&cli.StringFlag{Name: "every", Value: "100m"}, &cli.StringFlag{Name: "sees-to", Value: "2km"},
			seedFlag(), jsonFlag(), outFlag()),
		Action: func(c *cli.Context) error {
			path, err := onlyArgument(c, "a flight file")
			if err != nil {
				return err
			}
			f, err := record.Read(readSource(e, c, path))
			if err != nil {
				return err
			}
			q := spottersRequest{dir: readFiles(c).in(f.File.Path), json: c.Bool("json")}
			if q.places, q.options, err = readSpotters(e, c, f.File); err != nil {
				return err
			}
			return spotters(c.Context, e, f, q)
		},
	}
}

// spottersRequest is what spotters is asked for.
type spottersRequest struct {
	places  []evidence.Candidate
	options evidence.SpotterOptions
	dir     string // for the cards
	json    bool
}

func spotters(ctx context.Context, e env, f *record.Flight, q spottersRequest) error {
	if err := outdir.Check(q.dir); err != nil {
		return usage.Mark(err)
	}
	r, err := situation.Spot(ctx, f.Input, q.places, q.options)
	if err != nil {
		return err
	}
	set := outdir.Open(q.dir)
	defer set.Discard()
	if err := set.Write("spotters.html", func(w io.Writer) error {
		return cardpage.Write(w, cardpage.Data{Flight: r.Flight, When: f.Input.Flight.When, Cards: r.Cards})
	}); err != nil {
		return err
	}
	if r.Files, err = set.Commit(); err != nil {
		return err
	}
	if q.json {
		return show.JSON(e.out, r)
	}
	return show.Spotters(e.out, r)
}

// readSpotters reads the flags and the file of places.
func readSpotters(e env, c *cli.Context, f *flightfile.File) (
	cands []evidence.Candidate, o evidence.SpotterOptions, err error) {
	path := c.String("candidates")
	if path == "" {
		return nil, o, usage.Errorf("windfall spotters needs --candidates FILE: " +
			"GeoJSON points or a line, or text with a place on each line")
	}
	every, err := length(c, "every", 5, 10000)
	if err != nil {
		return nil, o, err
	}
	o = evidence.SpotterOptions{N: c.Int("n"), Seed: c.Uint64("seed"), Runs: 12000, Trials: 80,
		Progress: e.progress("watching")}
	if o.SeesTo, err = length(c, "sees-to", 50, 60000); err != nil {
		return nil, o, err
	}
	in, err := os.Open(path)
	if err != nil {
		return nil, o, usage.Errorf("%s: cannot be read; give a file of places", path)
	}
	defer in.Close()
	cands, err = candidates.Read(in, filepath.ToSlash(path), candidates.Options{Frame: f.Frame, Every: every})
	if err != nil {
		return nil, o, usage.Mark(err)
	}
	if o.N < 1 || o.N > len(cands) {
		return nil, o, usage.Errorf("-n %d: %s has %d places; give 1 to %d", o.N, path, len(cands), len(cands))
	}
	return cands, o, nil
}

// length reads a flag's length within bounds in m.
func length(c *cli.Context, flag string, lo, hi float64) (float64, error) {
	v, err := quantity.Parse(c.String(flag), quantity.Length)
	if err != nil {
		return 0, usage.Errorf("--%s: %w", flag, err)
	}
	if !(v >= lo && v <= hi) {
		return 0, usage.Errorf("--%s %s: give %g m to %g m", flag, c.String(flag), lo, hi)
	}
	return v, nil
}
