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
	"windfall/cmd/windfall/internal/situation"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/learn"
)

func learnCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "learn", Usage: "refit spreads and biases from all logged finds",
		Flags: append(slices.Concat(words("logbook", "apply", "plot"), switches("explain")), jsonFlag(), seedFlag()),
		Action: func(c *cli.Context) error {
			if c.NArg() > 0 {
				return usage.Errorf("windfall learn takes no flight; "+
					"to see what changes for one, write windfall learn --apply %s", c.Args().First())
			}
			q := learnRequest{logbook: readLogbook(e, c), stamp: readStamp(e, c), plot: c.String("plot"),
				explain: c.Bool("explain"), json: c.Bool("json")}
			if p := c.String("apply"); p != "" {
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
	json    bool
}

// refit learns from every find of the logbook.
func refit(ctx context.Context, e env, q learnRequest) error {
	finds, err := record.LearnFrom(ctx, q.logbook)
	if err != nil {
		return err
	}
	if len(finds.Cases) == 0 {
		for _, s := range finds.LeftOut {
			fmt.Fprintln(e.err, "windfall: left out:", s)
		}
		return fmt.Errorf("%s holds no find to learn from; log one with 'windfall found FLIGHT LAT,LON'", q.logbook)
	}
	opt := learn.Options{Seed: q.stamp.Seed, Progress: e.stages()}
	post, err := learn.Fit(ctx, finds.Cases, opt)
	if err != nil {
		return err
	}
	r, err := post.Report(ctx, opt)
	if err != nil {
		return err
	}
	if err := plotLevels(q.plot, r); err != nil {
		return err
	}
	id, err := record.AddLearned(q.logbook, finds.Digest, r, q.stamp)
	if err != nil {
		return err
	}
	if q.json {
		return writeJSON(e.out, struct {
			ID int64 `json:"id"`
			*learn.Result
			LeftOut []string `json:"left_out"`
		}{id, r, append([]string{}, finds.LeftOut...)})
	}
	return printLearned(e.out, r, finds.LeftOut, q.explain)
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
	f, err := record.Read(record.Source{Flight: path, Logbook: q.logbook})
	if err != nil {
		return err
	}
	learned := f.Input.Learned
	if learned == nil {
		return errors.New("nothing has been learned yet; log finds with 'windfall found', then run 'windfall learn'")
	}
	was, err := situation.Predict(ctx, plain.Input, situation.Options{Seed: q.stamp.Seed})
	if err != nil {
		return err
	}
	now, err := situation.Predict(ctx, f.Input, situation.Options{Seed: q.stamp.Seed})
	if err != nil {
		return err
	}
	a, b := was.Landing(), now.Landing()
	if q.json {
		return writeJSON(e.out, map[string]any{"flight": f.Input.Flight.ID, "learned": learned, "was": a, "now": b})
	}
	p := &printer{w: e.out}
	p.f("flight %s, with what %s taught", f.Input.Flight.ID, count(learned.Finds, "find"))
	for _, u := range learned.Used {
		p.f("  %s", u)
	}
	p.f("  middle moves from %s to %s", fromPad(a.Mean), fromPad(b.Mean))
	for i := range a.Areas {
		p.f("  %2.0f %% in %s, was %s", 100*a.Areas[i].Probability, hectares(b.Areas[i].AreaM2), hectares(a.Areas[i].AreaM2))
	}
	p.list("caution", f.Input.Cautions)
	return p.err
}

func printLearned(w io.Writer, r *learn.Result, skipped []string, explain bool) error {
	p := &printer{w: w}
	p.f("learned from %s", count(r.Finds, "find"))
	p.f("")
	p.f("%-22s %10s %10s    %10s %10s", "factor", "was", "spread", "now", "spread")
	for _, f := range r.Factors {
		p.f("%-22s %10s %10s    %10s %10s   (%sspread %s to %s)", f.Name, factorValue(f, f.WasMean),
			factorSpread(f, f.WasSD), factorValue(f, f.Mean), factorSpread(f, f.SD),
			factorError(f), factorSpread(f, f.SDLow), factorSpread(f, f.SDHigh))
		if explain {
			for _, m := range f.Members {
				p.f("  %-20s %21s    %10s %10s   %s", memberName(m), "", factorValue(f, m.Mean), factorSpread(f, m.SD),
					count(m.Finds, "find"))
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
		p.f("  %2.0f %% area   without learning %3d of %d (%2.0f to %3.0f %%)   with it %3d of %d (%2.0f to %3.0f %%)",
			100*c.Level, c.WasInside, c.Of, 100*c.WasLow, 100*c.WasHigh, c.Inside, c.Of, 100*c.Low, 100*c.High)
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
