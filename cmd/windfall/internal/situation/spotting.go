package situation

import (
	"context"

	"windfall/drift/evidence"
	"windfall/geo"
)

// Spotting is the JSON document of where observers should stand; areas are 90 % areas.
type Spotting struct {
	Flight     string          `json:"flight"`
	Seed       uint64          `json:"seed"`
	N          int             `json:"n"`
	Runs       int             `json:"runs"`
	Trials     int             `json:"trials"` // watched flights behind every mean
	SeesTo     float64         `json:"sees_to_m"`
	Without    float64         `json:"area_without_m2"`
	Best       []spotterSet    `json:"best"` // best first
	Candidates []candidate     `json:"candidates"`
	Exhaustive bool            `json:"exhaustive"` // every set was tried
	Cards      []evidence.Card `json:"cards"`      // of the best set
	Files      []string        `json:"files"`
	Cautions   []string        `json:"cautions"`
}

type spotterSet struct {
	Places []string `json:"places"`
	Area   float64  `json:"area_m2"` // expected with these observers
	SE     float64  `json:"se_m2"`
}

type candidate struct {
	Name string `json:"name"`
	geo.Place
	SeesEjection float64 `json:"sees_ejection"`
	SeesLanding  float64 `json:"sees_landing"`
	SE           float64 `json:"se"`      // of both
	Area         float64 `json:"area_m2"` // expected with this observer alone
	AreaSE       float64 `json:"se_m2"`
}

// Spot works out where observers should stand before a launch, and makes the
// cards of the best set.
func Spot(ctx context.Context, in Input, cands []evidence.Candidate, o evidence.SpotterOptions) (*Spotting, error) {
	best, err := evidence.Spotters(ctx, in.Model, cands, o)
	if err != nil {
		return nil, err
	}
	r := spotNumbers(in, cands, o, best)
	var stands []evidence.Candidate
	for _, p := range best.Best[0].Places {
		stands = append(stands, cands[p])
	}
	if r.Cards, err = evidence.Cards(ctx, in.Model, stands, evidence.CardOptions{Seed: o.Seed}); err != nil {
		return nil, err
	}
	r.Cautions = append(r.Cautions, in.Model.Cautions()...)
	if in.Flight.Terrain == nil {
		r.Cautions = append(r.Cautions, "no terrain in the flight file: hills and trees that hide the vehicle do not count")
	}
	return r, nil
}

// spotNumbers is the document without cards and cautions.
func spotNumbers(in Input, cands []evidence.Candidate, o evidence.SpotterOptions, best *evidence.Spots) *Spotting {
	frame := in.Model.Frame()
	r := &Spotting{Flight: in.Flight.ID, Seed: o.Seed, N: o.N, Runs: o.Runs, Trials: o.Trials, SeesTo: o.SeesTo,
		Without: best.Without, Exhaustive: best.Exhaustive, Cautions: []string{}, Files: []string{}}
	for _, s := range best.Best {
		set := spotterSet{Area: s.Area, SE: s.SE}
		for _, p := range s.Places {
			set.Places = append(set.Places, cands[p].Name)
		}
		r.Best = append(r.Best, set)
	}
	for i, cand := range cands {
		p := frame.PlaceOf(cand.At)
		s, alone := best.Sees[i], best.Alone[i]
		r.Candidates = append(r.Candidates, candidate{cand.Name, p, s.Ejection, s.Landing, s.SE, alone.Area, alone.SE})
	}
	return r
}
