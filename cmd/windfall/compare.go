package main

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/choice"
	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/outdir"
	"windfall/drift"
	"windfall/drift/compare"
	"windfall/geo/quantity"
)

// texts is a flag that may be given more than once; a comma is part of it.
type texts []string

func (t *texts) Set(s string) error { *t = append(*t, s); return nil }
func (t *texts) String() string     { return strings.Join(*t, " ") }

func compareCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "compare", Usage: "before launch: other hours, other choices, side by side, best first", ArgsUsage: "FLIGHT",
		Description: "--set may be given more than once; every combination is flown, with the same draws.\n" +
			"windfall compare FLIGHT --hours 9..17 --set 'motor.delay=6 s,8 s' --set 'rail.lean=0..10 deg' --set rail.toward=auto",
		Flags: []cli.Flag{
			&cli.GenericFlag{Name: "set", Value: &texts{}, Usage: "a key of the flight file and values to try: 'motor.delay=4 s,6 s', 'rail.lean=0..10 deg', rail.toward=auto"},
			&cli.StringFlag{Name: "hours", Usage: "times to try within the forecast: 9..17, 10:30,13 or all"},
			&cli.BoolFlag{Name: "best", Usage: "print the best choice alone, and why"},
			&cli.StringFlag{Name: "max-touchdown", Usage: "speed over the ground at touchdown to stay below, such as 7 m/s"},
			&cli.StringFlag{Name: "max-ejection", Usage: "speed through the air at the first device to stay below, such as 20 m/s"},
			&cli.StringFlag{Name: "min-rail-exit", Usage: "speed off the rail to reach, such as 15 m/s"},
			&cli.IntFlag{Name: "runs", Value: 5000, Usage: "simulated flights of each row"},
			jsonFlag(), seedFlag(), outFlag(), logbookFlag(), noLearningFlag(),
		},
		Action: func(c *cli.Context) error { return compareFlights(c, e) },
	}
}

// comparison is the work of one windfall compare.
type comparison struct {
	path  string
	axes  []choice.Axis
	hours []time.Time // empty: the flight file's own time alone
	runs  int
	seed  uint64
	limit speedLimits

	file    *flightfile.File // as written
	model   *drift.Model
	draws   compare.Draws
	learned func(*flightfile.File) // puts in what the logbook has learned
	note    func(done, total int)

	final   bool       // the rows now flown are those shown
	rows    []*variant // best first
	dropped dropped
}

// dropped says how many rows a large grid lost to a search, and at how many
// runs the last of them.
type dropped struct {
	Rows int `json:"rows"`
	Runs int `json:"runs"`
}

func compareFlights(c *cli.Context, e env) error {
	k, err := newComparison(c, e)
	if err != nil {
		return err
	}
	if err := k.fly(c.Context); err != nil {
		return err
	}
	r := k.result()
	set := outdir.Open(outFolder(c, k.file))
	defer set.Discard()
	if err := k.figures(set); err != nil {
		return err
	}
	if err := c.Context.Err(); err != nil {
		return err
	}
	if r.Files, err = set.Commit(); err != nil {
		return err
	}
	if c.Bool("json") {
		return writeJSON(e.out, r)
	}
	if c.Bool("best") {
		return k.printBest(e.out, r)
	}
	return k.print(e.out, r)
}

const mostCompareRuns = 200_000

func newComparison(c *cli.Context, e env) (*comparison, error) {
	k := &comparison{runs: c.Int("runs"), seed: c.Uint64("seed"), note: e.progress("comparing")}
	sets := append([]string{}, *c.Generic("set").(*texts)...)
	args := c.Args().Slice()
	for len(sets) > 0 && len(args) > 1 && strings.Contains(args[len(args)-1], "=") { // --set a=1 b=2
		sets = append(sets, args[len(args)-1])
		args = args[:len(args)-1]
	}
	if len(args) != 1 {
		_, err := one(c, "a flight file")
		return nil, err
	}
	k.path = args[0]
	if len(sets) == 0 && c.String("hours") == "" {
		return nil, wrongf("windfall compare needs something to compare; add --hours 9..17 or --set 'motor.delay=4 s,6 s'")
	}
	if k.runs < 100 || k.runs > mostCompareRuns {
		return nil, wrongf("--runs %d is out of range; write 100 to %d", k.runs, mostCompareRuns)
	}
	var err error
	if k.limit, err = readLimits(c); err != nil {
		return nil, err
	}
	if k.axes, err = readAxes(sets); err != nil {
		return nil, err
	}
	if k.learned, err = lastLearned(c); err != nil {
		return nil, err
	}
	if err := k.readBase(); err != nil {
		return nil, err
	}
	if h := c.String("hours"); h != "" {
		if k.hours, err = choice.Hours(h, k.file.Flight.When, k.file.Hours); err != nil {
			return nil, wrong{err}
		}
	}
	k.draws = compare.NewDraws(k.model, k.seed)
	return k, nil
}

// readBase reads the flight as written, with what --set changes to one value
// alone: a wind set so tells the hours to choose from.
func (k *comparison) readBase() (err error) {
	var fixed []flightfile.Setting
	for _, a := range k.axes {
		if len(a.Values) == 1 && a.Values[0] != choice.Auto {
			fixed = append(fixed, flightfile.Setting{Key: a.Key, Value: a.Values[0]})
		}
	}
	if k.file, err = flightfile.Read(k.path, fixed...); err != nil {
		return wrong{err}
	}
	k.learned(k.file)
	k.model, err = prepare(k.file)
	return err
}

func readAxes(sets []string) ([]choice.Axis, error) {
	var axes []choice.Axis
	for _, s := range sets {
		a, err := choice.ParseSet(s)
		if err != nil {
			return nil, wrong{err}
		}
		for _, b := range axes {
			if a.Key == b.Key {
				return nil, wrongf("--set %s is given twice; write its values in one, separated by commas", a.Key)
			}
		}
		axes = append(axes, a)
	}
	return axes, nil
}

// speedLimits are what --best must keep to; nil: no limit.
type speedLimits struct{ touchdown, ejection, railExit *float64 } // m/s

func readLimits(c *cli.Context) (l speedLimits, err error) {
	for name, into := range map[string]**float64{"max-touchdown": &l.touchdown, "max-ejection": &l.ejection, "min-rail-exit": &l.railExit} {
		s := c.String(name)
		if s == "" {
			continue
		}
		v, err := quantity.Parse(s, quantity.Speed)
		if err != nil {
			return l, wrongf("--%s %w", name, err)
		}
		if !(v > 0) {
			return l, wrongf("--%s %q is not above zero; write a speed such as 7 m/s", name, s)
		}
		*into = &v
	}
	return l, nil
}

// variants lists every combination of hours and values, unflown.
func (k *comparison) variants() ([]*variant, error) {
	n := choice.Size(k.axes) * max(1, len(k.hours))
	if n > mostVariants {
		return nil, wrongf("%d combinations are more than %d; give fewer values or hours, or a wider step", n, mostVariants)
	}
	hours := k.hours
	if len(hours) == 0 {
		hours = []time.Time{{}}
	}
	var out []*variant
	for _, h := range hours {
		for _, pick := range choice.Grid(k.axes) {
			v := &variant{order: len(out), hour: h, Set: map[string]string{}}
			if !h.IsZero() {
				v.settings = append(v.settings, flightfile.Setting{Key: "when", Value: h.Format(time.RFC3339)})
				v.Hour = h.UTC().Format(time.RFC3339)
			}
			for a, i := range pick {
				axis := k.axes[a]
				v.Set[axis.Key] = axis.Values[i]
				if axis.Values[i] == choice.Auto {
					v.auto = true
					continue
				}
				v.settings = append(v.settings, flightfile.Setting{Key: axis.Key, Value: axis.Values[i]})
			}
			out = append(out, v)
		}
	}
	return out, nil
}

const (
	mostVariants = 5000 // combinations; more are no choice for a person
	fullGrid     = 200  // combinations flown in full; of more, the worse half is dropped again and again
	firstRuns    = 250  // flights of each in the first round of a large grid
)

// fly flies every variant and leaves them best first.
func (k *comparison) fly(ctx context.Context) error {
	vs, err := k.variants()
	if err != nil {
		return err
	}
	for runs := firstRuns; len(vs) > fullGrid; runs *= 2 {
		if err := k.flyAll(ctx, vs, min(runs, k.runs)); err != nil {
			return err
		}
		k.sort(vs)
		keep := max(fullGrid/2, len(vs)/2)
		k.dropped.Rows += len(vs) - keep
		k.dropped.Runs = min(runs, k.runs)
		vs = vs[:keep]
	}
	k.final = true
	if err := k.flyAll(ctx, vs, k.runs); err != nil {
		return err
	}
	k.sort(vs)
	k.rows = vs
	return nil
}

func (l speedLimits) String() string {
	var out []string
	add := func(v *float64, format string) {
		if v != nil {
			out = append(out, fmt.Sprintf(format, *v))
		}
	}
	add(l.touchdown, "touchdown at most %.3g m/s")
	add(l.ejection, "first device at most %.3g m/s through the air")
	add(l.railExit, "off the rail at least %.3g m/s")
	return strings.Join(out, ", ")
}
