package logbook

import (
	"database/sql"
	"encoding/json"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var noon = time.Date(2026, 4, 18, 12, 0, 0, 0, time.UTC)

func body(s string) json.RawMessage { return json.RawMessage(s) }

func open1(t *testing.T) *Book {
	t.Helper()
	b, err := Open(filepath.Join(t.TempDir(), "club", "logbook.db"))
	require.NoError(t, err)
	t.Cleanup(func() { b.Close() })
	return b
}

func TestReadingMakesNothing(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a", "logbook.db")
	b, err := OpenRead(path)
	require.NoError(t, err)
	got, err := b.Entries(Query{})
	assert.NoError(t, err)
	assert.Empty(t, got)
	in, err := b.FlightInputs("")
	assert.NoError(t, err)
	assert.Empty(t, in)
	_, err = b.Add(nil, Entry{Flight: "x", Kind: Find, When: noon, Body: body(`{}`)})
	assert.ErrorContains(t, err, "open for reading")
	require.NoError(t, b.Close())
	files, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Empty(t, files)
}

func TestAddAmendWithdraw(t *testing.T) {
	b := open1(t)
	got, err := b.Add(nil,
		Entry{Flight: "garza-07", Kind: Sighting, By: "Inés", When: noon, Body: body(`{"bearing_deg":47}`)},
		Entry{Flight: "garza-07", Kind: Find, By: "Tom", When: noon.Add(time.Hour), Body: body(`{"lat":39.05,"lon":-5.58}`)})
	require.NoError(t, err)
	assert.Equal(t, int64(1), got[0].ID)

	e, err := b.Amend(1, "Inés", noon.Add(time.Minute), body(`{"bearing_deg":74}`))
	require.NoError(t, err)
	assert.Equal(t, 2, e.Revision)
	_, err = b.Withdraw(2, "Tom", noon.Add(2*time.Hour))
	require.NoError(t, err)

	live, err := b.Entries(Query{Flight: "garza-07"})
	require.NoError(t, err)
	require.Len(t, live, 1)
	assert.JSONEq(t, `{"bearing_deg":74}`, string(live[0].Body))
	assert.Equal(t, noon, live[0].When, "the time of the first logging stays")
	all, err := b.Entries(Query{Withdrawn: true})
	require.NoError(t, err)
	require.Len(t, all, 2)
	assert.True(t, all[1].Withdrawn)

	h, err := b.History(1)
	require.NoError(t, err)
	require.Len(t, h, 2)
	assert.JSONEq(t, `{"bearing_deg":47}`, string(h[0].Body))
	assert.Equal(t, "amended", h[1].State)

	_, err = b.Withdraw(2, "", noon)
	assert.ErrorContains(t, err, "withdrawn already")
	_, err = b.Withdraw(9, "", noon)
	assert.ErrorContains(t, err, "no entry 9")
}

func TestQuery(t *testing.T) {
	b := open1(t)
	for i, k := range []Kind{Sighting, Timing, Height, NothingIn, Track, Find} {
		_, err := b.Add(nil, Entry{Flight: "f" + string(rune('a'+i%2)), Kind: k, By: "p" + string(rune('0'+i%3)), When: noon.Add(time.Duration(i) * time.Hour), Body: body(`{}`)})
		require.NoError(t, err)
	}
	count := func(q Query) int {
		got, err := b.Entries(q)
		require.NoError(t, err)
		return len(got)
	}
	assert.Equal(t, 6, count(Query{}))
	assert.Equal(t, 3, count(Query{Flight: "fa"}))
	assert.Equal(t, 2, count(Query{Kinds: []Kind{Find, Track}}))
	assert.Equal(t, 2, count(Query{By: "p1"}))
	assert.Equal(t, 4, count(Query{Since: noon.Add(2 * time.Hour)}))
	assert.Equal(t, 2, count(Query{Until: noon.Add(2 * time.Hour)}))
}

func TestEntryRefusals(t *testing.T) {
	b := open1(t)
	for _, c := range []struct {
		e    Entry
		want string
	}{
		{Entry{Flight: "x", Kind: "guess", When: noon, Body: body(`{}`)}, `kind "guess"`},
		{Entry{Kind: Find, When: noon, Body: body(`{}`)}, "without a flight"},
		{Entry{Flight: "x", Kind: Find, Body: body(`{}`)}, "without a time"},
		{Entry{Flight: "x", Kind: Find, When: noon, Body: body(`[1]`)}, "not a JSON object"},
		{Entry{Flight: "x", Kind: Find, When: noon, Body: body(`{"by":"me"}`)}, `key "by"`},
	} {
		// A good entry before the bad one is not logged either.
		_, err := b.Add(nil, Entry{Flight: "x", Kind: Find, When: noon, Body: body(`{}`)}, c.e)
		assert.ErrorContains(t, err, c.want)
	}
	got, err := b.Entries(Query{Withdrawn: true})
	require.NoError(t, err)
	assert.Empty(t, got)
}

func TestEntryJSON(t *testing.T) {
	out, err := json.Marshal(Entry{ID: 3, Flight: "garza-07", Kind: Timing, By: "Tom", When: noon, Body: body(`{"event":"landing", "at_s":92}`), Revision: 1})
	require.NoError(t, err)
	assert.Equal(t, `{"id":3,"flight":"garza-07","kind":"timing","by":"Tom","when":"2026-04-18T12:00:00Z","event":"landing","at_s":92}`, string(out))
}

func TestInputsComeBackWhole(t *testing.T) {
	b := open1(t)
	in := &Inputs{Flight: "garza-07", Launched: noon, When: noon.Add(time.Hour), Version: "1.0", Seed: 1<<63 + 5, Runs: 20000, Main: "flight.yaml",
		Files: []File{{Name: "flight.yaml", Bytes: []byte("flight: garza-07\n")}, {Name: "empty.csv"}}}
	e := Entry{Flight: "garza-07", Kind: Find, When: noon, Body: body(`{}`)}
	one, err := b.Add(in, e)
	require.NoError(t, err)
	two, err := b.Add(in, e)
	require.NoError(t, err)
	assert.Equal(t, one[0].Inputs, two[0].Inputs, "the same inputs are stored once")
	in.Files[0].Bytes = []byte("flight: garza-07\n# new\n")
	three, err := b.Add(in, e)
	require.NoError(t, err)
	assert.NotEqual(t, one[0].Inputs, three[0].Inputs)

	got, err := b.Inputs(one[0].Inputs)
	require.NoError(t, err)
	assert.Equal(t, uint64(1<<63+5), got.Seed)
	assert.Equal(t, noon, got.Launched)
	require.Len(t, got.Files, 2)
	assert.Equal(t, "empty.csv", got.Files[0].Name)
	assert.Equal(t, "flight: garza-07\n", string(got.Files[1].Bytes))
	all, err := b.FlightInputs("garza-07")
	require.NoError(t, err)
	assert.Len(t, all, 2)
}

func TestRowsCannotBeChanged(t *testing.T) {
	b := open1(t)
	_, err := b.Add(nil, Entry{Flight: "x", Kind: Find, When: noon, Body: body(`{}`)})
	require.NoError(t, err)
	for _, q := range []string{"DELETE FROM entry", "UPDATE revision SET body = '{}'", "DELETE FROM revision", "DELETE FROM flight"} {
		_, err := b.db.Exec(q)
		assert.ErrorContains(t, err, "only grows", q)
	}
	_, err = b.db.Exec("INSERT INTO revision VALUES (99, 1, 'x', 'x', 'logged', '{}')")
	assert.ErrorContains(t, err, "FOREIGN KEY")
}

// Two books on one file, each with several writers: every entry arrives.
func TestTwoWriters(t *testing.T) {
	path := filepath.Join(t.TempDir(), "logbook.db")
	var wg sync.WaitGroup
	for range 2 {
		b, err := Open(path)
		require.NoError(t, err)
		defer b.Close()
		for range 3 {
			wg.Go(func() {
				for range 10 {
					_, err := b.Add(nil, Entry{Flight: "x", Kind: Find, When: noon, Body: body(`{}`)})
					assert.NoError(t, err)
				}
			})
		}
	}
	wg.Wait()
	b, err := OpenRead(path)
	require.NoError(t, err)
	defer b.Close()
	got, err := b.Entries(Query{})
	require.NoError(t, err)
	assert.Len(t, got, 60)
}

func TestRefusedFiles(t *testing.T) {
	dir := t.TempDir()
	newer := filepath.Join(dir, "newer.db")
	b, err := open(newer, append(append([]string{}, migrations...), "CREATE TABLE extra (x INTEGER) STRICT"))
	require.NoError(t, err)
	b.Close()
	other := filepath.Join(dir, "other.db")
	db, err := sql.Open("sqlite", other)
	require.NoError(t, err)
	_, err = db.Exec("CREATE TABLE t (x)")
	require.NoError(t, err)
	db.Close()
	text := filepath.Join(dir, "notes.txt")
	require.NoError(t, os.WriteFile(text, []byte("not a database, but long enough to be read as the header of one, if that were enough"), 0o644))
	for path, want := range map[string]string{newer: "written by a newer windfall", other: "another program", text: "damaged"} {
		before, err := os.ReadFile(path)
		require.NoError(t, err)
		_, err = OpenRead(path)
		assert.ErrorContains(t, err, want)
		_, err = Open(path)
		assert.ErrorContains(t, err, want)
		after, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, before, after, "refused and unchanged")
	}
}

// A logbook of schema 1 is read as it stands, and the first writer brings it to
// today's: numbers, corrections, inputs and what was lost stay as they were.
func TestSchemaOneGrows(t *testing.T) {
	path := filepath.Join(t.TempDir(), "old.db")
	b, err := open(path, migrations[:1])
	require.NoError(t, err)
	in := &Inputs{Flight: "x", When: noon, Main: "flight.yaml", Files: []File{{Name: "flight.yaml", Bytes: []byte("a")}}}
	first, err := b.Add(in, Entry{Flight: "x", Kind: Find, When: noon, Body: body(`{"lat":1,"lon":2}`)},
		Entry{Flight: "x", Kind: Timing, When: noon, Body: body(`{"at_s":2}`)})
	require.NoError(t, err)
	_, err = b.Withdraw(first[1].ID, "", noon)
	require.NoError(t, err)
	_, err = b.db.Exec("UPDATE sqlite_sequence SET seq = 5 WHERE name = 'entry'") // as if entries 3 to 5 had been lost
	require.NoError(t, err)
	_, err = b.Add(nil, Entry{Flight: "x", Kind: Measured, When: noon, Body: body(`{}`)})
	assert.Error(t, err, "schema 1 knows no measurements")
	require.NoError(t, b.Close())

	old, err := OpenRead(path)
	require.NoError(t, err)
	was, err := old.Entries(Query{Withdrawn: true})
	require.NoError(t, err)
	require.NoError(t, old.Close())

	b, err = Open(path)
	require.NoError(t, err)
	now, err := b.Entries(Query{Withdrawn: true})
	require.NoError(t, err)
	assert.Equal(t, was, now)
	got, err := b.Add(nil, Entry{Flight: "x", Kind: Measured, When: noon, Body: body(`{}`)})
	require.NoError(t, err)
	assert.Equal(t, int64(6), got[0].ID)
	rows, err := b.Flights()
	require.NoError(t, err)
	assert.Equal(t, 1, rows[0].Measured)
	assert.Equal(t, 0, rows[0].Sightings)
	_, err = b.db.Exec("DELETE FROM entry")
	assert.ErrorContains(t, err, "only grows")
	_, err = b.db.Exec("INSERT INTO revision VALUES (99, 1, '', '', 'logged', '{}')")
	assert.Error(t, err, "keys that point nowhere are refused again")
	require.NoError(t, b.Close())
	problems, err := Check(path)
	require.NoError(t, err)
	assert.Equal(t, []string{"3 entries are missing"}, problems)
}

// Source: https://sqlite.org/uri.html (from memory): "file:///C:/Documents%20and%20Settings/fred/Desktop/data.db"
// is its example for Windows.
func TestURI(t *testing.T) {
	for path, want := range map[string]string{
		"/home/ana/log book.db":                          "file:///home/ana/log%20book.db",
		"C:/Documents and Settings/fred/Desktop/data.db": "file:///C:/Documents%20and%20Settings/fred/Desktop/data.db",
		"//club/share/a?b#c.db":                          "file:////club/share/a%3Fb%23c.db",
	} {
		assert.Equal(t, want, uri(path))
	}
}
