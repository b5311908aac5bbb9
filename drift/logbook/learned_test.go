package logbook

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A result is kept once, the newest is in use, and a book that is not there
// has none.
func TestLearned(t *testing.T) {
	b := open1(t)
	got, err := b.LatestLearned()
	require.NoError(t, err)
	assert.Nil(t, got)
	first := Learned{When: noon, Version: "1", Seed: 1 << 63, Finds: "a", Result: json.RawMessage(`{"finds":3}`)}
	id, err := b.PutLearned(first)
	require.NoError(t, err)
	again, err := b.PutLearned(first)
	require.NoError(t, err)
	assert.Equal(t, id, again, "the same is stored once")
	second := first
	second.Finds = "b"
	newest, err := b.PutLearned(second)
	require.NoError(t, err)
	assert.Greater(t, newest, id)
	got, err = b.LatestLearned()
	require.NoError(t, err)
	second.ID = newest
	assert.Equal(t, &second, got)

	none, err := OpenRead(filepath.Join(t.TempDir(), "none.db"))
	require.NoError(t, err)
	got, err = none.LatestLearned()
	assert.NoError(t, err)
	assert.Nil(t, got)
	rows, err := none.Flights()
	assert.NoError(t, err)
	assert.Empty(t, rows)
}

// What is withdrawn is not counted.
func TestFlights(t *testing.T) {
	b := open1(t)
	_, err := b.Add(nil,
		Entry{Flight: "garza-08", Kind: Sighting, By: "Ana", When: noon, Body: body(`{"bearing_deg":47}`)},
		Entry{Flight: "garza-07", Kind: Find, By: "Tom", When: noon, Body: body(`{"lat":39.05,"lon":-5.58}`)},
		Entry{Flight: "garza-07", Kind: Timing, By: "Tom", When: noon, Body: body(`{"event":"landing","at_s":92}`)})
	require.NoError(t, err)
	_, err = b.Withdraw(3, "Tom", noon.Add(time.Hour))
	require.NoError(t, err)
	rows, err := b.Flights()
	require.NoError(t, err)
	require.Len(t, rows, 2)
	assert.Equal(t, FlightRow{ID: "garza-07", Finds: 1}, rows[0])
	assert.Equal(t, FlightRow{ID: "garza-08", Sightings: 1}, rows[1])
}

// What is not there is named, with the command that lists what is.
func TestUnknownInputs(t *testing.T) {
	b := open1(t)
	_, err := b.Inputs(99)
	assert.ErrorContains(t, err, "has no inputs 99; 'windfall log FLIGHT' lists them")
	none, err := OpenRead(filepath.Join(t.TempDir(), "none.db"))
	require.NoError(t, err)
	_, err = none.Inputs(1)
	assert.ErrorContains(t, err, "has no inputs 1")
	_, err = b.Withdraw(7, "Tom", noon)
	assert.ErrorContains(t, err, "has no entry 7")
	for _, book := range []*Book{b, none} {
		all, err := book.History(7)
		assert.NoError(t, err)
		assert.Empty(t, all)
	}
}

func ExampleBook() {
	dir, err := os.MkdirTemp("", "logbook")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	b, err := Open(filepath.Join(dir, "logbook.db"))
	if err != nil {
		fmt.Println(err)
		return
	}
	defer b.Close()
	when := time.Date(2026, 4, 18, 12, 0, 0, 0, time.UTC)
	if _, err := b.Add(nil, Entry{Flight: "garza-07", Kind: Timing, By: "Ines", When: when, Body: json.RawMessage(`{"event":"landing","at_s":92}`)}); err != nil {
		fmt.Println(err)
	}
	all, err := b.Entries(Query{Flight: "garza-07"})
	fmt.Println(len(all), all[0].By, string(all[0].Body), err)
	// Output: 1 Ines {"event":"landing","at_s":92} <nil>
}

// The tables' own rules are told from errors of the disk: salvage passes over the first alone.
func TestRefused(t *testing.T) {
	b := open1(t)
	_, err := b.db.Exec("INSERT INTO entry (id) VALUES (NULL)")
	assert.True(t, refused(err), "%v", err)
	assert.False(t, refused(os.ErrPermission))
}
