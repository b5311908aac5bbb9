package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/paulmach/orb"
	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/outdir"
	"windfall/drift"
	"windfall/drift/learn"
	"windfall/drift/logbook"
)

func learnCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "learn", Usage: "refit spreads and biases from all logged finds",
		Description: "Later maps use what was learned unless they are made with --no-learning.",
		Flags: []cli.Flag{
			jsonFlag(), logbookFlag(), seedFlag(),
			&cli.BoolFlag{Name: "explain", Usage: "also tell old and new spreads by place, vehicle and device, and which flights moved them"},
			&cli.StringFlag{Name: "apply", Usage: "show what learning changes in the map of this flight file; nothing is learned anew"},
			&cli.StringFlag{Name: "plot", Usage: "draw how the finds lay in their maps to this .png or .svg file"},
		},
		Action: func(c *cli.Context) error {
			if c.NArg() > 0 {
				return wrongf("windfall learn takes no flight; to see what changes for one, write windfall learn --apply %s", c.Args().First())
			}
			if p := c.String("apply"); p != "" {
				return learnApply(e, c, p)
			}
			return runLearn(e, c)
		},
	}
}

func runLearn(e env, c *cli.Context) error {
	path := logbookPath(e, c)
	cases, digest, skipped, err := findCases(c.Context, path)
	if err != nil {
		return err
	}
	if len(cases) == 0 {
		for _, s := range skipped {
			fmt.Fprintln(e.err, "windfall: left out:", s)
		}
		return fmt.Errorf("%s holds no find to learn from; log one with 'windfall found FLIGHT LAT,LON'", path)
	}
	opt := learn.Options{Seed: c.Uint64("seed"), Progress: e.stages()}
	post, err := learn.Fit(c.Context, cases, opt)
	if err != nil {
		return err
	}
	r, err := post.Report(c.Context, opt)
	if err != nil {
		return err
	}
	if err := plotLevels(c, r); err != nil {
		return err
	}
	id, err := storeLearned(e, c, path, digest, r)
	if err != nil {
		return err
	}
	if c.Bool("json") {
		return writeJSON(e.out, struct {
			ID int64 `json:"id"`
			*learn.Result
			LeftOut []string `json:"left_out"`
		}{id, r, append([]string{}, skipped...)})
	}
	return printLearned(e.out, r, skipped, c.Bool("explain"))
}

// stages draws one progress bar for each stage of learning.
func (e env) stages() func(stage string, done, total int) {
	if !e.terminal {
		return nil
	}
	var name string
	var bar func(done, total int)
	return func(stage string, done, total int) {
		if stage != name {
			name, bar = stage, e.progress(stage)
		}
		bar(done, total)
	}
}

func storeLearned(e env, c *cli.Context, path, digest string, r *learn.Result) (int64, error) {
	text, err := json.Marshal(r)
	if err != nil {
		return 0, err
	}
	b, err := logbook.Open(path)
	if err != nil {
		return 0, err
	}
	defer b.Close()
	return b.PutLearned(logbook.Learned{When: e.now(), Version: version, Seed: c.Uint64("seed"), Finds: digest, Result: text})
}

// findBody is the body of a find.
type findBody struct {
	Lat     float64 `json:"lat"`
	Lon     float64 `json:"lon"`
	Part    string  `json:"part,omitempty"`    // a shed part, not the vehicle
	Outcome string  `json:"outcome,omitempty"` // how the flight went, where it is known

	Level   float64   `json:"level"` // what the map said; see foundResult
	MissM   float64   `json:"miss_m"`
	Bearing float64   `json:"miss_bearing_deg"`
	SD      float64   `json:"miss_sd"`
	Inside  []float64 `json:"inside"`
}

// findCases turns the logbook's finds of vehicles into cases: the last find of
// a flight, with the inputs stored when it was logged, or the flight's latest.
// It also returns the digest of all finds and why some were left out.
func findCases(ctx context.Context, path string) (cases []learn.Case, digest string, skipped []string, err error) {
	b, err := logbook.OpenRead(path)
	if err != nil {
		return nil, "", nil, err
	}
	defer b.Close()
	finds, digest, err := liveFinds(b)
	if err != nil {
		return nil, "", nil, err
	}
	last := map[string]int{}
	var use []logbook.Entry
	for _, f := range finds {
		var body findBody
		if err := json.Unmarshal(f.Body, &body); err != nil || body.Part != "" {
			continue // a part's find places the part
		}
		if i, ok := last[f.Flight]; ok {
			use[i] = f
			continue
		}
		last[f.Flight] = len(use)
		use = append(use, f)
	}
	dir, err := os.MkdirTemp("", "windfall-learn-*")
	if err != nil {
		return nil, "", nil, err
	}
	defer os.RemoveAll(dir)
	for i, f := range use {
		if err := ctx.Err(); err != nil {
			return nil, "", nil, err
		}
		c, err := findCase(b, f, fmt.Sprintf("%s/%d", dir, i))
		if err != nil {
			skipped = append(skipped, fmt.Sprintf("%s (entry %d): %s", f.Flight, f.ID, strings.ReplaceAll(err.Error(), fmt.Sprintf("%s/%d/", dir, i), "stored ")))
			continue
		}
		cases = append(cases, c)
	}
	return cases, digest, skipped, nil
}

func findCase(b *logbook.Book, f logbook.Entry, dir string) (learn.Case, error) {
	id := f.Inputs
	if id == 0 {
		all, err := b.FlightInputs(f.Flight)
		if err != nil {
			return learn.Case{}, err
		}
		if len(all) == 0 {
			return learn.Case{}, fmt.Errorf("its flight file is not in the logbook; log the find with 'windfall found FLIGHT LAT,LON'")
		}
		id = all[len(all)-1].ID
	}
	in, err := b.Inputs(id)
	if err != nil {
		return learn.Case{}, err
	}
	main, err := writeInputs(in, dir)
	if err != nil {
		return learn.Case{}, err
	}
	file, err := flightfile.Read(main)
	if err != nil {
		return learn.Case{}, err
	}
	m, err := prepare(file)
	if err != nil {
		return learn.Case{}, err
	}
	p, ok := f.Geometry().(orb.Point)
	if !ok {
		return learn.Case{}, fmt.Errorf("the entry has no place")
	}
	var body findBody
	if err := json.Unmarshal(f.Body, &body); err != nil {
		return learn.Case{}, err
	}
	c := learn.NewCase(m, m.Frame().ToXY(p), body.Outcome)
	c.Flight = f.Flight
	return c, nil
}

func printLearned(w io.Writer, r *learn.Result, skipped []string, explain bool) error {
	p := &printer{w: w}
	p.f("learned from %s", count(r.Finds, "find"))
	p.f("")
	p.f("%-22s %10s %10s    %10s %10s", "factor", "was", "spread", "now", "spread")
	for _, f := range r.Factors {
		p.f("%-22s %10s %10s    %10s %10s   (%sspread %s to %s)", f.Name, factorValue(f, f.WasMean), factorSpread(f, f.WasSD), factorValue(f, f.Mean), factorSpread(f, f.SD),
			factorError(f), factorSpread(f, f.SDLow), factorSpread(f, f.SDHigh))
		if explain {
			for _, m := range f.Members {
				p.f("  %-20s %21s    %10s %10s   %s", memberName(m), "", factorValue(f, m.Mean), factorSpread(f, m.SD), count(m.Finds, "find"))
			}
		}
	}
	p.f("")
	p.f("%-22s %10s    %10s", "outcome", "was", "now")
	for _, o := range r.Outcomes {
		p.f("%-22s %8.1f %%    %8.1f %%   (+- %.1f)", o.Name, 100*o.Was, 100*o.Probability, 100*o.SE)
	}
	p.f("")
	p.f("finds inside their areas, no flight judging a map that it helped to make")
	for _, c := range r.Coverage {
		p.f("  %2.0f %% area   without learning %3d of %d (%2.0f to %3.0f %%)   with it %3d of %d (%2.0f to %3.0f %%)", 100*c.Level, c.WasInside, c.Of, 100*c.WasLow, 100*c.WasHigh, c.Inside, c.Of, 100*c.Low, 100*c.High)
	}
	was, now := r.LogScore()
	p.f("  log score   without learning %.3f   with it %.3f (mean log of the map's density at the find, per m2)", was, now)
	p.f("")
	p.f("levels of the finds, 0 to 1 in tenths: even where maps are right")
	p.f("  without learning  %s", levelBars(r, func(s learn.Score) float64 { return s.WasLevel }))
	p.f("  with it           %s", levelBars(r, func(s learn.Score) float64 { return s.Level }))
	if explain {
		p.f("")
		p.f("what each find moved most (from its mean without this find, in shares of the mean's own uncertainty)")
		for _, s := range r.Scores {
			var moved []string
			for _, m := range s.Moved {
				moved = append(moved, fmt.Sprintf("%s %.3g -> %.3g (%+.1f)", m.Factor, m.From, m.To, m.Share))
			}
			p.f("  %-22s level %.2f -> %.2f   %s", s.Flight, s.WasLevel, s.Level, strings.Join(moved, ", "))
		}
	}
	p.f("")
	for _, v := range r.Verdict {
		p.f("%s", v)
	}
	p.list("left out", skipped)
	return p.err
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

func memberName(m learn.Member) string {
	if m.Lat != 0 || m.Lon != 0 {
		return fmt.Sprintf("%.4f,%.4f", m.Lat, m.Lon)
	}
	return m.Name
}

func factorValue(f learn.Factor, v float64) string {
	switch {
	case f.Name == learn.WindShape:
		return "-"
	case f.Log:
		return fmt.Sprintf("x %.3f", v)
	}
	return fmt.Sprintf("%+.2f %s", v, f.Unit)
}

func factorSpread(f learn.Factor, v float64) string {
	switch {
	case f.Name == learn.WindShape:
		return fmt.Sprintf("x %.2f", v)
	case f.Log:
		return fmt.Sprintf("%.1f %%", 100*v)
	}
	return fmt.Sprintf("%.2f %s", v, f.Unit)
}

// factorError tells how well a factor's mean is known.
func factorError(f learn.Factor) string {
	if f.Name == learn.WindShape {
		return "" // it has no mean
	}
	return "+- " + factorSpread(f, f.MeanSE) + "; "
}

// levelBars counts levels by tenths.
func levelBars(r *learn.Result, level func(learn.Score) float64) string {
	var n [10]int
	for _, s := range r.Scores {
		n[min(int(10*level(s)), 9)]++
	}
	var b strings.Builder
	for _, k := range n {
		fmt.Fprintf(&b, "%4d", k)
	}
	return b.String()
}

// learnApply shows what the logbook's learning changes in a flight's map.
func learnApply(e env, c *cli.Context, path string) error {
	plain, m0, err := readFlight(path)
	if err != nil {
		return err
	}
	f, err := flightfile.Read(path)
	if err != nil {
		return wrong{err}
	}
	if err := useLearned(c, f); err != nil {
		return err
	}
	if f.Learned.ID == 0 {
		return fmt.Errorf("nothing has been learned yet; log finds with 'windfall found', then run 'windfall learn'")
	}
	m1, err := prepare(f)
	if err != nil {
		return err
	}
	was, err := appliedMap(c, plain, m0)
	if err != nil {
		return err
	}
	now, err := appliedMap(c, f, m1)
	if err != nil {
		return err
	}
	if c.Bool("json") {
		return writeJSON(e.out, map[string]any{"flight": f.Flight.ID, "learned": learnedOf(f), "was": was, "now": now})
	}
	p := &printer{w: e.out}
	p.f("flight %s, with what %s taught", f.Flight.ID, count(f.Learned.Finds, "find"))
	for _, u := range f.Learned.Used {
		p.f("  %s", u)
	}
	p.f("  middle moves from %s to %s", fromPad(was.Mean), fromPad(now.Mean))
	for i := range was.Areas {
		p.f("  %2.0f %% in %s, was %s", 100*was.Areas[i].Probability, hectares(now.Areas[i].AreaM2), hectares(was.Areas[i].AreaM2))
	}
	p.list("caution", f.Warnings)
	return p.err
}

func appliedMap(c *cli.Context, f *flightfile.File, m *drift.Model) (landingResult, error) {
	cloud, err := m.Run(c.Context, drift.Options{Seed: c.Uint64("seed")})
	if err != nil {
		return landingResult{}, err
	}
	s, err := mapped(f, m, cloud)
	if err != nil {
		return landingResult{}, err
	}
	return landingOf(m.Frame(), s.moments, s.chances), nil
}

// plotLevels draws the levels of the finds, when asked to.
func plotLevels(c *cli.Context, r *learn.Result) error {
	name := c.String("plot")
	if name == "" {
		return nil
	}
	format := strings.ToLower(strings.TrimPrefix(name[strings.LastIndex(name, ".")+1:], "."))
	if format != "png" && format != "svg" {
		return wrongf("--plot %q; name a .png or .svg file", name)
	}
	set := outdir.Open(".")
	defer set.Discard()
	if err := set.Write(name, func(w io.Writer) error { return r.Plot(w, format) }); err != nil {
		return err
	}
	_, err := set.Commit()
	return err
}
