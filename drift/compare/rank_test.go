package compare

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"windfall/drift"
	"windfall/geo/chance"
	"windfall/geo/sun"
)

func TestSortRows(t *testing.T) {
	row := func(order int, within bool, score, area float64) *Row {
		return &Row{order: order, Within: within, score: score, Area: area}
	}
	nan := math.NaN()
	want := []*Row{
		row(5, true, 0.9, 100), row(2, true, 0.9, 200), row(0, true, 0.9, 200), row(1, true, 0.8, 50),
		row(3, false, 0.99, 10), row(4, false, 0.99, nan), row(6, false, 0.1, nan),
	}
	want[1].order, want[2].order = 0, 2
	for seed := range uint64(50) {
		got := slices.Clone(want)
		rand.New(rand.NewPCG(seed, 1)).Shuffle(len(got), func(i, j int) { got[i], got[j] = got[j], got[i] })
		sortRows(got)
		require.Equal(t, want, got)
	}
}

// Limits hold the flight as designed; what never happens keeps none.
func TestLimits(t *testing.T) {
	at := func(v float64) *float64 { return &v }
	m := prepare(t, nil)
	n := m.Nominal()
	r := &Row{Flight: Flight{Model: m}}
	r.judge(Limits{Touchdown: at(n.LandingMps), Ejection: at(n.EjectionMps + 1), RailExit: at(n.RailExitMps)})
	assert.True(t, r.Within, "at the limit is within it")
	assert.Len(t, r.Limits, 3)
	assert.Empty(t, r.Broken())
	r.judge(Limits{Touchdown: at(n.LandingMps - 0.1), RailExit: at(n.RailExitMps + 0.1)})
	assert.False(t, r.Within)
	assert.Regexp(t, `^touchdown [0-9.]+ m/s, off the rail [0-9.]+ m/s$`, r.Broken())
	r.judge(Limits{})
	assert.True(t, r.Within)
	assert.Equal(t, []Check{}, r.Limits)

	bare := prepare(t, func(f *drift.Flight) { f.Recovery, f.Motor.Delay = nil, nil })
	r = &Row{Flight: Flight{Model: bare}}
	r.judge(Limits{Ejection: at(20)})
	assert.False(t, r.Within)
	assert.Nil(t, r.Limits[0].Value)
	assert.Equal(t, "first device never", r.Broken())
	assert.Equal(t, "touchdown at most 7 m/s, first device at most 20 m/s through the air, off the rail at least 15 m/s",
		Limits{at(7), at(20), at(15)}.String())
}

// A flight that goes up or comes down without daylight is not within.
func TestLight(t *testing.T) {
	noon := time.Date(2026, 4, 18, 12, 0, 0, 0, time.UTC)
	day := sun.On(noon, prepare(t, nil).Frame().Origin) // held against almanac tables in geo/sun
	for _, c := range []struct {
		when time.Time
		want sun.Light
		left float64 // minutes
	}{
		{noon, sun.Daylight, day.CivilDusk.Sub(noon).Minutes()},
		{day.Sunset.Add(-5 * time.Second), sun.Twilight, day.CivilDusk.Sub(day.Sunset).Minutes()}, // up by day
		{day.Sunset.Add(time.Minute), sun.Twilight, day.CivilDusk.Sub(day.Sunset).Minutes() - 1},
		{day.CivilDusk.Add(time.Minute), sun.Dark, 0},
		{day.CivilDawn.Add(time.Minute), sun.Twilight, day.CivilDusk.Sub(day.CivilDawn).Minutes()},
	} {
		r := &Row{Flight: Flight{Model: prepare(t, func(f *drift.Flight) { f.When = c.when })}}
		r.judge(Limits{})
		assert.Equal(t, c.want, r.Light, c.when)
		assert.Equal(t, c.want == sun.Daylight, r.Within, c.when)
		if c.want == sun.Dark {
			assert.Nil(t, r.LightLeft, c.when)
			continue
		}
		assert.InDelta(t, c.left, *r.LightLeft, 3, c.when)
	}
}

// pairs makes a table of a first row of which every run came down in the field
// and one row more for each number of runs that did not.
func pairs(runs int, lost ...int) *Table {
	t := &Table{ByField: true}
	for i, n := range append([]int{0}, lost...) {
		r := &Row{Within: true, Label: string(rune('a' + i)), In: make([]bool, runs)}
		for j := range r.In {
			r.In[j] = j >= n
		}
		r.Places = []chance.Chance{{Name: "field", Probability: 1 - float64(n)/float64(runs)}}
		r.score = r.Places[0].Probability
		t.Rows = append(t.Rows, r)
		r.against(t.Rows[0])
	}
	return t
}

// By hand: of 1000 runs 3 lost are 0.0030 below with an error of
// sqrt(0.003*0.997/1000) = 0.00173, 1.73 errors: no worse. 4 lost are 0.0040
// with 0.001996, 2.004 errors: worse.
func TestTwoSigma(t *testing.T) {
	v := pairs(1000, 3, 4).Verdict()
	require.NotNil(t, v.Best)
	assert.Equal(t, []int{1}, v.Equal)
	assert.True(t, v.Next)
	assert.Equal(t, 2, v.Worst)
	assert.Empty(t, pairs(1000, 4, 4).Verdict().Equal)
	assert.Equal(t, []int{1, 2, 3}, pairs(1000, 0, 1, 3).Verdict().Equal)
}

// A row of another kind of draw may be as good where one above it is not.
func TestEqualButNotNext(t *testing.T) {
	tab := pairs(1000, 5, 6)
	for j := range 40 { // the last row gains and loses: its difference is known less well
		tab.Rows[0].In[900+j/2] = j%2 == 0
	}
	for _, r := range tab.Rows {
		r.against(tab.Rows[0])
	}
	tab.Rows[1].Difference = &Difference{"field", -0.005, 0.002}
	tab.Rows[2].Difference = &Difference{"field", -0.006, 0.004}
	v := tab.Verdict()
	assert.Equal(t, []int{2}, v.Equal)
	assert.False(t, v.Next)
	assert.Contains(t, tab.Reason()[1], "one row farther down, c, is no worse beyond twice the error")
	tab.Rows = append(tab.Rows, tab.Rows[2])
	assert.Contains(t, tab.Reason()[1], "2 rows, not all of them the next, are no worse")
}

// Rows outside the limits take no part in the comparison with one within.
func TestVerdictWithinLimits(t *testing.T) {
	tab := pairs(1000, 0, 0)
	tab.Rows[1].Within, tab.Rows[2].Within = false, false
	v := tab.Verdict()
	assert.Empty(t, v.Equal)
	assert.Zero(t, v.Worst)
	assert.Equal(t, "no other row is within the limits in daylight", tab.Reason()[1])
	tab.Rows[0].Within = false
	v = tab.Verdict()
	assert.Nil(t, v.Best)
	assert.Equal(t, []int{1, 2}, v.Equal)
	limit := 2.0
	tab.Limits.Touchdown = &limit
	assert.Equal(t, "no row is within the limits in daylight (touchdown at most 2 m/s); of those outside, the one with the best chance:", tab.Reason()[0])
}

// Two choices that are equally good: the second is called worse about as often
// as a normal variable leaves two standard deviations, 4.6 %; one that is four
// errors worse is called equal in about 2.3 %. 4000 comparisons of 400 runs
// know the first to 0.33 %; four of those, and one per cent for whole numbers
// of runs, are allowed.
func TestTheVerdictIsHonest(t *testing.T) {
	const trials, runs = 4000, 400
	share := func(worse float64) float64 {
		rng := rand.New(rand.NewPCG(4, 2))
		n := 0
		for range trials {
			a, b := make([]bool, runs), make([]bool, runs)
			for i := range runs {
				u := rng.Float64() // 0.2 either way apart from what they share
				a[i], b[i] = u < 0.7, u < 0.5 || u > 0.8+worse
			}
			rows := []*Row{{Within: true, In: a}, {Within: true, In: b}}
			for _, r := range rows {
				p, _ := chance.Difference(r.In, make([]bool, runs))
				r.score = p
			}
			sortRows(rows)
			for _, r := range rows {
				r.against(rows[0])
			}
			if len((&Table{Rows: rows}).Verdict().Equal) == 0 {
				n++
			}
		}
		return float64(n) / trials
	}
	assert.InDelta(t, 0.046, share(0), 4*0.0033+0.01)
	// worse by d: the error of the difference is sqrt((0.4-d)/runs)
	assert.Greater(t, share(4*math.Sqrt(0.4/runs)), 0.95)
}

func TestCombinations(t *testing.T) {
	axes := []Axis{axis("a", "1", "2"), axis("b", "x", "y", "z")}
	assert.Equal(t, [][]int{{0, 0}, {0, 1}, {0, 2}, {1, 0}, {1, 1}, {1, 2}}, combinations(axes))
	assert.Len(t, combinations(nil), 1)
	rapid.Check(t, func(t *rapid.T) {
		var in Input
		for range rapid.IntRange(0, 4).Draw(t, "axes") {
			in.Axes = append(in.Axes, Axis{Key: "k", Values: make([]string, rapid.IntRange(1, 5).Draw(t, "values"))})
		}
		in.Hours = make([]time.Time, rapid.IntRange(0, 3).Draw(t, "hours"))
		rows, err := in.rows()
		require.NoError(t, err)
		assert.Len(t, rows, in.Size())
	})
}
