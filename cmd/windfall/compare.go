package main

import (
	"context"
	"errors"
	"io"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/choice"
	"windfall/cmd/windfall/internal/outdir"
	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/show"
	"windfall/cmd/windfall/internal/situation"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/compare"
	"windfall/geo/quantity"
)

func compareCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "compare", Usage: "before launch: other hours, other choices, side by side, best first", ArgsUsage: "FLIGHT",
		Flags: append(slices.Concat(flightFlags(), switches("best"),
			words("hours", "max-touchdown", "max-ejection", "min-rail-exit")),
			&cli.GenericFlag{Name: "set", Value: &texts{}}, &cli.IntFlag{Name: "runs", Value: 5000},
			jsonFlag(), seedFlag(), outFlag()),
		Action: func(c *cli.Context) error {
			q, err := readCompare(e, c)
			if err != nil {
				return err
			}
			return compareFlights(c.Context, e, q)
		},
	}
}

// compareRequest is what compare is asked for.
type compareRequest struct {
	in      compare.Input
	options compare.Options
	dir     string // for the pictures
	best    bool   // the best choice alone
	json    bool
}

func compareFlights(ctx context.Context, e env, q compareRequest) error {
	if err := outdir.Check(q.dir); err != nil {
		return usage.Mark(err)
	}
	t, err := compare.Run(ctx, q.in, q.options)
	var bad compare.InputError
	if errors.As(err, &bad) {
		return usage.Mark(err)
	}
	if err != nil {
		return err
	}
	r := situation.Compared(t, q.options)
	set := outdir.Open(q.dir)
	defer set.Discard()
	if t.ByField && len(t.Rows) > 1 {
		if err := set.Write("compare-chance.png", func(w io.Writer) error { return t.Chances().Draw(w) }); err != nil {
			return err
		}
	}
	if err := set.Write("compare-clouds.png", func(w io.Writer) error { return t.Clouds().Draw(w) }); err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	if r.Files, err = set.Commit(); err != nil {
		return err
	}
	if q.json {
		return show.JSON(e.out, r)
	}
	return show.Comparison(e.out, t, r, q.best)
}

const mostCompareRuns = 200_000

// readCompare reads the command line and the flight as written, with what --set
// changes to one value alone: a wind set so tells the hours to choose from.
func readCompare(e env, c *cli.Context) (q compareRequest, err error) {
	path, sets, err := compareArguments(c)
	if err != nil {
		return q, err
	}
	q = compareRequest{json: c.Bool("json"), best: c.Bool("best"),
		options: compare.Options{Runs: c.Int("runs"), Seed: c.Uint64("seed"), Progress: e.progress("comparing")}}
	if q.options.Runs < 100 || q.options.Runs > mostCompareRuns {
		return q, usage.Errorf("--runs %d is out of range; write 100 to %d", q.options.Runs, mostCompareRuns)
	}
	if q.options.Limits, err = readLimits(c); err != nil {
		return q, err
	}
	if q.in.Axes, err = choice.ParseSets(sets); err != nil {
		return q, usage.Mark(err)
	}
	v, err := record.ReadVariants(readSource(e, c, path))
	if err != nil {
		return q, err
	}
	f, err := v.File(compare.Fixed(q.in.Axes)...)
	if err != nil {
		return q, err
	}
	if q.in.Base, err = f.Model(); err != nil {
		return q, usage.Mark(err)
	}
	if h := c.String("hours"); h != "" {
		q.in.Hours, err = choice.Hours(h, f.Flight.When, f.Hours)
	}
	q.in.Vary, q.dir = v.Flight, readFiles(c).in(f.Path)
	return q, usage.Mark(err)
}

// compareArguments returns the flight file and what is to be set, of which
// there is something; --set a=1 b=2 sets both.
func compareArguments(c *cli.Context) (path string, sets []string, err error) {
	sets = append(sets, *c.Generic("set").(*texts)...)
	args := c.Args().Slice()
	for len(sets) > 0 && len(args) > 1 && strings.Contains(args[len(args)-1], "=") {
		sets = append(sets, args[len(args)-1])
		args = args[:len(args)-1]
	}
	if len(args) != 1 {
		_, err := onlyArgument(c, "a flight file")
		return "", nil, err
	}
	if len(sets) == 0 && c.String("hours") == "" {
		return "", nil, usage.Errorf("windfall compare needs something to compare; " +
			"add --hours 9..17 or --set 'motor.delay=4 s,6 s'")
	}
	return args[0], sets, nil
}

func readLimits(c *cli.Context) (l compare.Limits, err error) {
	for _, f := range []struct {
		name string
		into **float64
	}{{"max-touchdown", &l.Touchdown}, {"max-ejection", &l.Ejection}, {"min-rail-exit", &l.RailExit}} {
		s := c.String(f.name)
		if s == "" {
			continue
		}
		v, err := quantity.Parse(s, quantity.Speed)
		if err != nil {
			return l, usage.Errorf("--%s %w", f.name, err)
		}
		if !(v > 0) {
			return l, usage.Errorf("--%s %q is not above zero; write a speed such as 7 m/s", f.name, s)
		}
		*f.into = &v
	}
	return l, nil
}
