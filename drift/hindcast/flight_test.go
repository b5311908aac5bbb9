package hindcast

import (
	"context"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/drift/wind"
	"windfall/drift/wind/spread"
)

// Rockets flown in weather made of the model land inside the areas of their
// maps; in the old spreads' they do not.
func TestFlyInMadeWeather(t *testing.T) {
	var x Tally
	cases := weather(&spread.Fitted, 40, 6)
	for i := range cases {
		f, err := Fly(context.Background(), Rockets()["tall"], &cases[i], 512, false)
		require.NoError(t, err)
		old, err := Fly(context.Background(), Rockets()["tall"], &cases[i], 512, true)
		require.NoError(t, err)
		assert.InDelta(t, 500, f.Apogee, 60)
		assert.Less(t, f.Area50, f.Area90)
		x.Add(&cases[i], f, old)
	}
	n, dates := x.N()
	assert.Equal(t, 40, n)
	assert.Equal(t, 40, dates)
	share, se := x.Inside(0.9)
	assert.InDelta(t, 0.9, share, 4*se)
	share, se = x.OldInside(0.9)
	assert.Less(t, share+2*se, 0.75)
	assert.Contains(t, x.Row("made"), "made")
}

// Dates are drawn, not cases: ten cases of one date tell no more than one.
func TestTallyCountsDates(t *testing.T) {
	var one, ten Tally
	for i := range 20 {
		f := Flown{Level: []float64{0.3, 0.97}[i%2], Area90: 1, Area50: 1}
		one.Add(&Case{Group: string(rune('a' + i))}, f, f)
		for range 10 {
			ten.Add(&Case{Group: string(rune('a' + i))}, f, f)
		}
	}
	share, se := one.Inside(0.9)
	assert.InDelta(t, 0.5, share, 1e-12)
	_, tenSE := ten.Inside(0.9)
	assert.InDelta(t, se, tenSE, 1e-12)
}

// A wind is paired with what its place had 0.5 to 12 hours later, whole and as a
// report, and a reading at the pad is put on top of the whole.
func TestPairs(t *testing.T) {
	p := Profile{Source: "a", Time: time.Date(2020, 6, 1, 0, 0, 0, 0, time.UTC), Profile: wind.Profile{Levels: []wind.Level{{Height: 10, Speed: 3}, {Height: 900, Speed: 8}}}}
	q, report, far := p, p, p
	q.Time = p.Time.Add(6 * time.Hour)
	report.Time, report.Levels = p.Time.Add(5*time.Hour), p.Levels[:1]
	far.Place[0], far.Time = 40, q.Time
	kinds := map[string]int{}
	for _, c := range Pairs([]Profile{q, p, report, far}) {
		kinds[c.Kind]++
		assert.Len(t, c.Truth.Levels, 2)
		assert.Equal(t, c.At != nil, c.Kind == "profile 6 h, measured")
	}
	assert.Equal(t, map[string]int{"surface": 3, "profile 6 h": 1, "profile 6 h, measured": 1, "report 6 h": 1, "report 1 h": 1}, kinds)
}

// The two soundings of the archive's example, IGRA version 2 (NOAA NCEI).
func TestReadIGRA(t *testing.T) {
	f, err := os.Open("../wind/sources/testdata/igra.txt")
	require.NoError(t, err)
	defer f.Close()
	got, passed, err := ReadIGRA("igra.txt", f)
	require.NoError(t, err)
	assert.Equal(t, 2, len(got)+passed)
	for _, p := range got {
		assert.InDelta(t, 71.3, p.Place[1], 0.1, "Barrow, Alaska")
		assert.Greater(t, p.Top(), soundingTop)
		assert.LessOrEqual(t, p.Levels[0].Height, 12.0)
	}
}
