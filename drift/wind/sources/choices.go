package sources

import (
	"fmt"
	"math"

	"windfall/drift/wind"
)

// Choices returns the winds that a flight draws from: one, or one for each
// member of the source; a variable direction (VRB) becomes twelve round the
// compass. Heights are as in the report. Levels by elevation that would lie
// under the pad, and those of a sounding that would lie under 10 m, give way to
// one at 10 m: a sounding's surface observation as it is, where it was made at
// most 150 m below the pad, else the wind interpolated there.
func (r Report) Choices(opt Options) ([]wind.Choice, error) {
	if len(r.Levels) == 0 {
		return nil, fmt.Errorf("%s: has no levels", r.Label)
	}
	alts := r.Alternatives
	if len(alts) == 0 {
		alts = [][]Level{r.Levels}
	}
	south := opt.Pad != nil && opt.Pad[1] < 0
	var out []wind.Choice
	for i, a := range alts {
		label := r.Label
		if len(r.Labels) > 0 {
			label = r.Labels[i]
		}
		for _, ls := range allRound(a) {
			ls, err := r.flown(ls)
			if err != nil {
				return nil, err
			}
			p := wind.Profile{South: south, VeerDeg: wind.DefaultVeer, Shape: r.shape()}
			for _, l := range ls {
				p.Levels = append(p.Levels, wind.Level{Height: l.Height, Speed: l.Speed, FromDeg: turn(l.FromDeg)})
			}
			p.Spread = r.Spread(p, opt, false)
			out = append(out, wind.Choice{Profile: p, Weight: 1, Label: label})
		}
	}
	return out, nil
}

// compassPoints is how many directions stand for a variable one.
const compassPoints = 12

// allRound replaces a wind without direction by winds from all round.
func allRound(ls []Level) [][]Level {
	if len(ls) != 1 || !math.IsNaN(ls[0].FromDeg) {
		return [][]Level{ls}
	}
	var out [][]Level
	for i := range compassPoints {
		l := ls[0]
		l.FromDeg = float64(i) * 360 / compassPoints
		out = append(out, []Level{l})
	}
	return out
}

const (
	nearGround = anemometer // m: lower levels of a sounding are its surface observation
	samePlace  = 150.0      // m: wind at the ground follows the ground over so much; a choice of ours
	footing    = 0.1        // m: levels by elevation below this are under the pad's ground
)

// aboveGround replaces the levels that lie under the pad's ground, and those of
// a sounding under 10 m, by the wind at 10 m.
func (r Report) aboveGround(ls []Level) ([]Level, error) {
	floor := footing
	if r.Kind == Sounding || r.FromLowest {
		floor = nearGround
	}
	low := -1
	for i, l := range ls {
		if l.Height < floor {
			low = i
		}
	}
	if low < 0 {
		return ls, nil
	}
	surface := -1
	for i := low; i >= 0 && floor == nearGround && ls[i].Height >= -samePlace; i-- {
		surface = i
	}
	rest := ls[low+1:]
	var l Level
	switch {
	case surface >= 0:
		l = ls[surface]
	case len(rest) == 0:
		return nil, fmt.Errorf("%s: all levels lie below the pad, the highest by %.0f m; check the elevations of pad "+
			"and source", r.Label, -ls[low].Height)
	case rest[0].Height < nearGround:
		return rest, nil
	default:
		l = interpolate(ls, nearGround)
	}
	if len(rest) > 0 && rest[0].Height <= nearGround {
		return rest, nil
	}
	l.Elevation += nearGround - l.Height
	l.Height = nearGround
	return append([]Level{l}, rest...), nil
}

// flown returns levels strictly ascending and above the ground; winds at the
// same height are averaged.
func (r Report) flown(ls []Level) ([]Level, error) {
	if r.Kind == Sounding || r.aboveSea {
		var err error
		if ls, err = r.aboveGround(ls); err != nil {
			return nil, err
		}
	}
	var out []Level
	for i := 0; i < len(ls); {
		j := i
		var u, v float64
		for ; j < len(ls) && ls[j].Height-ls[i].Height < 0.01; j++ {
			du, dv := components(ls[j].FromDeg, ls[j].Speed)
			u, v = u+du, v+dv
		}
		l := ls[i]
		if n := float64(j - i); n > 1 {
			l.FromDeg, l.Speed = polar(u/n, v/n)
		}
		out = append(out, l)
		i = j
	}
	return out, nil
}

// interpolate returns the wind at height z: components linear between levels,
// the nearest level's outside them.
func interpolate(ls []Level, z float64) Level {
	n := len(ls)
	if z <= ls[0].Height || n == 1 {
		l := ls[0]
		return Level{Height: z, Elevation: l.Elevation + z - l.Height, FromDeg: l.FromDeg, Speed: l.Speed}
	}
	for i := 1; i < n; i++ {
		a, b := ls[i-1], ls[i]
		if z > b.Height {
			continue
		}
		f := (z - a.Height) / (b.Height - a.Height)
		u0, v0 := components(a.FromDeg, a.Speed)
		u1, v1 := components(b.FromDeg, b.Speed)
		from, speed := polar(u0+f*(u1-u0), v0+f*(v1-v0))
		return Level{Height: z, Elevation: a.Elevation + z - a.Height, FromDeg: from, Speed: speed}
	}
	l := ls[n-1]
	return Level{Height: z, Elevation: l.Elevation + z - l.Height, FromDeg: l.FromDeg, Speed: l.Speed}
}

// meanLevels averages alternatives at the heights of the first, by components.
func meanLevels(alts [][]Level) []Level {
	var out []Level
	n := float64(len(alts))
	for _, l := range alts[0] {
		var u, v float64
		for _, a := range alts {
			x := interpolate(a, l.Height)
			du, dv := components(x.FromDeg, x.Speed)
			u, v = u+du/n, v+dv/n
		}
		l.FromDeg, l.Speed = polar(u, v)
		out = append(out, l)
	}
	return out
}
