package main

import (
	"math"
	"strings"

	"github.com/urfave/cli/v2"

	"windfall/drift"
	"windfall/drift/evidence"
	"windfall/geo"
	"windfall/geo/grid"
)

// priorResult is the map before the sightings, beside the one after them.
type priorResult struct {
	Landing  landingResult `json:"landing"`
	Outcomes []priorChance `json:"outcomes"`
}

type priorChance struct {
	Name        string  `json:"name"`
	Probability float64 `json:"probability"` // as the flight file has it
}

// sightingResult is what one sighting did to the map.
type sightingResult struct {
	ID          int64   `json:"id"`
	By          string  `json:"by"`
	What        string  `json:"what"`
	Mistake     float64 `json:"mistake"` // chance that it is one
	SE          float64 `json:"se"`      // of mistake
	Disagrees   bool    `json:"disagrees"`
	Moved       float64 `json:"moved"` // share of the chance that lies elsewhere because of it
	MovedMost   bool    `json:"moved_most"`
	AreaWithout float64 `json:"area_without_m2"` // 90 % area had it not been made
}

// changeResult is a quantity of the flight before and after the sightings:
// mean and standard deviation over the runs.
type changeResult struct {
	Name     string  `json:"name"`
	Before   float64 `json:"before"`
	BeforeSD float64 `json:"before_sd"`
	After    float64 `json:"after"`
	AfterSD  float64 `json:"after_sd"`
}

// weighed fills what the sightings changed.
func (s *situation) weighed(r *result) error {
	p := s.posterior
	if p == nil {
		return nil
	}
	pts := make([]geo.XY, len(p.Prior.Landings))
	for i := range pts {
		pts[i] = p.Prior.Landings[i].At
	}
	m, err := grid.From(p.Prior.Frame, pts, nil, grid.Options{})
	if err != nil {
		return err
	}
	mom, err := grid.Measure(pts, nil)
	if err != nil {
		return err
	}
	r.Prior = &priorResult{Landing: landingOf(p.Prior.Frame, mom, m)}
	for k, o := range p.Outcomes {
		r.Prior.Outcomes = append(r.Prior.Outcomes, priorChance{o.Name, o.Before})
		if len(s.gone) == 0 { // the tracks have changed them since
			r.Outcomes[k].Probability, r.Outcomes[k].SE = o.After, o.SE
		}
	}
	most := 0
	for i, in := range p.Sightings {
		if in.Moved > p.Sightings[most].Moved {
			most = i
		}
		r.Sightings = append(r.Sightings, sightingResult{
			ID: in.ID, By: in.By, What: in.String(), Mistake: in.Wrong, SE: in.WrongSE, Disagrees: in.Wrong > 0.5,
			Moved: in.Moved, AreaWithout: in.AreaWithout,
		})
	}
	r.Sightings[most].MovedMost = true
	r.Changes = changes(p)
	r.Cautions = append(r.Cautions, p.Cautions...)
	return nil
}

// changes compares the flight's figures, and those inputs that the sightings
// moved, in standard deviations of the model's own spread.
func changes(p *evidence.Posterior) []changeResult {
	var out []changeResult
	for _, q := range []struct {
		name string
		of   func(*drift.Landing) float64
	}{
		{"apogee_m", func(l *drift.Landing) float64 { return l.ApogeeM }},
		{"landing_s", func(l *drift.Landing) float64 { return l.LandingS }},
		{"landing_mps", func(l *drift.Landing) float64 { return l.LandingMps }},
	} {
		b, bs := meanOf(p.Prior, q.of)
		a, as := meanOf(p.Cloud, q.of)
		out = append(out, changeResult{q.name, b, bs, a, as})
	}
	for _, in := range p.Inputs {
		if math.Abs(in.Mean) > 0.3 || in.SD < 0.8 {
			out = append(out, changeResult{in.Name + ", in its standard deviations", 0, 1, in.Mean, in.SD})
		}
	}
	return out
}

func meanOf(c *drift.Cloud, of func(*drift.Landing) float64) (mean, sd float64) {
	w := 1 / float64(len(c.Landings))
	var sum, sq float64
	for i := range c.Landings {
		if c.Weights != nil {
			w = c.Weights[i]
		}
		v := of(&c.Landings[i])
		sum += w * v
		sq += w * v * v
	}
	return sum, math.Sqrt(math.Max(0, sq-sum*sum))
}

// evidenceLines prints what the sightings changed.
func (p *printer) evidenceLines(r *result) {
	if r.Prior == nil {
		return
	}
	p.f("")
	p.f("what the sightings changed")
	p.f("  90 %% in           %s before, %s after", hectares(r.Prior.Landing.Areas[2].AreaM2), hectares(r.Landing.Areas[2].AreaM2))
	for k, o := range r.Prior.Outcomes {
		p.f("  %-16s  %5.1f %% before, %5.1f %% after", o.Name, 100*o.Probability, 100*r.Outcomes[k].Probability)
	}
	for _, v := range r.Changes {
		p.f("  %-40s %.3g (+- %.2g) before, %.3g (+- %.2g) after", v.Name, v.Before, v.BeforeSD, v.After, v.AfterSD)
	}
	p.f("")
	p.f("what each sighting did")
	for _, s := range r.Sightings {
		var notes []string
		if s.MovedMost && len(r.Sightings) > 1 {
			notes = append(notes, "moved the map most")
		}
		if s.Disagrees {
			notes = append(notes, "DISAGREES with the rest")
		}
		p.f("  %3d  %s", s.ID, s.What)
		p.f("       moved %.0f %% of the chance; without it 90 %% in %s; a mistake: %s  %s",
			100*s.Moved, hectares(s.AreaWithout), strings.TrimSpace(percent(s.Mistake, s.SE)), strings.Join(notes, ", "))
	}
}

func dividedFlag() cli.Flag {
	return &cli.BoolFlag{Name: "divided", Usage: "give the map also when the sightings contradict each other"}
}
