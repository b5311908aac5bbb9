package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/outdir"
	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/show"
	"windfall/cmd/windfall/internal/situation"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/learn"
)

func learnCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "learn", Usage: "refit spreads and biases from all logged finds",
		Flags: append(slices.Concat(words("logbook", "apply", "plot"), switches("explain", "anyway", "no-observers")),
			jsonFlag(), seedFlag()),
		Action: func(c *cli.Context) error {
			if c.NArg() > 0 {
				return usage.Errorf("windfall learn takes no flight; "+
					"to see what changes for one, write windfall learn --apply %s", c.Args().First())
			}
			q := learnRequest{logbook: readLogbook(e, c), stamp: readStamp(e, c), plot: c.String("plot"),
				explain: c.Bool("explain"), anyway: c.Bool("anyway"), plain: c.Bool("no-observers"), json: c.Bool("json")}
			if p := c.String("apply"); p != "" {
				for _, f := range []string{"explain", "plot", "anyway", "no-observers"} {
					if c.IsSet(f) {
						return usage.Errorf("--%s and --apply do not go together: --apply learns nothing anew; give one of them", f)
					}
				}
				return showApplied(c.Context, e, p, q)
			}
			return refit(c.Context, e, q)
		},
	}
}

// learnRequest is what learn is asked for.
type learnRequest struct {
	logbook string
	stamp   record.Stamp
	plot    string // a .png or .svg file; "": none
	explain bool
	anyway  bool // maps use it even where it scores worse
	plain   bool // what people see is taken as anybody\'s
	json    bool
}

// refit learns from all that the logbook holds.
func refit(ctx context.Context, e env, q learnRequest) error {
	all, err := record.LearnFrom(ctx, q.logbook)
	if err != nil {
		return err
	}
	if all.Nothing() && !all.Learned {
		for _, s := range show.LeftOut(all.LeftOut) {
			fmt.Fprintln(e.err, "windfall: left out:", s)
		}
		return fmt.Errorf("%s holds no find to learn from; log one with 'windfall found FLIGHT LAT,LON'", q.logbook)
	}
	opt := learn.Options{Seed: q.stamp.Seed, Progress: e.stages()}
	r, err := all.Learn(ctx, q.plain, opt)
	if err != nil {
		return err
	}
	if q.anyway {
		r.Use()
	}
	if err := plotLevels(q.plot, r); err != nil {
		return err
	}
	id, err := record.AddLearned(q.logbook, all.Digest, r, q.stamp)
	if err != nil {
		return err
	}
	if q.json {
		return show.JSON(e.out, struct {
			ID int64 `json:"id"`
			*learn.Result
			LeftOut []string `json:"left_out"`
		}{id, r, append([]string{}, all.LeftOut...)})
	}
	return show.Learned(e.out, r, all.LeftOut, q.explain)
}

// plotLevels draws the levels of the finds, when asked to.
func plotLevels(name string, r *learn.Result) error {
	if name == "" {
		return nil
	}
	format := strings.ToLower(strings.TrimPrefix(filepath.Ext(name), "."))
	if format != "png" && format != "svg" {
		return usage.Errorf("--plot %q; name a .png or .svg file", name)
	}
	if r.Finds == 0 {
		return usage.Errorf("--plot %s: there is no find to draw yet; log one with 'windfall found FLIGHT LAT,LON'", name)
	}
	set := outdir.Open(".")
	defer set.Discard()
	if err := set.Write(name, func(w io.Writer) error { return r.Plot(w, format) }); err != nil {
		return err
	}
	_, err := set.Commit()
	return err
}

// showApplied shows what the logbook's learning changes in a flight's map.
func showApplied(ctx context.Context, e env, path string, q learnRequest) error {
	plain, err := record.Read(record.Source{Flight: path, NoLearning: true})
	if err != nil {
		return err
	}
	f, err := record.Read(record.Source{Flight: path, Logbook: q.logbook, Withheld: true})
	if err != nil {
		return err
	}
	learned := f.Input.Learned
	if learned == nil {
		return errors.New("nothing has been learned yet; log finds with 'windfall found', then run 'windfall learn'")
	}
	was, err := situation.Predict(ctx, plain.Input, situation.Options{Seed: q.stamp.Seed, Progress: e.stages()})
	if err != nil {
		return err
	}
	now, err := situation.Predict(ctx, f.Input, situation.Options{Seed: q.stamp.Seed, Progress: e.stages()})
	if err != nil {
		return err
	}
	a, b := was.Landing(), now.Landing()
	if q.json {
		return show.JSON(e.out, map[string]any{"flight": f.Input.Flight.ID, "learned": learned, "was": a, "now": b})
	}
	return show.Applied(e.out, f.Input, was, now)
}
