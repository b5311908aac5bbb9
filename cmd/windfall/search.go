package main

import (
	"context"
	"slices"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/outdir"
	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/report"
	"windfall/cmd/windfall/internal/show"
	"windfall/cmd/windfall/internal/situation"
)

func searchCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "search", Usage: "locate, then who walks and flies where to find it soonest", ArgsUsage: "FLIGHT",
		Flags: append(slices.Concat(locateFlags(), planFlags(), changeFlags(), filesFlags(), switches("text")), jsonFlag()),
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
	base, err := q.files.open(f)
	if err != nil {
		return err
	}
	defer base.Close()
	plan, err := makePlan(ctx, f, q.make, o)
	if err != nil {
		return err
	}
	r, err := situation.SummarisePlan(plan)
	if err != nil {
		return err
	}
	layers := base.Under(situation.PlanLayers(plan, r))
	landing := *layers
	landing.Plan = nil
	set := outdir.Open(q.files.in(f.File.Path))
	defer set.Discard()
	if err := addFiles(ctx, set, q.files.landings, plan.State.Cloud, &landing, layers); err != nil {
		return err
	}
	if err := keepPlan(set, plan.Kept); err != nil {
		return err
	}
	if r.Files, err = set.Commit(); err != nil {
		return err
	}
	if q.json {
		return show.JSON(e.out, r)
	}
	if q.text {
		return show.Messages(e.out, layers)
	}
	return show.Plan(e.out, r, layers)
}

// makePlan makes a flight's map and the plan of its search.
func makePlan(ctx context.Context, f *record.Flight, m situation.Options, o situation.PlanOptions) (*situation.Plan,
	error) {
	s, err := situation.Locate(ctx, f.Input, m)
	if err != nil {
		return nil, err
	}
	o.Progress = m.Progress
	p, err := situation.MakePlan(ctx, s, o)
	return p, report.PlanError(f, err)
}
