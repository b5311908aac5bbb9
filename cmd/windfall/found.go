package main

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"windfall/drift"
	"windfall/drift/learn"
	"windfall/drift/logbook"
	"windfall/geo"
	"windfall/geo/grid"
	"windfall/geo/place"
	"windfall/search"
)

func foundCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "found", Usage: "log the find, and say how well the map had done", ArgsUsage: "FLIGHT LAT,LON",
		Flags: []cli.Flag{
			jsonFlag(), seedFlag(), runsFlag(), logbookFlag(), noLearningFlag(),
			&cli.StringFlag{Name: "by", Usage: "who found it"},
			&cli.StringFlag{Name: "part", Usage: "it is this shed part, not the vehicle"},
			&cli.StringFlag{Name: "outcome", Usage: "how the flight went, where it is known, such as tangled"},
			&cli.Int64Flag{Name: "instead-of", Usage: "correct the find with this number; what it said stays on record"},
			&cli.BoolFlag{Name: "no-plan", Usage: "do not work out whether the search plan would have found it"},
			&cli.BoolFlag{Name: "anyway", Usage: "log a find even where it is farther away than the flight could have reached"},
		},
		Action: func(c *cli.Context) error { return found(e, c) },
	}
}

// foundResult is the JSON of found.
type foundResult struct {
	ID      int64         `json:"id"`
	Flight  string        `json:"flight"`
	Part    string        `json:"part,omitempty"`
	Outcome string        `json:"outcome,omitempty"`
	Place   geo.Place     `json:"place"`
	Miss    float64       `json:"miss_m"` // from the map's middle
	Bearing float64       `json:"miss_bearing_deg"`
	MissSD  float64       `json:"miss_sd"` // in standard deviations of the map, in that direction
	Level   float64       `json:"level"`
	Inside  []float64     `json:"inside"`
	Causes  []learn.Share `json:"explained,omitempty"`
	Plan    *planVerdict  `json:"plan,omitempty"`
	Caution []string      `json:"cautions"`
}

// planVerdict says what the search plan of that map would have done.
type planVerdict struct {
	Probability float64  `json:"probability"` // that it finds what lies there
	First       *float64 `json:"first_pass_min"`
	Mean        *float64 `json:"mean_minutes_if_found"`
}

func found(e env, c *cli.Context) error {
	args := c.Args().Slice()
	if len(args) < 2 {
		return wrongf("windfall found needs a flight file and a place, such as: windfall found flight.yaml 39.0490,-5.5790")
	}
	at, err := place.Parse(strings.Join(args[1:], " "))
	if err != nil {
		return wrong{err}
	}
	f, m, err := loadPath(c, args[0])
	if err != nil {
		return err
	}
	s, err := situated(c, e, f, m)
	if err != nil {
		return err
	}
	q := s.model.Frame().ToXY(at)
	r := &foundResult{Flight: s.file.Flight.ID, Part: c.String("part"), Outcome: c.String("outcome"), Place: geo.Place{Lat: at.Lat(), Lon: at.Lon(), East: q.X, North: q.Y}, Caution: append([]string{}, s.file.Warnings...)}
	if err := r.judge(s, q); err != nil {
		return err
	}
	if r.Level == 1 && !c.Bool("anyway") && q.Norm() > farthest(s.cloud) {
		return wrongf("%s is %.1f km from the pad, where no simulated flight comes near; check the place, or log it all the same with --anyway", strings.Join(args[1:], " "), q.Norm()/1000)
	}
	if r.Part == "" && !c.Bool("no-plan") {
		if r.Plan, err = planFor(c, s, q); err != nil {
			return err
		}
	}
	if err := logFind(e, c, s, r); err != nil {
		return err
	}
	if c.Bool("json") {
		return writeJSON(e.out, r)
	}
	return r.print(e)
}

// farthest is three times as far from the pad as any landing, and a kilometre
// more: beyond it a place is more likely mistyped than true.
func farthest(c *drift.Cloud) float64 {
	far := 0.0
	for i := range c.Landings {
		far = max(far, c.Landings[i].At.Norm())
	}
	return 3*far + 1000
}

// judge holds the find against the map of the vehicle or of the part.
func (r *foundResult) judge(s *situation, q geo.XY) error {
	if r.Outcome != "" {
		var names []string
		ok := false
		for _, o := range s.model.Outcomes() {
			names = append(names, o.Name)
			ok = ok || o.Name == r.Outcome
		}
		if !ok {
			return wrongf("--outcome %q is not one of this flight's; write %s", r.Outcome, strings.Join(names, ", "))
		}
	}
	mom, chances := s.moments, s.chances
	if r.Part != "" {
		var err error
		if mom, chances, err = s.partMap(r.Part); err != nil {
			return err
		}
	} else {
		r.Causes = learn.Explain(s.model, q.Sub(mom.Mean))
	}
	miss := q.Sub(mom.Mean)
	r.Miss, r.Bearing = miss.Norm(), miss.BearingDeg()
	r.MissSD = mom.Deviations(miss)
	r.Level, r.Inside = chances.LevelAt(q), []float64{}
	for _, l := range levels {
		if r.Level <= l {
			r.Inside = append(r.Inside, l)
		}
	}
	return nil
}

// partMap is the map of a shed part, by name.
func (s *situation) partMap(name string) (grid.Moments, *grid.Map, error) {
	var names []string
	for _, p := range s.cloud.Parts {
		if p.Name != name {
			names = append(names, p.Name)
			continue
		}
		pts, w := make([]geo.XY, len(p.Landings)), make([]float64, len(p.Landings))
		for i, l := range p.Landings {
			pts[i], w[i] = l.At, 1
			if s.cloud.Weights != nil {
				w[i] = s.cloud.Weights[p.Run[i]]
			}
		}
		mom, err := grid.Measure(pts, w)
		if err != nil {
			return mom, nil, err
		}
		m, err := grid.From(s.cloud.Frame, pts, w, grid.Options{})
		return mom, m, err
	}
	if len(names) == 0 {
		return grid.Moments{}, nil, wrongf("--part %q: the flight file names no parts; add it under parts", name)
	}
	return grid.Moments{}, nil, wrongf("--part %q is not in the flight file; write %s", name, strings.Join(names, ", "))
}

// planFor works out whether and when the plan made of the map would have found
// what lay at q: every search leg that passes within half its sweep width adds
// one to the coverage, as the detection law has it.
func planFor(c *cli.Context, s *situation, q geo.XY) (*planVerdict, error) {
	plan, err := s.plan(c)
	if err != nil {
		return nil, err
	}
	var passes []float64
	for _, who := range plan.Searchers {
		for _, l := range who.Legs {
			if l.Kind != search.SearchLeg {
				continue
			}
			if t, ok := abeam(l, q); ok {
				passes = append(passes, t)
			}
		}
	}
	v := &planVerdict{}
	if len(passes) == 0 {
		return v, nil
	}
	slices.Sort(passes)
	left, mean := 1.0, 0.0
	for _, t := range passes {
		p := left * (1 - math.Exp(-1))
		mean += p * t
		left -= p
	}
	mean /= 1 - left
	v.Probability, v.First, v.Mean = 1-left, &passes[0], &mean
	return v, nil
}

// abeam returns the minute at which a leg passes q, and whether q lies within
// half its sweep width.
func abeam(l search.Leg, q geo.XY) (minute float64, ok bool) {
	a, b := geo.XY{X: l.From.East, Y: l.From.North}, geo.XY{X: l.To.East, Y: l.To.North}
	d, v := b.Sub(a), q.Sub(a)
	n := d.Norm()
	if n == 0 {
		return 0, false
	}
	t := (v.X*d.X + v.Y*d.Y) / (n * n)
	off := math.Abs(v.X*d.Y-v.Y*d.X) / n
	return l.StartMin + t*(l.EndMin-l.StartMin), t >= 0 && t <= 1 && off <= l.SweepWidth/2
}

// logFind writes the entry, with the inputs that made the map.
func logFind(e env, c *cli.Context, s *situation, r *foundResult) error {
	body, err := json.Marshal(findBody{Lat: r.Place.Lat, Lon: r.Place.Lon, Part: r.Part, Outcome: r.Outcome,
		Level: r.Level, MissM: r.Miss, Bearing: r.Bearing, SD: r.MissSD, Inside: r.Inside})
	if err != nil {
		return err
	}
	in, err := inputsOf(s.file, e.now(), c.Uint64("seed"), len(s.cloud.Landings), s.file.Learned.ID)
	if err != nil {
		return err
	}
	b, err := logbook.Open(logbookPath(e, c))
	if err != nil {
		return err
	}
	defer b.Close()
	before, err := b.Entries(logbook.Query{Flight: r.Flight, Kinds: []logbook.Kind{logbook.Find}})
	if err != nil {
		return err
	}
	if id := c.Int64("instead-of"); c.IsSet("instead-of") {
		for _, old := range before {
			if old.ID == id {
				r.ID = id
				_, err := b.Amend(id, c.String("by"), e.now(), body)
				return err
			}
		}
		return wrongf("--instead-of %d: that is not a find of %s; 'windfall log %s' lists them", id, r.Flight, r.Flight)
	}
	got, err := b.Add(in, logbook.Entry{Flight: r.Flight, Kind: logbook.Find, By: c.String("by"), When: e.now(), Body: body})
	if err != nil {
		return err
	}
	r.ID = got[0].ID
	for _, old := range before {
		var was findBody
		if json.Unmarshal(old.Body, &was) == nil && was.Part == r.Part {
			r.Caution = append(r.Caution, fmt.Sprintf("entry %d is a find of the same already; the latest counts. To take one back: windfall log --withdraw %d", old.ID, old.ID))
		}
	}
	return nil
}

func (r *foundResult) print(e env) error {
	p := &printer{w: e.out}
	what := r.Flight
	if r.Part != "" {
		what += ", " + r.Part
	}
	p.f("%s found %s: entry %d", what, fromPad(r.Place), r.ID)
	p.f("  miss              %.0f m from the map's middle, on bearing %03.0f: %.1f standard deviations", r.Miss, math.Mod(math.Round(r.Bearing), 360), r.MissSD)
	p.f("  level             %.3f: the area of this probability just reaches it", r.Level)
	if len(r.Inside) == 0 {
		p.f("                    outside the 95 %% area")
	} else {
		p.f("                    inside the %.0f %% area", 100*r.Inside[0])
	}
	for i, s := range r.Causes {
		head := ""
		if i == 0 {
			head = "explained by"
		}
		p.f("  %-17s %-12s %4.0f m likely, up to %.0f m within two standard deviations", head, s.Cause, s.Likely, s.Could)
	}
	switch {
	case r.Plan == nil:
	case r.Plan.First == nil:
		p.f("  the plan          would not have passed it")
	default:
		p.f("  the plan          passes it first after %.0f min and finds it with %.0f %%, on average after %.0f min", *r.Plan.First, 100*r.Plan.Probability, *r.Plan.Mean)
	}
	p.f("")
	p.f("windfall learn refits the spreads with it")
	p.list("caution", r.Caution)
	return p.err
}
