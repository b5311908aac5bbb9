package main

import (
	"context"
	"io"
	"slices"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/report"
	"windfall/cmd/windfall/internal/situation"
	"windfall/geo"
)

func searchCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "search", Usage: "locate, then who walks and flies where to find it soonest", ArgsUsage: "FLIGHT",
		Flags: append(slices.Concat(locateFlags(), planFlags(), changeFlags(), filesFlags()), jsonFlag()),
		Action: func(c *cli.Context) error {
			q, err := readMapRequest(e, c)
			if err != nil {
				return err
			}
			f, err := record.Load(q.source)
			if err != nil {
				return err
			}
			o, err := readPlan(c, f.Input)
			if err != nil {
				return err
			}
			return showPlan(c.Context, e, f, q, o)
		},
	}
}

// showPlan makes a flight's map and plan, writes their files and prints the
// plan.
func showPlan(ctx context.Context, e env, f *record.Flight, q mapRequest, o situation.PlanOptions) error {
	if err := q.files.check(f.File.Path); err != nil {
		return err
	}
	plan, err := makePlan(ctx, f, q.make, o)
	if err != nil {
		return err
	}
	r, err := situation.SummarisePlan(plan)
	if err != nil {
		return err
	}
	layers := situation.PlanLayers(plan, r)
	landing := *layers
	landing.Plan = nil
	if r.Files, err = writeFiles(ctx, q.files.in(f.File.Path), q.files.landings, plan.State.Cloud, &landing,
		layers); err != nil {
		return err
	}
	if q.json {
		return writeJSON(e.out, r)
	}
	return printPlan(e.out, r)
}

// makePlan makes a flight's map and the plan of its search.
func makePlan(ctx context.Context, f *record.Flight, m situation.Options, o situation.PlanOptions) (*situation.Plan,
	error) {
	s, err := situation.Locate(ctx, f.Input, m)
	if err != nil {
		return nil, err
	}
	p, err := situation.MakePlan(ctx, s, o)
	return p, report.PlanError(f, err)
}

// printPlan prints the search for people: what it is worth, then each
// searcher's legs.
func printPlan(w io.Writer, r *situation.Summary) error {
	p := &printer{w: w}
	plan := r.Plan
	p.f("flight %s: search, %.0f minutes", r.Flight, plan.Minutes)
	p.f("  likeliest ground  %s", fromPad(r.Landing.Mean))
	p.f("                    %s", placeText(r.Landing.Mean))
	p.f("  50 / 90 %% in      %s / %s", hectares(r.Landing.Within(0.5)), hectares(r.Landing.Within(0.9)))
	p.f("  chance to find it %.0f %% with this plan; no plan of this effort does better than %.0f %%", 100*plan.POS,
		100*plan.UpperBound)
	if plan.POS > 0 {
		p.f("  if it is found    after %.0f minutes on average", plan.MeanIfFound)
	}
	p.f("  left after        %.0f %%, of which outside the map %.1f %%", 100*plan.Left, 100*plan.Outside)
	for _, who := range plan.Searchers {
		p.f("")
		p.f("%s, %s, sweep width %.0f m, back after %.0f minutes", who.Name, who.Kind, who.SweepWidth, who.Minutes)
		for _, g := range who.Legs {
			v := geo.XY{X: g.To.East - g.From.East, Y: g.To.North - g.From.North}
			p.f("  %3d  %5.1f min  %-8s  %03.0f deg  %4.0f m  POS %4.1f %%", g.N, g.StartMin, g.Kind,
				wholeBearing(v.BearingDeg()), v.Norm(), 100*g.POS)
		}
	}
	p.list("assumed", r.Assumptions)
	p.list("caution", r.Cautions)
	p.list("wrote", r.Files)
	return p.err
}
