package situation

import (
	"math"

	"windfall/drift"
	"windfall/drift/evidence"
)

// prior is the map before the sightings, beside the one after them.
type prior struct {
	Landing  landing       `json:"landing"`
	Outcomes []priorChance `json:"outcomes"`
}

type priorChance struct {
	Name        string  `json:"name"`
	Probability float64 `json:"probability"` // as the flight file has it
}

// sighting is what one sighting did to the map.
type sighting struct {
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

// change is a quantity of the flight before and after the sightings: mean and
// standard deviation over the runs.
type change struct {
	Name     string  `json:"name"`
	Before   float64 `json:"before"`
	BeforeSD float64 `json:"before_sd"`
	After    float64 `json:"after"`
	AfterSD  float64 `json:"after_sd"`
	Words    string  `json:"in_words,omitempty"` // of an input
}

// weighing fills what the sightings changed.
func (s *State) weighing(r *Summary) error {
	p := s.Posterior
	if p == nil {
		return nil
	}
	mom, m, err := mapOf(p.Prior.Frame, points(p.Prior), nil)
	if err != nil {
		return err
	}
	r.Prior = &prior{Landing: landingOf(p.Prior.Frame, mom, m)}
	for k, o := range p.Outcomes {
		r.Prior.Outcomes = append(r.Prior.Outcomes, priorChance{o.Name, o.Before})
		if len(s.Input.Tracks) == 0 { // the tracks have changed them since
			r.Outcomes[k].Probability, r.Outcomes[k].SE = o.After, o.SE
		}
	}
	most := 0
	for i, in := range p.Sightings {
		if in.Moved > p.Sightings[most].Moved {
			most = i
		}
		r.Sightings = append(r.Sightings, sighting{
			ID: in.ID, By: in.By, What: in.String(), Mistake: math.Min(1, in.Wrong), SE: in.WrongSE, Disagrees: in.Wrong > 0.5,
			Moved: in.Moved, AreaWithout: in.AreaWithout,
		})
	}
	r.Sightings[most].MovedMost = true
	r.Changes = changes(s.Input.Model, p)
	r.Cautions = append(r.Cautions, p.Cautions...)
	return nil
}

// changes compares the flight's figures, and those inputs that the sightings
// moved, in standard deviations of the model's own spread.
func changes(m *drift.Model, p *evidence.Posterior) []change {
	var out []change
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
		out = append(out, change{q.name, b, bs, a, as, ""})
	}
	for _, in := range p.Inputs {
		if math.Abs(in.Mean) > 0.3 || in.SD < 0.8 {
			out = append(out, change{in.Name + ", in its standard deviations", 0, 1, in.Mean, in.SD, m.InWords(in.Name,
				in.Mean)})
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
