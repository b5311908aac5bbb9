package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/choice"
	"windfall/cmd/windfall/internal/outdir"
	"windfall/cmd/windfall/internal/record"
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
		return writeJSON(e.out, r)
	}
	p := &printer{w: e.out}
	if !q.best {
		p.comparison(t, r)
	}
	p.verdict(t, r)
	return p.err
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

// mostRows is how many rows the table shows; --json has them all.
const mostRows = 30

// comparison prints the head and the table.
func (p *printer) comparison(t *compare.Table, r *situation.Comparison) {
	p.f("flight %s, %d ways to fly it, %d runs each with the same draws, seed %d",
		r.Flight, len(t.Rows)+t.Dropped.Rows, r.Runs, r.Seed)
	if t.Dropped.Rows > 0 {
		p.f("the worse %d dropped by a search, the last of them after %d runs each", t.Dropped.Rows, t.Dropped.Runs)
	}
	for _, a := range t.Axes {
		if a.Fixed() {
			p.f("all with %s %s", a.Key, a.Values[0])
		}
	}
	p.f("")
	var text strings.Builder
	w := tabwriter.NewWriter(&text, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, strings.Join(compareHead(t), "\t"))
	for _, v := range t.Rows[:min(mostRows, len(t.Rows))] {
		fmt.Fprintln(w, strings.Join(compareLine(t, v), "\t"))
	}
	w.Flush()
	for l := range strings.Lines(text.String()) {
		p.f("%s", strings.TrimRight(l, " \n"))
	}
	if n := len(t.Rows) - mostRows; n > 0 {
		p.f("and %d more; --json has them all", n)
	}
	p.f("")
}

// compareHead names the columns; the first say what was set.
func compareHead(t *compare.Table) []string {
	var head []string
	if len(t.Hours) > 0 {
		head = append(head, "time")
	}
	for _, a := range t.Varied() {
		head = append(head, a.Key)
	}
	if t.ByField {
		head = append(head, "in field %", "from best")
	}
	return append(head, "90 % area", "centre", "wind at pad", "at apogee", "touchdown", "light")
}

func compareLine(t *compare.Table, v *compare.Row) []string {
	var line []string
	if len(t.Hours) > 0 {
		line = append(line, t.Clock(v.Hour))
	}
	for _, a := range t.Varied() {
		line = append(line, v.Set[a.Key])
	}
	if t.ByField {
		c, from := v.Places[0], "best"
		if v != t.Rows[0] {
			from = fmt.Sprintf("%+.1f (+- %.1f)", 100*v.Difference.Probability, 100*v.Difference.SE)
		}
		line = append(line, fmt.Sprintf("%.1f (+- %.1f)", 100*c.Probability, 100*c.SE), from)
	}
	windText := func(w compare.Wind) string { return fmt.Sprintf("%.1f m/s %03.0f", w.Speed, wholeBearing(w.FromDeg)) }
	mean := v.Moments.Mean
	line = append(line, hectares(v.Area), fmt.Sprintf("%.0f m, %03.0f", mean.Norm(), wholeBearing(mean.BearingDeg())),
		windText(v.Wind.Pad), windText(v.Wind.Apogee), fmt.Sprintf("%.1f m/s", v.Model.Nominal().LandingMps), lightText(v))
	if broken := v.Broken(); !v.Within && len(v.Limits) > 0 {
		line = append(line, "outside limits: "+broken)
	}
	return line
}

func lightText(v *compare.Row) string {
	if v.LightLeft == nil {
		return string(v.Light)
	}
	d := time.Duration(*v.LightLeft) * time.Minute
	return fmt.Sprintf("%s, %d h %02d left", v.Light, int(d.Hours()), int(d.Minutes())%60)
}

// verdict prints the reason, the places of the best row and the codes' figures.
func (p *printer) verdict(t *compare.Table, r *situation.Comparison) {
	best := t.Rows[0]
	p.f("best: %s", r.Reason[0])
	for _, l := range r.Reason[1:] {
		p.f("  %s", l)
	}
	limits, broken := t.Limits.String(), best.Broken()
	switch {
	case r.Best == nil && broken != "":
		p.f("  outside limits: %s", broken)
	case r.Best != nil && limits != "":
		p.f("  within the limits given: %s", limits)
	case r.Best != nil:
		p.f("  no speed limits given: --max-touchdown, --max-ejection, --min-rail-exit hold it to some")
	}
	n, first := r.Rows[0].Nominal, "nothing opens"
	if n.EjectionV != nil {
		first = fmt.Sprintf("first device at %.1f m/s", *n.EjectionV)
	}
	p.f("  off the rail at %.1f m/s, apogee %.0f m, %s, touches down at %.1f m/s after %.0f s",
		n.RailExit, n.Apogee, first, n.LandingV, n.LandingS)
	for _, c := range best.Places {
		p.chance(c, r.Runs)
	}
	if s := r.Sun; s != nil && s.Sunset != nil && s.CivilDusk != nil {
		p.f("  sunset %s, end of civil twilight %s", s.Sunset.Format("15:04"), s.CivilDusk.Format("15:04"))
	}
	p.f("")
	p.f("figures of the codes for it")
	for _, f := range r.Rules {
		p.f("  %s", f)
	}
	p.f("  %s", r.RulesNote)
	p.list("assumed", r.Assumptions)
	p.list("caution", r.Cautions)
	p.list("wrote", r.Files)
}
