package main

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/situation"
	"windfall/cmd/windfall/internal/usage"
	"windfall/geo"
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
			if q.plan, err = readPlan(c, f.Input); err != nil {
				return err
			}
			return found(c.Context, e, f, q)
		},
	}
}

// foundRequest is what found is asked for.
type foundRequest struct {
	source    record.Source
	make      situation.Options
	plan      situation.PlanOptions
	stamp     record.Stamp
	place     string // as written
	find      record.Find
	insteadOf int64 // 0: a find of its own
	noPlan    bool
	anyway    bool
	json      bool
}

func readFound(e env, c *cli.Context) (q foundRequest, err error) {
	args := c.Args().Slice()
	if len(args) < 2 {
		return q, usage.Errorf("windfall found needs a flight file and a place, such as: windfall found flight.yaml " +
			"39.0490,-5.5790")
	}
	q = foundRequest{
		source: readSource(e, c, args[0]), stamp: readStamp(e, c), place: strings.Join(args[1:], " "),
		noPlan: c.Bool("no-plan"), anyway: c.Bool("anyway"), json: c.Bool("json"),
	}
	if c.IsSet("instead-of") {
		if q.insteadOf = c.Int64("instead-of"); q.insteadOf < 1 {
			return q, usage.Errorf("--instead-of %d is no entry's number; 'windfall log %s' lists the finds", q.insteadOf,
				args[0])
		}
	}
	at, err := place.Parse(q.place)
	if err != nil {
		return q, usage.Mark(err)
	}
	q.find = record.Find{Lat: at.Lat(), Lon: at.Lon(), Part: c.String("part"), Outcome: c.String("outcome")}
	if q.make, err = readMap(e, c); err != nil {
		return q, err
	}
	q.make.Always = true // what was seen must not hide how the map had done
	q.stamp.Runs = q.make.Runs
	return q, nil
}

// foundAnswer is the JSON of found.
type foundAnswer struct {
	ID      int64     `json:"id"`
	Flight  string    `json:"flight"`
	Part    string    `json:"part,omitempty"`
	Outcome string    `json:"outcome,omitempty"`
	Place   geo.Place `json:"place"`
	*situation.Judgement
	Plan    *situation.Worth `json:"plan,omitempty"`
	Caution []string         `json:"cautions"`
}

// found logs the find; all that comes after can only add a caution.
func found(ctx context.Context, e env, f *record.Flight, q foundRequest) error {
	at := f.File.Frame.ToXY(q.find.At())
	what := situation.Find{At: at, Part: q.find.Part, Outcome: q.find.Outcome}
	if err := q.check(ctx, f.Input, what); err != nil {
		return err
	}
	entry, cautions, err := record.AddFind(q.source.Logbook, f.File, q.find, q.insteadOf, q.stamp)
	if err != nil {
		return err
	}
	a := &foundAnswer{ID: entry.ID, Flight: entry.Flight, Part: q.find.Part, Outcome: q.find.Outcome,
		Place:   geo.Place{Lat: q.find.Lat, Lon: q.find.Lon, East: at.X, North: at.Y},
		Caution: append([]string{}, f.Input.Cautions...)}
	if err := q.judge(ctx, f, what, a); err != nil {
		a.Caution = append(a.Caution, "the find is logged, but not how well the map had done: "+reason(err))
	}
	a.Caution = append(a.Caution, cautions...)
	if q.json {
		return writeJSON(e.out, a)
	}
	return printFound(e, a)
}

// check refuses a find that is most likely mistyped.
func (q foundRequest) check(ctx context.Context, in situation.Input, f situation.Find) error {
	if err := f.Unknown(in); err != nil {
		return usage.Errorf("--%w", err)
	}
	if !q.anyway && f.Mistyped(ctx, in) {
		return usage.Errorf("%s is %.1f km from the pad, where no simulated flight comes near; "+
			"check the place, or log it all the same with --anyway", q.place, f.At.Norm()/1000)
	}
	return ctx.Err()
}

// judge holds the find against the map and, unless it is left out, the plan.
func (q foundRequest) judge(ctx context.Context, f *record.Flight, what situation.Find, a *foundAnswer) error {
	if err := f.LoadLogged(q.source.Logbook); err != nil {
		return err
	}
	s, err := situation.Locate(ctx, f.Input, q.make)
	if err != nil {
		return err
	}
	a.Caution = append(a.Caution, s.Cautions...)
	if a.Judgement, err = situation.Judge(s, what); err != nil {
		return err
	}
	if a.Judgement.Unwalked != nil {
		a.Caution = append(a.Caution,
			fmt.Sprintf("searched ground was taken out of the map before the find was held against it: without the tracks "+
				"its level is %.3f", *a.Judgement.Unwalked))
	}
	if q.noPlan || a.Part != "" {
		return nil
	}
	plan, err := situation.MakePlan(ctx, s, q.plan)
	if err != nil {
		a.Caution = append(a.Caution, "whether the plan would have found it is not known: "+reason(planError(f, err)))
		return nil
	}
	w := situation.PlanWorth(plan.Plan, what.At, q.plan.Law)
	a.Plan = &w
	return nil
}

func printFound(e env, a *foundAnswer) error {
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
