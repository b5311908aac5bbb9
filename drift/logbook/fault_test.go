package logbook

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestMain turns the test program into a writer that logs entries until it is
// killed, when WINDFALL_TEST_WRITER names a logbook: it prints each entry's
// number once Add has returned. WINDFALL_TEST_OPEN makes it open a logbook for
// writing and print the error.
func TestMain(m *testing.M) {
	if path := os.Getenv("WINDFALL_TEST_OPEN"); path != "" {
		_, err := Open(path)
		fmt.Print(err)
		os.Exit(0)
	}
	path := os.Getenv("WINDFALL_TEST_WRITER")
	if path == "" {
		os.Exit(m.Run())
	}
	b, err := Open(path)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	for i := 0; ; i++ {
		in := &Inputs{Flight: "kill", When: noon, Main: "flight.yaml", Files: []File{{Name: "flight.yaml", Bytes: fmt.Appendf(nil, "seed %d %s", i, strings.Repeat("x", i%5000))}}}
		got, err := b.Add(in, Entry{Flight: "kill", Kind: Find, When: noon, Body: fmt.Appendf(nil, `{"i":%d}`, i)})
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		fmt.Println(got[0].ID)
	}
}

// TestKilledWriters kills a writing process (SIGKILL) again and again, at a
// random moment of its beginning or after its first answer, by turns: what Add had
// answered is there, and the file is sound. 20 times by default, 1000 with
// WINDFALL_SLOW.
func TestKilledWriters(t *testing.T) {
	times := 20
	if os.Getenv("WINDFALL_SLOW") != "" {
		times = 1000
	}
	path := filepath.Join(t.TempDir(), "logbook.db")
	r := rand.New(rand.NewPCG(1, 1))
	answered, last, migrating := 0, int64(0), 0
	for k := range times {
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), "WINDFALL_TEST_WRITER="+path)
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, cmd.Start())
		soon := time.Duration(r.IntN(60)) * time.Millisecond
		strike := func() { time.AfterFunc(soon, func() { cmd.Process.Kill() }) }
		if k%2 == 0 {
			strike()
		}
		n := 0
		for s := bufio.NewScanner(out); s.Scan(); n++ {
			if fmt.Sscan(s.Text(), &last); n == 0 && k%2 == 1 {
				strike()
			}
		}
		assert.ErrorContains(t, cmd.Wait(), "killed")
		answered += n
		if n == 0 {
			migrating++
		}
		b, err := OpenRead(path)
		require.NoError(t, err)
		got, err := b.Entries(Query{})
		require.NoError(t, err)
		require.NoError(t, b.Close())
		// At most the one under way when it was killed is there unanswered.
		require.GreaterOrEqual(t, len(got), answered)
		answered = len(got)
	}
	problems, err := Check(path)
	require.NoError(t, err)
	assert.Empty(t, problems)
	t.Logf("%d kills (%d before the first entry), %d entries answered for, none lost, file sound", times, migrating, answered)
	assert.Positive(t, answered)
}

// A disk that is full, here by SQLite's own limit of pages: the entry is
// refused with advice, those before it stay, and after room is made it goes on.
func TestFullDisk(t *testing.T) {
	b := open1(t)
	b.db.SetMaxOpenConns(1) // the limit is a connection's
	_, err := b.db.Exec("PRAGMA max_page_count = 60")
	require.NoError(t, err)
	big := Entry{Flight: "x", Kind: Find, When: noon, Body: body(`{"note":"` + strings.Repeat("x", 9000) + `"}`)}
	n := 0
	for {
		if _, err = b.Add(nil, big); err != nil {
			break
		}
		n++
	}
	assert.ErrorContains(t, err, "the disk is full; this was not logged, everything before it is: make room and run the command again")
	got, err := b.Entries(Query{})
	require.NoError(t, err)
	assert.Len(t, got, n)
	assert.Positive(t, n)
	_, err = b.db.Exec("PRAGMA max_page_count = 1000")
	require.NoError(t, err)
	_, err = b.Add(nil, big)
	assert.NoError(t, err)
	problems, err := Check(b.path)
	require.NoError(t, err)
	assert.Empty(t, problems)
}

// A file that may only be read is read, and writing to it says what to do.
func TestReadOnlyFile(t *testing.T) {
	b := open1(t)
	_, err := b.Add(nil, Entry{Flight: "x", Kind: Find, When: noon, Body: body(`{}`)})
	require.NoError(t, err)
	require.NoError(t, b.Close())
	dir := filepath.Dir(b.path)
	require.NoError(t, os.Chmod(b.path, 0o444))
	require.NoError(t, os.Chmod(dir, 0o555))
	defer os.Chmod(dir, 0o755)
	r, err := OpenRead(b.path)
	require.NoError(t, err)
	got, err := r.Entries(Query{})
	require.NoError(t, err)
	assert.Len(t, got, 1)
	require.NoError(t, r.Close())
	assert.Contains(t, openedByNobody(t, b.path), "the logbook cannot be written (permission denied); make it writable, or name another with --logbook")
	files, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, files, 1)
}

// openedByNobody opens a logbook for writing in a process of its own, as a user
// who owns nothing where the tests run as the superuser, and returns the error.
func openedByNobody(t *testing.T, path string) string {
	t.Helper()
	program := filepath.Join(t.TempDir(), "opener") // the tests' own lies where nobody may go
	b, err := os.ReadFile(os.Args[0])
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(program, b, 0o755))
	for _, d := range []string{filepath.Dir(path), filepath.Dir(program)} {
		require.NoError(t, os.Chmod(filepath.Dir(d), 0o755))
	}
	cmd := exec.Command(program)
	cmd.Env = append(os.Environ(), "WINDFALL_TEST_OPEN="+path)
	if os.Getuid() == 0 {
		cmd.SysProcAttr = asNobody()
	}
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, string(out))
	return string(out)
}

// Damage anywhere is found by Check or does no harm, and Salvage brings over
// whatever can still be read.
func TestDamagedFile(t *testing.T) {
	b := open1(t)
	const n = 300
	for i := range n {
		_, err := b.Add(nil, Entry{Flight: fmt.Sprintf("f%03d", i%40), Kind: Find, By: "Ana", When: noon, Body: fmt.Appendf(nil, `{"i":%d,"note":"%s"}`, i, strings.Repeat("y", 200))})
		require.NoError(t, err)
	}
	require.NoError(t, b.Close())
	good, err := os.ReadFile(b.path)
	require.NoError(t, err)
	r := rand.New(rand.NewPCG(2, 2))
	dir := t.TempDir()
	kept := 0
	const trials = 15
	for trial := range trials {
		bad := append([]byte(nil), good...)
		page := 1 + r.IntN(len(bad)/4096-1) // not the first, which holds the header
		for i := range 400 {
			bad[page*4096+i] = byte(r.IntN(256))
		}
		path := filepath.Join(dir, fmt.Sprintf("bad%d.db", trial))
		require.NoError(t, os.WriteFile(path, bad, 0o644))
		problems, err := Check(path)
		require.NoError(t, err)
		assert.NotEmpty(t, problems, "page %d", page)
		got, lost, err := Salvage(path, filepath.Join(dir, fmt.Sprintf("new%d.db", trial)))
		require.NoError(t, err)
		assert.LessOrEqual(t, got+lost, n)
		kept += got
		after, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, bad, after, "the damaged file is left alone")
	}
	assert.Greater(t, kept, trials*n/2)
	t.Logf("%d of %d entries salvaged from %d files with a page overwritten", kept, trials*n, trials)

	short := filepath.Join(dir, "short.db")
	require.NoError(t, os.WriteFile(short, good[:len(good)/2], 0o644))
	problems, err := Check(short)
	require.NoError(t, err)
	assert.NotEmpty(t, problems)
	_, _, err = Salvage(short, b.path)
	assert.ErrorContains(t, err, "exists; name a new file")
}

// A backup taken while others write is whole.
func TestBackupInUse(t *testing.T) {
	b := open1(t)
	stop, done := make(chan bool), make(chan bool)
	go func() {
		defer close(done)
		for {
			select {
			case <-stop:
				return
			default:
				_, err := b.Add(nil, Entry{Flight: "x", Kind: Find, When: noon, Body: body(`{}`)})
				assert.NoError(t, err)
			}
		}
	}()
	for i := range 5 {
		before, err := b.Entries(Query{})
		require.NoError(t, err)
		to := filepath.Join(t.TempDir(), "copy.db")
		require.NoError(t, b.Backup(to))
		c, err := OpenRead(to)
		require.NoError(t, err)
		got, err := c.Entries(Query{})
		require.NoError(t, err)
		assert.GreaterOrEqual(t, len(got), len(before), i)
		c.Close()
	}
	close(stop)
	<-done
	assert.ErrorContains(t, b.Backup(b.path), "is the logbook itself")
}

// An older schema is brought up to date by the next writer; a reader says so.
func TestOlderSchema(t *testing.T) {
	b := open1(t)
	_, err := b.Add(nil, Entry{Flight: "x", Kind: Find, When: noon, Body: body(`{}`)})
	require.NoError(t, err)
	require.NoError(t, b.Close())
	more := append(append([]string{}, migrations...), "CREATE TABLE extra (x INTEGER) STRICT; INSERT INTO extra VALUES (1)")
	broken := append(append([]string{}, migrations...), "CREATE TABLE extra (x INTEGER) STRICT; NONSENSE")
	_, err = open(b.path, broken)
	assert.Error(t, err, "a migration that fails")
	again, err := open(b.path, migrations)
	require.NoError(t, err, "leaves the file as it was")
	again.Close()
	c, err := open(b.path, more)
	require.NoError(t, err)
	got, err := c.Entries(Query{})
	require.NoError(t, err)
	assert.Len(t, got, 1)
	c.Close()
}

func benchBook(b *testing.B, flights int) *Book {
	book, err := Open(filepath.Join(b.TempDir(), "logbook.db"))
	require.NoError(b, err)
	b.Cleanup(func() { book.Close() })
	var all []Entry
	for i := range flights {
		all = append(all, Entry{Flight: fmt.Sprintf("garza-%05d", i), Kind: Find, By: "Ana", When: noon.Add(time.Duration(i) * time.Hour), Body: body(`{"lat":41.9,"lon":-4.9,"level":0.5}`)})
	}
	_, err = book.Add(nil, all...)
	require.NoError(b, err)
	return book
}

func BenchmarkFlights10000(b *testing.B) {
	book := benchBook(b, 10000)
	for b.Loop() {
		got, err := book.Flights()
		require.NoError(b, err)
		require.Len(b, got, 10000)
	}
}

func BenchmarkEntries10000(b *testing.B) {
	book := benchBook(b, 10000)
	for b.Loop() {
		got, err := book.Entries(Query{})
		require.NoError(b, err)
		require.Len(b, got, 10000)
	}
}
