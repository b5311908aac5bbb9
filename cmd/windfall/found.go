package main

import (
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/report"
	"windfall/cmd/windfall/internal/situation"
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
				return writeJSON(e.out, a)
			}
			return printFound(e, a)
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

func printFound(e env, a *report.Found) error {
	p := &printer{w: e.out}
	what := a.Flight
	if a.Part != "" {
		what += ", " + a.Part
	}
	p.f("%s found %s: entry %d", what, fromPad(a.Place), a.ID)
	if a.Judgement != nil {
		p.judgement(a.Judgement)
	}
	switch {
	case a.Plan == nil:
	case a.Plan.First == nil:
		p.f("  the plan          would not have passed it")
	default:
		p.f("  the plan          passes it first after %.0f min and finds it with %.0f %%, on average after %.0f min",
			*a.Plan.First, 100*a.Plan.Probability, *a.Plan.Mean)
	}
	p.f("")
	p.f("windfall learn refits the spreads with it")
	p.list("caution", a.Caution)
	return p.err
}

// judgement prints how well the map had done.
func (p *printer) judgement(j *situation.Judgement) {
	p.f("  miss              %.0f m from the map's middle, on bearing %03.0f: %.1f standard deviations", j.Miss,
		wholeBearing(j.Bearing), j.MissSD)
	p.f("  level             %.3f: the area of this probability just reaches it", j.Level)
	if len(j.Inside) == 0 {
		p.f("                    outside the 95 %% area")
	} else {
		p.f("                    inside the %.0f %% area", 100*j.Inside[0])
	}
	for i, s := range j.Causes {
		head := ""
		if i == 0 {
			head = "explained by"
		}
		p.f("  %-17s %-12s %4.0f m likely, up to %.0f m within two standard deviations", head, s.Cause, s.Likely, s.Could)
	}
}
