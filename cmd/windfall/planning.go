package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"windfall/geo/quantity"
	"windfall/geo/sun"
	"windfall/search"
)

const searchHelp = `Makes the map given everything logged, then a plan: numbered legs for each
searcher of the flight file that find it as soon as possible within the time
they have. --pattern gives a standard pattern with the same account instead.

Somebody comes, goes or is late while the search is on:
  windfall search flight.yaml --replan-at 35min --leaves east --late "west 10 min"
plans again from where everybody is then; the earlier plan is made anew from the
same inputs, counted as carried out until then, and times count from the change.
--joins NAME: a searcher of the flight file who was not there before it.
Tracks logged with windfall searched are in the map already: plan without
--replan-at then.`

func planFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "pattern", Usage: "expanding-square, parallel or sector, in place of the best plan"},
		detectionFlag(),
		&cli.StringFlag{Name: "begin", Usage: "when the search begins, such as 2026-03-14T11:00:00+01:00 or 11:00 (default: ignition)"},
		&cli.BoolFlag{Name: "after-dark", Usage: "do not end the plan by civil dusk"},
		&cli.StringFlag{Name: "replan-at", Usage: "time into the plan at which something changed, such as 35min"},
		&cli.StringSliceFlag{Name: "leaves", Usage: "with --replan-at: who stops"},
		&cli.StringSliceFlag{Name: "late", Usage: "with --replan-at: who is behind and by how much, \"west 10 min\""},
		&cli.StringSliceFlag{Name: "joins", Usage: "with --replan-at: who of the flight file comes only now"},
	}
}

// plan is who goes where, given the situation's map.
func (s *situation) plan(c *cli.Context) (*search.Plan, error) {
	if len(s.file.Searchers) == 0 {
		s.file.Searchers = []search.Searcher{oneWalker}
		s.file.Assumed = append(s.file.Assumed, "searchers: one walker from the pad, 3 km/h for 90 min")
	}
	law, err := lawFlag(c)
	if err != nil {
		return nil, err
	}
	o := search.Options{Seed: c.Uint64("seed"), Pattern: search.Pattern(c.String("pattern"))}
	switch o.Pattern {
	case "", search.ExpandingSquare, search.Parallel, search.Sector:
	default:
		return nil, wrongf("--pattern %q is not known; write expanding-square, parallel or sector", o.Pattern)
	}
	p := search.Problem{
		Map: s.chances, Searchers: s.file.Searchers, Target: s.file.Target, Ground: s.file.Ground,
		Terrain: s.file.Flight.Terrain, Wind: s.windAt(), Law: law,
	}
	if p.Dark, err = s.daylight(c); err != nil {
		return nil, err
	}
	joins, change, err := s.changes(c, &p)
	if err != nil {
		return nil, err
	}
	plan, err := search.Make(c.Context, p, o)
	if err != nil || change == nil {
		return plan, asked(err)
	}
	change.Joins = joins
	next, err := search.Replan(c.Context, p, plan, *change)
	if err != nil {
		return nil, asked(err)
	}
	s.file.Searchers, s.chances = next.Searchers, next.Map
	s.begin = s.begin.Add(time.Duration(change.At * float64(time.Second)))
	plan, err = search.Make(c.Context, next, o)
	if err == nil {
		plan.Cautions = append(plan.Cautions, fmt.Sprintf("planned again after %.0f minutes: times count from then, chances are those left then", change.At/60))
	}
	return plan, asked(err)
}

// asked marks an error of planning as one of what was asked for, unless the
// program was interrupted.
func asked(err error) error {
	if err == nil || strings.Contains(err.Error(), "context") {
		return err
	}
	return wrong{err}
}

// daylight sets when the search begins and returns the seconds from then to
// civil dusk, 0 when it does not limit the plan.
func (s *situation) daylight(c *cli.Context) (float64, error) {
	s.begin = s.file.Flight.When
	if text := c.String("begin"); text != "" {
		t, err := beginning(text, s.begin)
		if err != nil {
			return 0, err
		}
		s.begin = t
	}
	if s.begin.IsZero() || c.Bool("after-dark") {
		return 0, nil
	}
	pad := s.model.Frame().Origin
	if sun.LightAt(s.begin, pad) == sun.Dark {
		return 0, wrongf("it is dark at %s; begin by daylight (--begin 08:00), or plan all the same with --after-dark", s.begin.Format("2006-01-02 15:04 MST"))
	}
	day := sun.On(s.begin, pad)
	if day.CivilDusk.IsZero() || !day.CivilDusk.After(s.begin) {
		return 0, nil
	}
	return day.CivilDusk.Sub(s.begin).Seconds(), nil
}

// beginning reads a time, or an hour and minute of the day of ignition.
func beginning(text string, when time.Time) (time.Time, error) {
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t, nil
	}
	if t, err := time.Parse("15:04", text); err == nil && !when.IsZero() {
		return time.Date(when.Year(), when.Month(), when.Day(), t.Hour(), t.Minute(), 0, 0, when.Location()), nil
	}
	return time.Time{}, wrongf("--begin %q is not a time; write one such as 2026-03-14T11:00:00+01:00, or 11:00 on the day of the flight", text)
}

// changes reads the flags of a change, takes those who join out of the problem
// and returns them; the change is nil when none is asked for.
func (s *situation) changes(c *cli.Context, p *search.Problem) ([]search.Searcher, *search.Change, error) {
	if !c.IsSet("replan-at") {
		for _, n := range []string{"leaves", "late", "joins"} {
			if c.IsSet(n) {
				return nil, nil, wrongf("--%s needs the time of the change: --replan-at 35min", n)
			}
		}
		return nil, nil, nil
	}
	at, err := quantity.Parse(c.String("replan-at"), quantity.Time)
	if err != nil {
		return nil, nil, wrongf("--replan-at: %w", err)
	}
	ch := &search.Change{At: at, Leaves: c.StringSlice("leaves"), Late: map[string]float64{}}
	for _, l := range c.StringSlice("late") {
		name, by, ok := s.lateBy(l)
		if !ok {
			return nil, nil, wrongf("--late %q; write a searcher and a time, such as \"%s 10 min\"", l, p.Searchers[0].Name)
		}
		ch.Late[name] = by
	}
	var joins, rest []search.Searcher
	names := c.StringSlice("joins")
	for _, w := range p.Searchers {
		if slices.Contains(names, w.Name) {
			joins = append(joins, w)
		} else {
			rest = append(rest, w)
		}
	}
	if len(joins) < len(names) {
		return nil, nil, wrongf("--joins %q: not all are searchers of the flight file; add them there first", strings.Join(names, ", "))
	}
	p.Searchers = rest
	return joins, ch, nil
}

// lateBy reads "west 10 min".
func (s *situation) lateBy(text string) (name string, by float64, ok bool) {
	for _, w := range s.file.Searchers {
		if rest, found := strings.CutPrefix(text, w.Name+" "); found {
			v, err := quantity.Parse(strings.TrimSpace(rest), quantity.Time)
			return w.Name, v, err == nil && v >= 0
		}
	}
	return "", 0, false
}
