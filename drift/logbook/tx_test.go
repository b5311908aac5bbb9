package logbook

import (
	"bytes"
	"errors"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What is written together is there together, in the order it came, under the
// keys it came with; an error in the middle leaves nothing.
func TestWriteTogether(t *testing.T) {
	b, err := Open(filepath.Join(t.TempDir(), "logbook.db"))
	require.NoError(t, err)
	defer b.Close()
	at := time.Date(2026, 4, 18, 9, 0, 0, 0, time.UTC)
	entry := Entry{Flight: "f-1", Kind: Timing, By: "Ana", When: at, Body: []byte(`{"event":"landing","at_s":90}`)}
	note := Note{Flight: "f-1", Kind: "arrive", By: "Ana", When: at, Body: []byte(`{"searcher":"west"}`)}
	var first Changed
	require.NoError(t, b.Write(func(tx *Tx) error {
		n, err := tx.AddNote(note)
		require.NoError(t, err)
		entry.Inputs, err = tx.Inputs(&Inputs{Flight: "f-1", When: at, Main: "flight.yaml", Files: []File{{Name: "flight.yaml", Bytes: []byte("x")}}})
		require.NoError(t, err)
		e, err := tx.Add(entry)
		require.NoError(t, err)
		require.NoError(t, tx.Say(Said{"key-1", "f-1", "aa", e.ID, 0}))
		require.NoError(t, tx.Say(Said{"key-2", "f-1", "bb", 0, n.ID}))
		s, ok, err := tx.Said("key-1")
		require.NoError(t, err)
		assert.True(t, ok)
		assert.Equal(t, Said{"key-1", "f-1", "aa", e.ID, 0}, s)
		first, err = tx.Since("f-1", 0)
		return err
	}))
	require.Len(t, first.Notes, 1)
	assert.Equal(t, "west", string(first.Notes[0].Body)[13:17])
	assert.Equal(t, map[int64]string{1: "key-1"}, first.Keys)
	assert.Equal(t, map[int64]string{1: "key-2"}, first.Noted)
	assert.Greater(t, first.Order[1], first.At[1])

	broken := errors.New("power went")
	require.ErrorIs(t, b.Write(func(tx *Tx) error {
		_, err := tx.Amend(1, "Ana", at, entry.Body)
		require.NoError(t, err)
		require.NoError(t, tx.Say(Said{"key-3", "f-1", "cc", 1, 0}))
		return broken
	}), broken)
	last, err := b.Last("f-1")
	require.NoError(t, err)
	assert.Equal(t, first.Seq, last)

	require.NoError(t, b.Write(func(tx *Tx) error {
		_, ok, err := tx.Said("key-3")
		assert.False(t, ok)
		require.NoError(t, err)
		_, err = tx.Withdraw(1, "Ana", at)
		require.NoError(t, err)
		return tx.Say(Said{"key-4", "f-1", "dd", 1, 0})
	}))
	ch, err := b.Since("f-1", first.Seq)
	require.NoError(t, err)
	require.Len(t, ch.Entries, 1)
	assert.True(t, ch.Entries[0].Withdrawn)
	assert.Equal(t, "key-1", ch.Keys[1], "the key it first came with")
	assert.Empty(t, ch.Notes)
	assert.Greater(t, ch.Seq, first.Seq)
	for _, other := range []Note{{Kind: "x", When: at, Body: note.Body}, {Flight: "f-1", When: at, Body: note.Body},
		{Flight: "f-1", Kind: "x", When: at, Body: []byte("[]")}} {
		require.Error(t, b.Write(func(tx *Tx) error { _, err := tx.AddNote(other); return err }))
	}
}

// Notes and keys only grow, as all of a logbook; a salvage brings them over.
func TestNotesAreKept(t *testing.T) {
	path := filepath.Join(t.TempDir(), "logbook.db")
	b, err := Open(path)
	require.NoError(t, err)
	require.NoError(t, b.Write(func(tx *Tx) error {
		n, err := tx.AddNote(Note{Flight: "f-1", Kind: "arrive", When: time.Now(), Body: []byte(`{"searcher":"west"}`)})
		require.NoError(t, err)
		return tx.Say(Said{"key-1", "f-1", "aa", 0, n.ID})
	}))
	for _, stmt := range []string{"DELETE FROM note", "UPDATE note SET kind = 'x'", "DELETE FROM said", "UPDATE said SET sha256 = ''",
		"DELETE FROM change", "UPDATE change SET seq = 9"} {
		_, err := b.db.Exec(stmt)
		assert.ErrorContains(t, err, "a logbook only grows", stmt)
	}
	require.NoError(t, b.Close())
	to := filepath.Join(t.TempDir(), "saved.db")
	_, _, err = Salvage(path, to)
	require.NoError(t, err)
	saved, err := OpenRead(to)
	require.NoError(t, err)
	defer saved.Close()
	ch, err := saved.Since("f-1", 0)
	require.NoError(t, err)
	require.Len(t, ch.Notes, 1)
	assert.Equal(t, "key-1", ch.Noted[ch.Notes[0].ID])
}

// A note whose time was spoilt is named.
func TestSpoiltNote(t *testing.T) {
	b, err := Open(filepath.Join(t.TempDir(), "logbook.db"))
	require.NoError(t, err)
	defer b.Close()
	_, err = b.db.Exec("INSERT INTO flight VALUES ('f-1', '', ''); INSERT INTO note VALUES (7, 'f-1', 'noon', '', 'arrive', '{}')")
	require.NoError(t, err)
	_, err = b.Since("f-1", 0)
	assert.ErrorContains(t, err, "note 7")
	problems, err := Check(b.path)
	require.NoError(t, err)
	assert.Equal(t, []string{"6 notes are missing"}, problems)
}

// A logbook of an older schema has no notes, and no order of changes, until
// something is written; its entries are there.
func TestNotesOfOlderSchema(t *testing.T) {
	path := filepath.Join(t.TempDir(), "logbook.db")
	b, err := open(path, migrations[:notesSince-1])
	require.NoError(t, err)
	_, err = b.Add(nil, Entry{Flight: "f-1", Kind: Timing, When: time.Now(), Body: []byte(`{"event":"landing","at_s":90}`)})
	require.NoError(t, err)
	require.NoError(t, b.Close())
	old, err := OpenRead(path)
	require.NoError(t, err)
	ch, err := old.Since("f-1", 0)
	require.NoError(t, err)
	assert.Len(t, ch.Entries, 1)
	assert.EqualValues(t, 1, ch.Seq)
	ch, err = old.Since("f-1", 1)
	require.NoError(t, err)
	assert.Empty(t, ch.Entries)
	require.NoError(t, old.Close())
	now, err := Open(path)
	require.NoError(t, err)
	defer now.Close()
	ch, err = now.Since("f-1", 0)
	require.NoError(t, err)
	assert.Len(t, ch.Entries, 1, "what was there before counts as changes too")
}

// How well a map had done stays with the find as it was judged: a corrected find
// is judged anew, what is exported carries it and what is imported has none.
func TestJudged(t *testing.T) {
	b := open1(t)
	got, err := b.Add(nil, Entry{Flight: "x", Kind: Find, When: noon, Body: body(`{"lat":1,"lon":2}`)},
		Entry{Flight: "x", Kind: Timing, When: noon, Body: body(`{"at_s":3}`)},
		Entry{Flight: "x", Kind: Find, When: noon, Body: body(`{"lat":1,"lon":2,"part":"pod"}`)})
	require.NoError(t, err)
	require.NoError(t, b.Judge(got[0], noon, body(`{"miss_m":120}`)))
	require.NoError(t, b.Judge(got[0], noon, body(`{"miss_m":9}`)), "the first stays")
	require.NoError(t, b.Judge(got[2], noon, body(`{"miss_m":7}`)))
	assert.Error(t, b.Judge(got[1], noon, body(`{}`)))
	assert.Error(t, b.Judge(got[2], noon, body(`[]`)))
	all, err := b.Entries(Query{})
	require.NoError(t, err)
	assert.JSONEq(t, `{"miss_m":120}`, string(all[0].Judged))
	assert.Nil(t, all[1].Judged)
	rows, err := b.Flights()
	require.NoError(t, err)
	assert.JSONEq(t, `{"miss_m":120}`, string(rows[0].Judged), "the vehicle's, not the part's")
	var out bytes.Buffer
	require.NoError(t, WriteGeoJSON(&out, all[:1]))
	assert.Contains(t, out.String(), `"miss_m": 120`)
	back, err := ReadGeoJSON(&out, "x.geojson", nil)
	require.NoError(t, err)
	assert.NotContains(t, string(back[0].Body), "miss_m")
	_, err = b.db.Exec("DELETE FROM judged")
	assert.ErrorContains(t, err, "only grows")

	to := filepath.Join(t.TempDir(), "saved.db")
	_, _, err = Salvage(b.path, to)
	require.NoError(t, err)
	saved, err := OpenRead(to)
	require.NoError(t, err)
	defer saved.Close()
	again, err := saved.Entries(Query{})
	require.NoError(t, err)
	assert.Equal(t, all, again)

	e, err := b.Amend(got[0].ID, "", noon, body(`{"lat":1,"lon":3}`))
	require.NoError(t, err)
	all, err = b.Entries(Query{})
	require.NoError(t, err)
	assert.Nil(t, all[0].Judged)
	require.NoError(t, b.Judge(e, noon, body(`{"miss_m":33}`)))
	all, err = b.Entries(Query{})
	require.NoError(t, err)
	assert.JSONEq(t, `{"miss_m":33}`, string(all[0].Judged))
}
