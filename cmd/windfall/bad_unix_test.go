//go:build unix

package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"fmt"
	"io/fs"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/flightfile"
)

// What any input may cost, good or bad.
const (
	mostCPU    = 20 * time.Second // of the processor; a race-free plan takes three
	mostMemory = 500 << 20        // bytes, the largest resident set
	mostWall   = 90 * time.Second // the machine may be busy
)

// spoilt is one bad input: files laid over the base folder, a command line and
// what the one line of its error must hold. Status 0 stands for "flown, with a
// caution that holds says".
type spoilt struct {
	name   string
	files  map[string]string
	args   string
	status int
	says   string
}

// bench is a folder to spoil inputs in.
type bench struct {
	t    *testing.T
	dir  string
	bin  string
	base map[string]string // the folder's good files
}

func newBench(t *testing.T) *bench {
	b := &bench{t: t, dir: t.TempDir(), bin: binDir(t), base: map[string]string{}}
	for _, from := range []string{"testdata/bad/base", "testdata/help"} {
		require.NoError(t, filepath.WalkDir(from, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			text, err := os.ReadFile(path)
			b.base[filepath.Base(path)] = string(text)
			return err
		}))
	}
	b.lay(b.base)
	code, out, errs, _ := b.run("saw flight.yaml --by Ana --event landing --at 110s")
	require.Zero(t, code, out+errs)
	code, out, errs, _ = b.run("searched flight.yaml walk.gpx --by east --runs 300")
	require.Zero(t, code, out+errs)
	return b
}

func (b *bench) lay(files map[string]string) {
	for name, text := range files {
		require.NoError(b.t, os.WriteFile(filepath.Join(b.dir, name), []byte(text), 0o644))
	}
}

// run runs the program in the folder.
func (b *bench) run(args string) (code int, out, errs string, use *syscall.Rusage) {
	ctx, stop := context.WithTimeout(context.Background(), mostWall)
	defer stop()
	cmd := exec.CommandContext(ctx, "sh", "-c", "exec windfall "+args)
	cmd.Dir = b.dir
	cmd.Env = []string{"PATH=" + b.bin + ":/usr/bin:/bin", "HOME=" + b.dir, "XDG_DATA_HOME=" + b.dir, "TZ=UTC",
		"WINDFALL_LOGBOOK=" + filepath.Join(b.dir, "logbook.db")}
	var o, e bytes.Buffer
	cmd.Stdout, cmd.Stderr = &o, &e
	err := cmd.Run()
	if ctx.Err() != nil {
		b.t.Errorf("windfall %s: still running after %s", args, mostWall)
	}
	if cmd.ProcessState == nil {
		b.t.Fatal(err)
	}
	return cmd.ProcessState.ExitCode(), o.String(), e.String(), cmd.ProcessState.SysUsage().(*syscall.Rusage)
}

// state is what must not change when a command fails: the folder's files and
// their contents. SQLite's own side files come and go.
func (b *bench) state() map[string]string {
	got := map[string]string{}
	require.NoError(b.t, filepath.WalkDir(b.dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || strings.HasSuffix(path, "-wal") || strings.HasSuffix(path, "-shm") {
			return err
		}
		text, err := os.ReadFile(path)
		got[path] = fmt.Sprintf("%x", sha256.Sum256(text))
		return err
	}))
	return got
}

// remedy is a word that tells what to do, or offers what is known.
var remedy = regexp.MustCompile(`;|\bwrite\b|\bgive\b|\bname\b|did you mean|\bneeds\b|\bcheck\b|\bchoose\b|such as|\bkeep one\b|leave it out|\bdraw\b|\bexport\b|\bis larger than\b|fetch`)

// refuses checks everything that an error promises.
func (b *bench) refuses(r spoilt) {
	t := b.t
	b.lay(r.files)
	before := b.state()
	code, out, errs, use := b.run(r.args)
	after := b.state()
	for name := range r.files {
		if good, ok := b.base[name]; ok {
			b.lay(map[string]string{name: good})
		} else {
			os.Remove(filepath.Join(b.dir, name))
		}
	}
	what := r.name + ": windfall " + r.args
	b.bounded(what, use)
	if r.status == 0 {
		assert.Zero(t, code, "%s\n%s", what, errs)
		assert.Contains(t, out, r.says, what)
		return
	}
	assert.Equal(t, r.status, code, "%s\n%s%s", what, clipped(out), errs)
	b.oneLine(what, errs)
	assert.Contains(t, errs, r.says, what)
	assert.Regexp(t, remedy, errs, "no remedy: "+what)
	assert.Empty(t, clipped(out), what)
	assert.Equal(t, before, after, "changed something: "+what)
}

func (b *bench) bounded(what string, use *syscall.Rusage) {
	cpu := time.Duration(use.Utime.Nano() + use.Stime.Nano())
	assert.LessOrEqual(b.t, cpu, mostCPU, "processor: "+what)
	assert.LessOrEqual(b.t, use.Maxrss*1024, int64(mostMemory), "memory: "+what)
}

func (b *bench) oneLine(what, errs string) {
	assert.Equal(b.t, 1, strings.Count(errs, "\n"), "%s\n%s", what, clipped(errs))
	assert.True(b.t, strings.HasPrefix(errs, "windfall: "), "%s\n%s", what, clipped(errs))
	assert.Less(b.t, len(errs), 4200, what)
	assert.False(b.t, controls.MatchString(strings.TrimSuffix(errs, "\n")), "%s\n%q", what, errs)
}

func clipped(s string) string {
	if len(s) > 600 {
		return s[:600] + "..."
	}
	return s
}

// TestBadInput runs the table of bad inputs through the real program: each is
// refused with its status and one line that names the place and the remedy,
// leaves nothing behind and costs little.
func TestBadInput(t *testing.T) {
	if testing.Short() {
		t.Skip("starts the program some hundred times")
	}
	b := newBench(t)
	rows := slices.Concat(badKeys(t, b.base["flight.yaml"]), badFlights(b.base["flight.yaml"]), badFiles, badCommands)
	for _, r := range rows {
		b.refuses(r)
	}
	t.Logf("%d bad inputs", len(rows))
	assert.GreaterOrEqual(t, len(rows), 300)
}

// badKeys spoils every key that has a range: out of it, without a unit, with a
// unit of another kind, with no number and with a list.
func badKeys(t *testing.T, text string) (rows []spoilt) {
	for i, k := range flightfile.Keys {
		if k.Can == (flightfile.Range{}) {
			continue
		}
		path := strings.ReplaceAll(k.Path, "[]", "[0]")
		if strings.HasPrefix(k.Path, "searchers[]") {
			path = strings.ReplaceAll(k.Path, "[]", "[1]") // the drone
		}
		if at, ok := strings.CutSuffix(k.Path, "[]"); ok { // by the words of covers
			path = at + ".crop"
		}
		field := strings.TrimPrefix(path[strings.LastIndex(path, ".")+1:], ".")
		for j, bad := range []string{"1e30", "-1e30", "nonsense", "NaN m", "[1, 2]", "{a: 1}", "12 parsecs"} {
			if (i+j)%3 > 0 && os.Getenv("WINDFALL_SLOW") == "" {
				continue // a third of them, each kind with some keys
			}
			out, err := flightfile.Apply("flight.yaml", []byte(text), []flightfile.Edit{{Key: path, Value: bad}})
			require.NoError(t, err, path)
			rows = append(rows, spoilt{path + " " + bad, map[string]string{"flight.yaml": string(out)}, "predict flight.yaml --runs 200", 2, field})
		}
	}
	return rows
}

// badFlights replaces one text of the flight file by another.
func badFlights(text string) (rows []spoilt) {
	for _, c := range badFlightTexts {
		if !strings.Contains(text, c.old) {
			panic("not in the base flight: " + c.old)
		}
		args := c.args
		if args == "" {
			args = "predict flight.yaml --runs 200"
		}
		rows = append(rows, spoilt{c.old + " -> " + clipped(c.new), map[string]string{"flight.yaml": strings.Replace(text, c.old, c.new, 1)}, args, c.status, c.says})
	}
	return rows
}

// TestMutations spoils good files at random, with a seed, and holds whatever
// happens to the same promises: no panic, one line, nothing left behind.
func TestMutations(t *testing.T) {
	if testing.Short() {
		t.Skip("starts the program some hundred times")
	}
	b := newBench(t)
	n := 60
	if os.Getenv("WINDFALL_SLOW") != "" {
		n = 3000
	}
	names := slices.Sorted(maps.Keys(commandOf))
	r := rand.New(rand.NewPCG(1, 2))
	failed := 0
	for i := range n {
		name := names[i%len(names)]
		text := mutate(r, b.base[name])
		before := b.state()
		b.lay(map[string]string{name: text})
		code, _, errs, use := b.run(commandOf[name])
		what := fmt.Sprintf("mutation %d of %s", i, name)
		b.bounded(what, use)
		assert.Contains(t, []int{0, 1, 2}, code, "%s\n%s", what, clipped(errs))
		b.lay(map[string]string{name: b.base[name]})
		if code != 0 {
			failed++
			b.oneLine(what, errs)
			assert.Equal(t, before, b.state(), what)
		}
		os.RemoveAll(filepath.Join(b.dir, "out"))
	}
	t.Logf("%d mutations, %d refused", n, failed)
	assert.Greater(t, failed, n/4, "mutations hardly spoil anything")
}

// commandOf is what reads each file of the bench; none logs anything.
var commandOf = map[string]string{
	"flight.yaml": "predict flight.yaml --runs 200", "field.geojson": "predict flight.yaml --runs 200", "ground.geojson": "predict flight.yaml --runs 200",
	"motor.csv": "predict flight.yaml --runs 200", "drag.csv": "predict flight.yaml --runs 200", "hill.asc": "predict flight.yaml --runs 200",
	"levels.csv": "wind levels.csv --json", "report.txt": "wind report.txt --json", "forecast.json": "wind forecast.json --when 2026-04-18T10:00:00Z --json",
	"places.txt": "spotters flight.yaml --candidates places.txt -n 1",
}

var tokens = []string{"NaN", "-1", "1e308", "0", "\"", "{", "[", "]", "}", ":", ",", "\x00", "\x1b[2J", "\ufeff", "é", "999999999999999999999", "null", "- ", "\n", "*a", "&a", "!!x", "../../x", "1e-320"}

// mutate spoils a text in one of the ways files get spoilt.
func mutate(r *rand.Rand, s string) string {
	lines := strings.SplitAfter(s, "\n")
	i, at := r.IntN(len(lines)), r.IntN(len(s)+1)
	switch r.IntN(7) {
	case 0: // cut short
		return s[:at]
	case 1: // a byte flipped
		b := []byte(s)
		b[r.IntN(len(b))] ^= byte(1 << r.IntN(8))
		return string(b)
	case 2: // a line lost
		return strings.Join(slices.Delete(lines, i, i+1), "")
	case 3: // a line twice
		return strings.Join(slices.Insert(lines, i, lines[i]), "")
	case 4: // something strange put in
		return s[:at] + tokens[r.IntN(len(tokens))] + s[at:]
	case 5: // a number replaced
		found := number.FindAllStringIndex(s, -1)
		if len(found) == 0 {
			return tokens[0] + s
		}
		f := found[r.IntN(len(found))]
		return s[:f[0]] + tokens[r.IntN(len(tokens))] + s[f[1]:]
	}
	return s[:at] + s[min(len(s), at+1+r.IntN(40)):] // a piece lost
}

var number = regexp.MustCompile(`-?[0-9]+(\.[0-9]+)?`)
