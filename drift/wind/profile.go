// Package wind holds the wind over a pad: a profile of levels, and what is
// known of its error. Directions are where the wind blows from, degrees true.
// Readers of weather files are in the sub-package sources.
package wind

import (
	"fmt"
	"math"
	"slices"
)

// Level is the wind at one height.
type Level struct {
	Height  float64 // m above the pad
	Speed   float64 // m/s
	FromDeg float64 // degrees true, where it blows from
}

// UV returns the components of the level's wind in m/s: u toward east, v
// toward north.
func (l Level) UV() (u, v float64) {
	s, c := math.Sincos(l.FromDeg * math.Pi / 180)
	return -l.Speed * s, -l.Speed * c
}

// Profile is the mean wind above a pad, by height.
type Profile struct {
	Levels    []Level // ascending by Height, at least one
	Roughness float64 // roughness length, m; 0 means 0.03 (open grassland)
	VeerDeg   float64 // turn from 60 m to 600 m where there is one level alone
	South     bool    // southern hemisphere: the turn is anticlockwise
	Shape     []SD    // spread of the shape, strictly ascending heights; empty: the default of ShapeSD
	Spread    *Spread // what is wrong with it beyond the default; nil: nothing
}

// Choice is one of several alternative winds.
type Choice struct {
	Profile Profile
	Weight  float64 // relative; runs draw a choice in proportion
	Label   string
}

// Heights and exponent of the profile made from one level alone. The 1/7 law
// is the usual one for neutral air over open ground (Hsu, Meindl and Gilhousen
// 1994 discuss its range, from memory); where the layers meet is a choice of
// ours.
const (
	surfaceTop       = 60.0    // m, log law below, power law above
	layerTop         = 600.0   // m, no change above
	powerLaw         = 1.0 / 7 // exponent
	defaultRoughness = 0.03    // m, open grassland (Davenport's class 3; Wieringa 1992)
)

// LevelError says what is wrong with one level of a profile.
type LevelError struct {
	Level int    // index in Levels; -1: the profile as a whole
	Field string // height, speed, from, roughness
	Value float64
	Msg   string
}

func (e *LevelError) Error() string {
	if e.Level < 0 {
		return fmt.Sprintf("%s %g %s", e.Field, e.Value, e.Msg)
	}
	return fmt.Sprintf("[%d].%s %g %s", e.Level, e.Field, e.Value, e.Msg)
}

// Z0 returns the roughness length in m, the default where none is given.
func (p Profile) Z0() float64 {
	if p.Roughness == 0 {
		return defaultRoughness
	}
	return p.Roughness
}

// Check returns a *LevelError when the profile cannot be used: no level, a
// level at or below the roughness length, heights that do not rise, a negative
// speed, a number that is not finite.
func (p Profile) Check() error {
	bad := func(v float64) bool { return math.IsNaN(v) || math.IsInf(v, 0) }
	if len(p.Levels) == 0 {
		return &LevelError{-1, "levels", 0,
			"is no wind at all; give at least one level, such as {height: 2 m, from: 240 deg, speed: 9 mph}"}
	}
	if z0 := p.Z0(); bad(z0) || z0 < 0 {
		return &LevelError{-1, "roughness", z0, "is not a roughness length; write one above zero, such as 0.03 m"}
	}
	if bad(p.VeerDeg) {
		return &LevelError{-1, "veer", p.VeerDeg, "is not an angle; write one such as 15 deg"}
	}
	for i, l := range p.Levels {
		switch {
		case bad(l.Height) || l.Height <= p.Z0():
			return &LevelError{i, "height", l.Height,
				fmt.Sprintf("is not above the roughness length %g m; give the height of the anemometer, such as 2 m", p.Z0())}
		case i > 0 && l.Height <= p.Levels[i-1].Height:
			return &LevelError{i, "height", l.Height,
				fmt.Sprintf("is not above the level before it (%g m); put the levels in order of height, each once",
					p.Levels[i-1].Height)}
		case bad(l.Speed) || l.Speed < 0:
			return &LevelError{i, "speed", l.Speed, "is not a wind speed; write zero or more, such as 12 kn"}
		case bad(l.FromDeg):
			return &LevelError{i, "from", l.FromDeg, "is not a direction; write where the wind blows from, such as 240 deg"}
		}
	}
	return nil
}

// At returns the wind at z metres above the pad, in m/s: u toward east, v
// toward north.
//
// Between levels the components are linear in height; above the top level its
// wind holds. Below the lowest level the logarithmic law of neutral air over
// the roughness length scales it down, to zero at and below the roughness
// length. One level alone stands for a whole profile: log law to 60 m, 1/7
// power law to 600 m with the direction turning by VeerDeg, constant above.
func (p Profile) At(z float64) (u, v float64) {
	if len(p.Levels) == 1 {
		return p.single(z)
	}
	low := p.Levels[0]
	if z <= low.Height {
		u, v = low.UV()
		k := logLaw(z, low.Height, p.Z0())
		return u * k, v * k
	}
	n := len(p.Levels)
	if z >= p.Levels[n-1].Height {
		return p.Levels[n-1].UV()
	}
	i := 1
	for p.Levels[i].Height < z {
		i++
	}
	a, b := p.Levels[i-1], p.Levels[i]
	f := (z - a.Height) / (b.Height - a.Height)
	u0, v0 := a.UV()
	u1, v1 := b.UV()
	return u0 + f*(u1-u0), v0 + f*(v1-v0)
}

func logLaw(z, z1, z0 float64) float64 {
	if z <= z0 {
		return 0
	}
	return math.Log(z/z0) / math.Log(z1/z0)
}

func (p Profile) single(z float64) (u, v float64) {
	l := p.Levels[0]
	return Level{Speed: l.Speed * p.growth(z) / p.growth(l.Height), FromDeg: l.FromDeg + p.LawTurn(z)}.UV()
}

// growth is the speed at z of the profile made from one level, as a share of
// that at the top of the surface layer.
func (p Profile) growth(z float64) float64 {
	if z <= surfaceTop {
		return logLaw(z, surfaceTop, p.Z0())
	}
	return math.Pow(min(z, layerTop)/surfaceTop, powerLaw)
}

// Law returns the speed at z over that of the level that stands for the whole
// profile.
func (p Profile) Law(z float64) float64 { return p.growth(z) / p.growth(p.Levels[0].Height) }

// LawTurn returns how far clockwise of the one level the wind at z blows from,
// in degrees.
func (p Profile) LawTurn(z float64) float64 {
	turn := func(z float64) float64 {
		return (min(max(z, surfaceTop), layerTop) - surfaceTop) / (layerTop - surfaceTop)
	}
	veer := p.VeerDeg
	if p.South {
		veer = -veer
	}
	return veer * (turn(z) - turn(p.Levels[0].Height))
}

// Heights returns ascending heights from the roughness length to top (m) at
// which At may be sampled for straight lines between them, each at most the
// share step above the one before where the profile is curved, and every kink.
// Chords of the log law w1 ln(z/z0)/ln(z1/z0) stray by step^2/8 of
// w1/ln(z1/z0): for step 0.16 by 0.3 % of that, less than 0.1 % of w1.
func (p Profile) Heights(top, step float64) []float64 {
	logTop := p.Levels[0].Height
	if len(p.Levels) == 1 {
		logTop = surfaceTop
	}
	var hs []float64
	for z := p.Z0(); z < min(logTop, top); z *= 1 + step {
		hs = append(hs, z)
	}
	for _, l := range p.Levels {
		hs = append(hs, l.Height)
	}
	if len(p.Levels) == 1 {
		for z := surfaceTop; z < layerTop; z += 0.6 * step * z {
			hs = append(hs, z)
		}
		hs = append(hs, layerTop)
	}
	hs = append(hs, top)
	slices.Sort(hs)
	hs = slices.Compact(hs)
	for len(hs) > 1 && hs[len(hs)-1] > top {
		hs = hs[:len(hs)-1]
	}
	return hs
}
