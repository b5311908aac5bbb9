package hindcast

import (
	"context"
	"math"

	"windfall/drift"
	"windfall/drift/trigger"
	"windfall/drift/wind"
	"windfall/drift/wind/spread"
	"windfall/geo"
	"windfall/geo/grid"
)

// Rockets are invented, one for short flights and one for tall, with a canopy
// of known sink rate: what they are hardly matters, how high they go does.
func Rockets() map[string]drift.Flight {
	n := func(v float64) *float64 { return &v }
	type size struct{ kg, mm, m, impulse, burn, propellant, delay, sink float64 }
	rocket := func(s size) drift.Flight {
		return drift.Flight{
			Rail:    drift.Rail{Length: 1},
			Vehicle: drift.Vehicle{Mass: s.kg, Diameter: s.mm / 1000, Length: s.m, Drag: []drift.MachCd{{Cd: 0.6}}},
			Motor:   drift.Motor{Impulse: n(s.impulse), Burn: n(s.burn), Propellant: n(s.propellant), Delay: n(s.delay)},
			Recovery: []drift.Device{{Kind: "parachute", Canopy: true, Trigger: trigger.Trigger{Kind: trigger.Ejection},
				DescentRate: n(s.sink), OpeningDelay: 0.5}},
		}
	}
	return map[string]drift.Flight{
		"short": rocket(size{0.1, 25, 0.5, 5.6, 0.8, 0.006, 4, 4}),     // tops out near 110 m
		"tall":  rocket(size{0.9, 54, 1.2, 115, 1.3, 0.06, 8, 6}),      // near 500 m
		"high":  rocket(size{1.6, 54, 1.5, 480, 2.2, 0.24, 14.5, 7.5}), // near 1800 m
	}
}

// Flown is a case flown: the map that the flier would have had, against where
// the same rocket, as designed, came down in the air as it then was.
type Flown struct {
	Level  float64 // the highest-density probability whose area just reaches it
	Area50 float64 // m2
	Area90 float64
	// logarithm of the map's density there, 1/m2; cells outside count as one landing of the runs in the area of the map
	LogScore float64
	Apogee   float64 // m
}

// Fly flies a case. old: with the spreads that any wind had before they went
// by kind, as Flight.Spread may still ask for.
func Fly(ctx context.Context, rocket drift.Flight, c *Case, runs int, old bool) (Flown, error) {
	f := rocket
	f.Site = drift.Site{Pad: c.Truth.Place}
	f.When = c.Truth.Time
	p, s := c.Spread(&spread.Fitted)
	if p.Spread = s; old {
		p.Spread = nil
	}
	f.Wind = []wind.Choice{{Profile: p}}
	m, err := drift.Prepare(f)
	if err != nil {
		return Flown{}, err
	}
	cloud, err := m.Run(ctx, drift.Options{Runs: runs, Seed: 1})
	if err != nil {
		return Flown{}, err
	}
	f.Wind = []wind.Choice{{Profile: c.Truth.Profile}}
	was, err := drift.Prepare(f)
	if err != nil {
		return Flown{}, err
	}
	pts := make([]geo.XY, len(cloud.Landings))
	for i := range pts {
		pts[i] = cloud.Landings[i].At
	}
	chances, err := grid.From(cloud.Frame, pts, nil, grid.Options{MaxCells: 1 << 16})
	if err != nil {
		return Flown{}, err
	}
	at := was.Nominal().At
	out := Flown{Level: chances.LevelAt(at), Area50: chances.Area(0.5), Area90: chances.Area(0.9),
		Apogee: was.Nominal().ApogeeM}
	least := 1 / float64(runs) / (float64(chances.NX*chances.NY) * chances.Cell * chances.Cell)
	density := 0.0
	if i, j, ok := chances.At(at); ok {
		density = chances.P[j*chances.NX+i] / (chances.Cell * chances.Cell)
	}
	out.LogScore = math.Log(max(density, least))
	return out, nil
}
