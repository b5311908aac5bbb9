package balloon

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// looked makes the looks of a balloon that rises evenly through winds that
// change at each look: u, v m/s in turn.
func looked(rise, every float64, winds [][2]float64, base, baseDeg, tail float64) (out []Look) {
	var p point
	for i, w := range winds {
		t := every * float64(i+1)
		p[0], p[1], p[2] = p[0]+w[0]*every, p[1]+w[1]*every, rise*t
		l := Look{Time: t, Elevation2: math.NaN(), Azimuth2: math.NaN(), Tail: math.NaN()}
		l.Elevation, l.Azimuth = angles(p)
		if base > 0 {
			q := point{p[0] - base*sinDeg(baseDeg), p[1] - base*cosDeg(baseDeg), p[2]}
			l.Elevation2, l.Azimuth2 = angles(q)
		}
		if tail > 0 {
			r := math.Sqrt(dot(p, p))
			l.Tail = math.Atan(tail*cosDeg(l.Elevation)/r) * 180 / math.Pi
		}
		out = append(out, l)
	}
	return out
}

func angles(p point) (elevation, azimuth float64) {
	return math.Atan2(p[2], math.Hypot(p[0], p[1])) * 180 / math.Pi,
		math.Mod(math.Atan2(p[0], p[1])*180/math.Pi+360, 360)
}

// Of a made-up profile each method finds the wind of every layer exactly.
func TestEachMethodFindsTheWind(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 12).Draw(t, "looks")
		var winds [][2]float64
		for range n {
			speed, from := rapid.Float64Range(1, 20).Draw(t, "speed"), rapid.Float64Range(30, 60).Draw(t, "from")
			winds = append(winds, [2]float64{-speed * sinDeg(from), -speed * cosDeg(from)})
		}
		rise := rapid.Float64Range(1.5, 6).Draw(t, "rise")
		for name, a := range map[string]Ascent{
			"rate": {Rise: rise, Looks: looked(rise, 20, winds, 0, 0, 0)},
			"two":  {Base: 300, BaseDeg: 140, Looks: looked(rise, 20, winds, 300, 140, 0)},
			"tail": {Tail: 5, Looks: looked(rise, 20, winds, 0, 0, 5)},
		} {
			got, _, err := a.Levels()
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			for i, l := range got {
				u, v := l.UV()
				if math.Hypot(u-winds[i][0], v-winds[i][1]) > 1e-6 || math.Abs(l.Height-rise*20*(float64(i)+0.5)) > 1e-6 {
					t.Fatalf("%s, layer %d: %+v, want %v", name, i, l, winds[i])
				}
			}
		}
	})
}

// One look, by hand: 2.5 m/s for 60 s is 150 m; at 30 degrees of elevation it is
// 150/tan 30 = 259.81 m off, toward 090: a wind of 4.330 m/s from 270. Half a
// degree of elevation is 150/sin2 30 x 0.5 deg = 5.236 m, of azimuth 2.267 m, a
// tenth of the rate 10 % of the wind: per component 0.0672 m/s of the angles and
// 0.306 m/s of the rate.
func TestOneLookByHand(t *testing.T) {
	a := Ascent{Rise: 2.5, Looks: []Look{{Time: 60, Elevation: 30, Azimuth: 90}}}
	got, cautions, err := a.Levels()
	require.NoError(t, err)
	assert.Empty(t, cautions)
	assert.InDelta(t, 75, got[0].Height, 1e-9)
	assert.InDelta(t, 4.33013, got[0].Speed, 1e-5)
	assert.InDelta(t, 270, got[0].FromDeg, 1e-9)
	assert.InDelta(t, math.Sqrt(0.0672*0.0672+0.3062*0.3062), got[0].SD, 2e-4)
}

func TestLooksThatCannotBe(t *testing.T) {
	nan := math.NaN()
	for want, a := range map[string]Ascent{
		"the balloon sinks":     {Tail: 5, Looks: []Look{{20, 40, 90, nan, nan, 1}, {40, 20, 90, nan, nan, 2}}},
		"not after":             {Rise: 2, Looks: []Look{{20, 40, 90, nan, nan, nan}, {20, 40, 90, nan, nan, nan}}},
		"not above the horizon": {Rise: 2, Looks: []Look{{20, -1, 90, nan, nan, nan}}},
		"is no bearing":         {Rise: 2, Looks: []Look{{20, 10, 400, nan, nan, nan}}},
		"rate of ascent":        {Looks: []Look{{20, 10, 40, nan, nan, nan}}},
		"second observer's":     {Base: 100, Looks: []Look{{20, 10, 40, nan, nan, nan}}},
		"same way":              {Base: 100, BaseDeg: 40, Looks: []Look{{20, 10, 40, 10, 40, nan}}},
		"do not meet":           {Base: 100, BaseDeg: 90, Looks: []Look{{20, 10, 270, 10, 0, nan}}},
		"tail's angle":          {Tail: 4, Looks: []Look{{20, 10, 40, nan, nan, nan}}},
		"there is none":         {Rise: 2},
	} {
		_, _, err := a.Levels()
		require.ErrorContains(t, err, want)
	}
	a := Ascent{Rise: 1, Looks: []Look{{20, 3, 90, nan, nan, nan}}}
	_, cautions, err := a.Levels()
	require.NoError(t, err)
	assert.Len(t, cautions, 1)
}
