package main

import (
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/report"
	"windfall/cmd/windfall/internal/show"
	"windfall/cmd/windfall/internal/usage"
	"windfall/geo/place"
)

func foundCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "found", Usage: "log the find, and say how well the map had done", ArgsUsage: "FLIGHT LAT,LON",
		Flags: append(slices.Concat(mapFlags(), planFlags(), words("by", "part", "outcome"), entries("instead-of"),
			switches("no-plan", "anyway")), jsonFlag()),
		Action: func(c *cli.Context) error {
			q, err := readFound(e, c)
			if err != nil {
				return err
			}
			f, err := record.Read(q.source)
			if err != nil {
				return err
			}
			if q.options.Plan, err = readPlan(c, f.Input); err != nil {
				return err
			}
			a, err := report.LogFind(c.Context, f, q.find, q.options)
			if err != nil {
				return err
			}
			if q.json {
				return show.JSON(e.out, a)
			}
			return show.Found(e.out, a)
		},
	}
}

// foundRequest is what found is asked for.
type foundRequest struct {
	source  record.Source
	find    report.Find
	options report.Options
	json    bool
}

func readFound(e env, c *cli.Context) (q foundRequest, err error) {
	args := c.Args().Slice()
	if len(args) < 2 {
		return q, usage.Errorf("windfall found needs a flight file and a place, such as: " +
			"windfall found flight.yaml 39.0490,-5.5790")
	}
	q.source, q.json = readSource(e, c, args[0]), c.Bool("json")
	q.find = report.Find{Place: strings.Join(args[1:], " "), Anyway: c.Bool("anyway"), NoPlan: c.Bool("no-plan")}
	at, err := place.Parse(q.find.Place)
	if err != nil {
		return q, usage.Mark(err)
	}
	q.find.Find = record.Find{Lat: at.Lat(), Lon: at.Lon(), Part: c.String("part"), Outcome: c.String("outcome")}
	if c.IsSet("instead-of") {
		if q.find.InsteadOf = c.Int64("instead-of"); q.find.InsteadOf < 1 {
			return q, usage.Errorf("--instead-of %d is no entry's number; 'windfall log %s' lists the finds",
				q.find.InsteadOf, args[0])
		}
	}
	q.options = report.Options{Logbook: q.source.Logbook, Stamp: readStamp(e, c)}
	q.options.Map, err = readMap(e, c)
	q.options.Stamp.Runs = q.options.Map.Runs
	return q, err
}
