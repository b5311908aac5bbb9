package main

import (
	"io"
	"math"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/outdir"
	"windfall/geo/mapfile"
	"windfall/search"
)

// oneWalker is who searches where the flight file names nobody.
var oneWalker = search.Searcher{Name: "walker", Kind: search.Walker, Speed: 3 / 3.6, Available: 90 * 60}

func searchCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "search", Usage: "locate, then who walks and flies where to find it soonest", ArgsUsage: "FLIGHT",
		Description: searchHelp,
		Flags:       append([]cli.Flag{jsonFlag(), seedFlag(), outFlag(), runsFlag(), landingsFlag(), logbookFlag(), noLearningFlag(), dividedFlag()}, planFlags()...),
		Action: func(c *cli.Context) error {
			s, err := located(c, e)
			if err != nil {
				return err
			}
			return s.search(c, e)
		},
	}
}

// searchResult is the JSON of search: all of locate's, and the plan.
type searchResult struct {
	*result
	Plan *search.Plan `json:"plan"`
}

func (s *situation) search(c *cli.Context, e env) error {
	plan, err := s.plan(c)
	if err != nil {
		return err
	}
	r, err := s.summarise()
	if err != nil {
		return err
	}
	r.Cautions = append(r.Cautions, plan.Cautions...)
	set := outdir.Open(outFolder(c, s.file))
	defer set.Discard()
	l := s.layers(r)
	if err := addFiles(set, l, mapfile.Options{}); err != nil {
		return err
	}
	if err := s.planLayers(l, plan); err != nil {
		return err
	}
	if err := addFiles(set, l, mapfile.Options{}); err != nil {
		return err
	}
	if err := s.landingsTo(c, set); err != nil {
		return err
	}
	if err := c.Context.Err(); err != nil {
		return err
	}
	if r.Files, err = set.Commit(); err != nil {
		return err
	}
	if c.Bool("json") {
		return writeJSON(e.out, searchResult{r, plan})
	}
	return s.printPlan(e.out, r, plan)
}

// windAt is the wind speed that drones meet, m/s: the greatest of the profiles
// at the highest drone's height.
func (s *situation) windAt() float64 {
	speed := 0.0
	for _, who := range s.file.Searchers {
		for _, w := range s.file.Flight.Wind {
			if who.Height > 0 {
				u, v := w.Profile.At(who.Height)
				speed = max(speed, math.Hypot(u, v))
			}
		}
	}
	return speed
}

// printPlan prints the search for people: what it is worth, then each
// searcher's legs.
func (s *situation) printPlan(w io.Writer, r *result, plan *search.Plan) error {
	p := &printer{w: w}
	p.f("flight %s: search, %.0f minutes", r.Flight, plan.Minutes)
	p.f("  likeliest ground  %s", fromPad(r.Landing.Mean))
	p.f("                    %s", s.placeText(r.Landing.Mean))
	p.f("  50 / 90 %% in      %s / %s", hectares(r.Landing.Areas[0].AreaM2), hectares(r.Landing.Areas[2].AreaM2))
	p.f("  chance to find it %.0f %% with this plan; no plan of this effort does better than %.0f %%", 100*plan.POS, 100*plan.UpperBound)
	if plan.POS > 0 {
		p.f("  if it is found    after %.0f minutes on average", plan.MeanIfFound)
	}
	p.f("  left after        %.0f %%, of which outside the map %.1f %%", 100*plan.Left, 100*plan.Outside)
	for _, who := range plan.Searchers {
		p.f("")
		p.f("%s, %s, sweep width %.0f m, back after %.0f minutes", who.Name, who.Kind, who.SweepWidth, who.Minutes)
		for _, g := range who.Legs {
			v := xy(g.To).Sub(xy(g.From))
			p.f("  %3d  %5.1f min  %-8s  %03.0f deg  %4.0f m  POS %4.1f %%", g.N, g.StartMin, g.Kind, math.Mod(math.Round(v.BearingDeg()), 360), v.Norm(), 100*g.POS)
		}
	}
	p.list("assumed", r.Assumptions)
	p.list("caution", r.Cautions)
	p.list("wrote", r.Files)
	return p.err
}
