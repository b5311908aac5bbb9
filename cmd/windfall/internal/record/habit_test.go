package record

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/drift"
	"windfall/drift/evidence"
	"windfall/drift/learn"
	"windfall/geo"
)

// What is known of an observer goes into that person's sightings of a flight, and
// is said; nobody else's change, nor what is logged, nor maps without learning.
func TestObserversAreUsed(t *testing.T) {
	src := heron(t)
	f := read(t, src)
	deg := 47.0
	for _, by := range []string{"Ana", "Eva"} {
		st := stamp
		st.By = by
		s := evidence.Sighting{By: by, Kind: evidence.Bearing{Observer: evidence.Observer{From: &geo.Place{Lat: 41.9, Lon: -4.92}},
			BearingDeg: &deg, Moment: evidence.Moment{Event: "landing"}}}
		_, _, err := AddSighting(src.Logbook, f.File, s, 0, st)
		require.NoError(t, err)
	}
	all, err := LearnFrom(context.Background(), src.Logbook)
	require.NoError(t, err)
	require.Len(t, all.Cases, 1)
	assert.True(t, all.Cases[0].Lost, "a flight never found teaches by what was seen")
	require.Len(t, all.Cases[0].Entries, 2)
	_, err = AddLearned(src.Logbook, all.Digest, &learn.Result{Finds: 5, Factors: []learn.Factor{{Name: "lean along", Elsewhere: learn.Member{SD: 1}}},
		Observers: []learn.Observer{{By: "Ana", What: "bearing", N: 5, Bias: 4, Scale: 1.5}}}, stamp)
	require.NoError(t, err)

	// and into what is learned of flights never found
	says := func() (log float64) {
		c := &all.Cases[0]
		out := learn.Told{Log: make([]float64, 2), Mistake: make([]float64, 2), Off: make([]float64, 2)}
		c.Weigh()(drift.Input{Z: make([]float64, c.Dim)}, out)
		return out.Log[0]
	}
	anybody := says()
	heard, err := all.hear(&learn.Result{Observers: []learn.Observer{{By: "Ana", What: "bearing", N: 5, Bias: 4, Scale: 1.5}}})
	require.NoError(t, err)
	assert.Equal(t, 1, heard)
	assert.Equal(t, "heron-01", all.Cases[0].Flight)
	assert.NotEqual(t, anybody, says())
	heard, err = all.hear(&learn.Result{})
	require.NoError(t, err)
	assert.Zero(t, heard, "of nobody is anything known")

	now, err := Load(src)
	require.NoError(t, err)
	require.Len(t, now.Input.Sightings, 2)
	assert.Equal(t, &evidence.Habit{Bias: 4, Scale: 1.5}, now.Input.Sightings[0].Habit)
	assert.Nil(t, now.Input.Sightings[1].Habit)
	assert.Contains(t, now.Input.Sightings[0].String(), "bearing 47 deg")
	used := now.Input.Learned.Used
	assert.Equal(t, "bearings by Ana (5 of flights that were found): on average 4.0 deg to the right of what was, allowed for; good to 4.5 deg",
		used[len(used)-1])
	src.NoLearning = true
	plain, err := Load(src)
	require.NoError(t, err)
	assert.Nil(t, plain.Input.Sightings[0].Habit)
}
