package wind_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"windfall/drift/wind"
	"windfall/geo/geotest"
)

// The worked values of the logarithmic and the power law, computed from the
// formulas in the table's note column; printed to 1e-6 m/s. Both laws
// have a range here: the log law up to 60 m, or below the lowest of several
// levels; the power law with exponent 1/7 from 60 m to 600 m. Rows outside have
// no counterpart and are counted. Exponents differ from the table's 0.142857 by
// 1.4e-7, which at 30 times the height is 5e-7 of the speed.
func TestLawsAgainstWorkedValues(t *testing.T) {
	checked := map[string]int{}
	for _, r := range geotest.Table(t, "wind_profile.csv") {
		if r.Text("quantity") != "u_m_s" {
			continue // friction velocities and the like
		}
		want := r.Number("value")
		var a, z float64
		switch r.Text("kind") {
		case "log_law":
			_, err := fmt.Sscanf(r.Text("case"), "u10=5 m/s z0=%g z=%g", &a, &z)
			require.NoError(t, err, r.Text("case"))
			// below the lowest of several levels, at 10 m or, for heights above
			// that, at z with the table's speed: 10 m has 5 m/s then
			low, at, expect := wind.Level{Height: 10, Speed: 5}, z, want
			if z > 10 {
				low, at, expect = wind.Level{Height: z, Speed: want}, 10, 5
			}
			p := wind.Profile{Roughness: a, Levels: []wind.Level{low, {Height: 1000, Speed: 9}}}
			checked["log law below the lowest level"]++
			assert.InDelta(t, expect, speed(p, at), 2e-6, r.Text("case"))
			if z <= 60 {
				p = wind.Profile{Roughness: a, VeerDeg: 15, Levels: []wind.Level{{Height: 10, Speed: 5}}}
				checked["log law of one level"]++
				assert.InDelta(t, want, speed(p, z), 2e-6, r.Text("case"))
			}
		case "power_law":
			_, err := fmt.Sscanf(r.Text("case"), "u10=5 m/s alpha=%g z=%g", &a, &z)
			require.NoError(t, err, r.Text("case"))
			if math.Abs(a-1.0/7) > 1e-6 || z < 60 {
				continue
			}
			// one level at 60 m with what the law gives there
			p := wind.Profile{Levels: []wind.Level{{Height: 60, Speed: 5 * math.Pow(6, 1.0/7)}}}
			checked["power law"]++
			assert.InDelta(t, want, speed(p, z), 6e-6, r.Text("case"))
		}
	}
	assert.Equal(t, map[string]int{"log law below the lowest level": 47, "log law of one level": 31, "power law": 2}, checked)
}

func speed(p wind.Profile, z float64) float64 {
	u, v := p.At(z)
	return math.Hypot(u, v)
}

// A wind that is the same at every level is the same between and above them.
func TestConstantWindIsExactAtEveryHeight(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := wind.Level{Speed: rapid.Float64Range(0, 60).Draw(t, "speed"), FromDeg: rapid.Float64Range(0, 360).Draw(t, "from")}
		var p wind.Profile
		z := 0.0
		for range rapid.IntRange(2, 12).Draw(t, "levels") {
			z += rapid.Float64Range(1, 900).Draw(t, "dz")
			l.Height = z
			p.Levels = append(p.Levels, l)
		}
		u0, v0 := l.UV()
		at := rapid.Float64Range(p.Levels[0].Height, 2*z).Draw(t, "z")
		u, v := p.At(at)
		if math.Hypot(u-u0, v-v0) > 1e-13*60 {
			t.Fatalf("at %v m %v, %v; want %v, %v", at, u, v, u0, v0)
		}
	})
}

// One level alone, 240 degrees at 2 m: by the model the direction is its own up
// to 60 m and turns 15 degrees clockwise up to 600 m, the other way in the
// south; halfway (330 m) by half of it.
func TestVeerOfOneLevel(t *testing.T) {
	for _, c := range []struct {
		south   bool
		z, want float64
	}{{false, 2, 240}, {false, 60, 240}, {false, 330, 247.5}, {false, 600, 255}, {false, 2000, 255}, {true, 330, 232.5}, {true, 600, 225}} {
		p := wind.Profile{VeerDeg: wind.DefaultVeer, South: c.south, Levels: []wind.Level{{Height: 2, Speed: 4, FromDeg: 240}}}
		u, v := p.At(c.z)
		assert.InDelta(t, c.want, math.Mod(math.Atan2(-u, -v)*180/math.Pi+360, 360), 1e-9, "%+v", c)
	}
}

// A single level at height passes through itself.
func TestOneHighLevelIsMet(t *testing.T) {
	p := wind.Profile{VeerDeg: wind.DefaultVeer, Levels: []wind.Level{{Height: 450, Speed: 11, FromDeg: 200}}}
	u, v := p.At(450)
	uu, vv := p.Levels[0].UV()
	assert.InDelta(t, 0, math.Hypot(u-uu, v-vv), 1e-12)
}
