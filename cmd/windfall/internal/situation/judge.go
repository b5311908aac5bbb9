package situation

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"windfall/cmd/windfall/internal/usage"
	"windfall/drift"
	"windfall/drift/learn"
	"windfall/geo"
	"windfall/search"
	"windfall/search/detect"
)

// Find is where the vehicle, or a part of it, lay.
type Find struct {
	At      geo.XY
	Part    string // a shed part; "": the vehicle
	Outcome string // how the flight went; "": not known
}

// Unknown says that a find is of a part or an outcome that the flight has not.
func (f Find) Unknown(in Input) error {
	outcomes, parts := []string{}, []string{}
	for _, o := range in.Model.Outcomes() {
		outcomes = append(outcomes, o.Name)
	}
	for _, p := range in.Flight.Parts {
		parts = append(parts, p.Name)
	}
	switch {
	case f.Outcome != "" && !slices.Contains(outcomes, f.Outcome):
		return usage.Errorf("outcome %q is not one of this flight's; write %s", f.Outcome, strings.Join(outcomes, ", "))
	case f.Part != "" && len(parts) == 0:
		return usage.Errorf("part %q: the flight file names no parts; add it under parts", f.Part)
	case f.Part != "" && !slices.Contains(parts, f.Part):
		return usage.Errorf("part %q is not in the flight file; write %s", f.Part, strings.Join(parts, ", "))
	}
	return nil
}

// Mistyped says that a find is more likely mistyped than true: it lies three
// times as far from the pad as any of some simulated flights comes down, and a
// kilometre more.
func (f Find) Mistyped(ctx context.Context, in Input) bool {
	const flights = 1000
	c, err := in.Model.Run(ctx, drift.Options{Runs: flights, Seed: 1})
	if err != nil {
		return false
	}
	far := 0.0
	for i := range c.Landings {
		far = max(far, c.Landings[i].At.Norm())
	}
	return f.At.Norm() > 3*far+1000
}

// Judgement says how well a map had done for a find.
type Judgement struct {
	Miss     float64       `json:"miss_m"` // from the map's middle
	Bearing  float64       `json:"miss_bearing_deg"`
	MissSD   float64       `json:"miss_sd"` // in standard deviations of the map, in that direction
	Level    float64       `json:"level"`   // of the smallest area that holds it
	Unwalked *float64      `json:"level_before_tracks,omitempty"`
	Inside   []float64     `json:"inside"` // levels of the areas that hold it
	Causes   []learn.Share `json:"explained,omitempty"`
	Beyond   *float64      `json:"beyond_m,omitempty"` // all causes reach this far together; nil: they may explain it
}

// Of a find that no area holds, what all inputs reach together in this many
// standard deviations does not explain what lies farther: a choice of ours.
const (
	noArea    = 0.999
	explained = 6.0
)

// beyond says how far along the miss two standard deviations of all inputs
// together reach, m, where nothing of that explains it; nil where it may.
func (j *Judgement) beyond() *float64 {
	reach := 0.0
	for _, s := range j.Causes {
		reach = math.Hypot(reach, s.Could)
	}
	if len(j.Causes) == 0 || j.Level < noArea || j.Miss <= explained/2*reach {
		return nil
	}
	return &reach
}

// Judge holds a find against the map of the vehicle or of the part.
func Judge(s *State, f Find) (*Judgement, error) {
	if err := f.Unknown(s.Input); err != nil {
		return nil, err
	}
	j := &Judgement{Inside: []float64{}}
	mom, m := s.Moments, s.Map
	if f.Part != "" {
		k := slices.IndexFunc(s.Parts, func(p partMap) bool { return p.Name == f.Part })
		if k < 0 || s.Parts[k].Map == nil {
			return nil, fmt.Errorf("part %q comes off in no simulated flight: there is no map of it", f.Part)
		}
		mom, m = s.Parts[k].Moments, s.Parts[k].Map
	} else {
		j.Causes = learn.Explain(s.Input.Model, f.At.Sub(mom.Mean))
		if s.FoundBy > 0 {
			l := s.Unwalked.LevelAt(f.At)
			j.Unwalked = &l
		}
	}
	miss := f.At.Sub(mom.Mean)
	j.Miss, j.Bearing, j.MissSD = miss.Norm(), miss.BearingDeg(), mom.Deviations(miss)
	j.Level = m.LevelAt(f.At)
	for _, l := range levels {
		if j.Level <= l {
			j.Inside = append(j.Inside, l)
		}
	}
	if j.Beyond = j.beyond(); j.Beyond != nil {
		j.Causes = nil
	}
	return j, nil
}

// Worth says whether and when a plan finds what lies at a place. First and Mean
// are nil when no search leg passes it.
type Worth struct {
	Probability float64  `json:"probability"` // that it finds what lies there
	First       *float64 `json:"first_pass_min"`
	Mean        *float64 `json:"mean_minutes_if_found"`
}

// PlanWorth works out what a plan does for what lies at q: every search leg
// that passes it may find it, as the detection law has it.
func PlanWorth(p *search.Plan, q geo.XY, law detect.Law) Worth {
	type pass struct{ minute, miss float64 }
	var passes []pass
	for _, who := range p.Searchers {
		for _, l := range who.Legs {
			if l.Kind != search.SearchLeg {
				continue
			}
			a, b := inMetres(l.From), inMetres(l.To)
			if miss := search.Missed(law, []search.Pass{{A: a, B: b, Width: l.SweepWidth}})(q); miss < 1 {
				passes = append(passes, pass{l.StartMin + along(a, b, q)*(l.EndMin-l.StartMin), miss})
			}
		}
	}
	if len(passes) == 0 {
		return Worth{}
	}
	slices.SortFunc(passes, func(a, b pass) int {
		switch {
		case a.minute < b.minute:
			return -1
		case a.minute > b.minute:
			return 1
		}
		return 0
	})
	left, mean := 1.0, 0.0
	for _, x := range passes {
		found := left * (1 - x.miss)
		mean += found * x.minute
		left -= found
	}
	mean /= 1 - left
	return Worth{Probability: 1 - left, First: &passes[0].minute, Mean: &mean}
}

// along returns where on the way from a to b, 0 to 1, it passes q.
func along(a, b, q geo.XY) float64 {
	d, v := b.Sub(a), q.Sub(a)
	return v.Dot(d) / d.Dot(d)
}

func inMetres(p geo.Place) geo.XY { return geo.XY{X: p.East, Y: p.North} }
