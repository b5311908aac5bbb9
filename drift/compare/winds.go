package compare

import (
	"context"
	"math"
	"slices"

	"windfall/drift"
	"windfall/drift/wind"
	"windfall/drift/wind/sources"
	"windfall/drift/wind/spread"
	"windfall/geo"
	"windfall/geo/grid"
)

// WindWorth is what a flight's kind of wind costs.
type WindWorth struct {
	Kind   string  `json:"kind"`
	Says   string  `json:"says"`             // the wind in words
	Area90 float64 `json:"area_90_m2"`       // with it
	Times  float64 `json:"times_a_sounding"` // that area over the one that a sounding of the hour and place would give
	Helps  []Help  `json:"helps"`            // the most first
}

// Help is what would make the map smaller.
type Help struct {
	What   string  `json:"what"`
	Area90 float64 `json:"area_90_m2"`
}

// worthRuns is how many runs an area is told from: within some 5 %.
const worthRuns = 2048

// readingAt is where the helps of Worth have the reading at the pad.
const readingAt = 2

// helpful is how much smaller an area must be to be worth telling.
const helpful = 0.9

// Worth says what a flight's kind of wind costs; nil where the wind is of the
// hour and place, or the flight gives its own spread. Areas of all runs, all
// outcomes.
func Worth(ctx context.Context, f drift.Flight) (*WindWorth, error) {
	s := f.MainSpread()
	if s == nil || len(s.Rows) == 0 {
		return nil, nil
	}
	w := &WindWorth{Kind: s.Kind.String(), Says: s.Says, Helps: []Help{}}
	var err error
	if w.Area90, err = area90(ctx, f, func(p wind.Profile) wind.Profile { return p }); err != nil {
		return nil, err
	}
	for i, h := range []struct {
		what string
		make func(wind.Profile) wind.Profile
	}{
		{"a pilot balloon, or a sounding of the hour", fresh},
		{"an hourly forecast", forecast},
		{"a reading at the pad at launch", read},
	} {
		if s.Kind == wind.Surface && s.Hours == 0 && i == readingAt {
			continue // that is what it is
		}
		a, err := area90(ctx, f, h.make)
		if err != nil {
			return nil, err
		}
		if i == 0 {
			w.Times = w.Area90 / a
		}
		if a < helpful*w.Area90 {
			w.Helps = append(w.Helps, Help{h.what, a})
		}
	}
	slices.SortStableFunc(w.Helps, func(a, b Help) int { return int(math.Copysign(1, a.Area90-b.Area90)) })
	return w, nil
}

// fresh is a profile as if it were of the hour and place.
func fresh(p wind.Profile) wind.Profile {
	p.Spread, p.Shape = nil, nil
	return p
}

// forecast is a profile as wrong as a short forecast.
func forecast(p wind.Profile) wind.Profile {
	p.Spread, p.Shape = nil, sources.ForecastShape(p)
	return p
}

// read is a profile with a reading at the pad on top that says what was thought.
func read(p wind.Profile) wind.Profile {
	if p.Spread == nil || len(p.Spread.Rows) == 0 {
		return p
	}
	const hand = 2.0 // m
	u, v := p.At(hand)
	r := p.Spread.At(hand)
	from := geo.XY{X: -u - r.U, Y: -v - r.V}
	p.Spread = spread.Fitted.Measured(p, p.Spread, spread.Measurement{Height: hand, Speed: from.Norm(),
		FromDeg: from.BearingDeg()})
	return p
}

// area90 is the 90 % area of a flight whose winds are made anew, m2.
func area90(ctx context.Context, f drift.Flight, anew func(wind.Profile) wind.Profile) (float64, error) {
	f.Wind = slices.Clone(f.Wind)
	for i := range f.Wind {
		f.Wind[i].Profile = anew(f.Wind[i].Profile)
	}
	m, err := drift.Prepare(f)
	if err != nil {
		return 0, err
	}
	c, err := m.Run(ctx, drift.Options{Runs: worthRuns, Seed: 1})
	if err != nil {
		return 0, err
	}
	at := make([]geo.XY, len(c.Landings))
	for i := range at {
		at[i] = c.Landings[i].At
	}
	g, err := grid.From(c.Frame, at, nil, grid.Options{MaxCells: 1 << 16})
	if err != nil {
		return 0, err
	}
	return g.Area(0.9), nil
}
