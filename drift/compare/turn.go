package compare

import (
	"context"
	"fmt"
	"math"
	"slices"

	"windfall/geo"
)

// How the best direction of the rail is looked for; choices of ours. Halving
// 30 degrees twice leaves it known to 3.75 where the chance has one top, about
// as well as a rail is set by hand.
const (
	turnFirst = 30.0 // degrees between the first directions
	turnLast  = 7.5  // degrees, the last step to each side
	turnShare = 4    // the search flies this part of a row's runs
	turnLeast = 100  // and at least so many
)

// turnRail finds the direction of rail.toward=auto with the highest score and
// sets it.
func (e *engine) turnRail(ctx context.Context, r *Row, runs int) error {
	at, err := bestDirection(func(deg float64) (float64, bool, error) {
		err := e.try(ctx, r, append(slices.Clone(r.settings), rail(deg)), runs)
		if err != nil {
			return 0, false, err
		}
		return r.score, r.Model.Flight().Rail.LeanDeg > 0, nil
	})
	if err != nil {
		return err
	}
	s := rail(at)
	r.turn = false
	r.put(s.Key, s.Value)
	return nil
}

func rail(deg float64) Setting { return Setting{toward, fmt.Sprintf("%g deg", deg)} }

// bestDirection returns the direction in degrees with the highest score:
// twelve round the compass, then half the step to each side of the best, twice.
// A vertical rail leans nowhere: try says so, and the first direction is taken.
func bestDirection(try func(deg float64) (score float64, leans bool, err error)) (float64, error) {
	best, at, leaning := math.Inf(-1), 0.0, true
	look := func(deg float64) error {
		score, leans, err := try(geo.NormDeg(deg))
		if err == nil && score > best {
			best, at = score, geo.NormDeg(deg)
		}
		leaning = leans
		return err
	}
	for deg := 0.0; deg < 360 && leaning; deg += turnFirst {
		if err := look(deg); err != nil {
			return 0, err
		}
	}
	for step := turnFirst / 2; step >= turnLast && leaning; step /= 2 {
		from := at
		for _, deg := range []float64{from - step, from + step} {
			if err := look(deg); err != nil {
				return 0, err
			}
		}
	}
	return at, nil
}
