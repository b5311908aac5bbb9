//go:build unix

package main

import (
	"crypto/sha256"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// begin starts the program without waiting for it.
func (b *bench) begin(args string) *exec.Cmd {
	cmd := exec.Command(filepath.Join(b.bin, "windfall"), strings.Fields(args)...)
	cmd.Dir = b.dir
	cmd.Env = []string{"PATH=/usr/bin:/bin", "HOME=" + b.dir, "XDG_DATA_HOME=" + b.dir, "TZ=UTC", "WINDFALL_LOGBOOK=" + filepath.Join(b.dir, "logbook.db")}
	require.NoError(b.t, cmd.Start())
	return cmd
}

// hashes are the files of the map folder, hidden ones too.
func (b *bench) hashes() map[string]string {
	got := map[string]string{}
	es, err := os.ReadDir(filepath.Join(b.dir, "out"))
	if err != nil {
		return got
	}
	for _, e := range es {
		text, err := os.ReadFile(filepath.Join(b.dir, "out", e.Name()))
		require.NoError(b.t, err)
		got[e.Name()] = fmt.Sprintf("%x", sha256.Sum256(text))
	}
	return got
}

// TestKilledMaps kills and interrupts a run that writes maps, at random moments:
// the folder holds the old set or the new one, or says that it is unfinished,
// and the next run leaves nothing behind.
func TestKilledMaps(t *testing.T) {
	if testing.Short() {
		t.Skip("starts the program many times")
	}
	b := newBench(t)
	const one, two = "predict flight.yaml --runs 300 --seed 1", "predict flight.yaml --runs 300 --seed 2"
	set := func(args string) map[string]string {
		code, _, errs, _ := b.run(args)
		require.Zero(t, code, errs)
		return b.hashes()
	}
	second := set(two)
	began := time.Now()
	first := set(one)
	usual := time.Since(began)
	r := rand.New(rand.NewPCG(3, 4))
	stopped := 0
	for i := range kills() {
		cmd := b.begin(two)
		time.Sleep(time.Duration(r.Float64() * 1.3 * float64(usual)))
		sig := syscall.SIGKILL
		if i%3 == 0 {
			sig = syscall.SIGINT
		}
		cmd.Process.Signal(sig)
		if cmd.Wait() != nil {
			stopped++
			if code := cmd.ProcessState.ExitCode(); sig == syscall.SIGINT {
				assert.Contains(t, []int{130, -1}, code) // -1: before the program listened
			}
		}
		old, new := 0, 0
		got := b.hashes()
		for name, h := range got {
			switch h {
			case first[name]:
				old++
			case second[name]:
				new++
			default:
				assert.True(t, strings.HasPrefix(name, ".") || name == "unfinished.txt", name)
			}
		}
		assert.Equal(t, len(first), old+new, "files lost")
		if _, noted := got["unfinished.txt"]; old > 0 && new > 0 {
			assert.True(t, noted, "old and new files side by side, and nothing says so")
		}
		require.Equal(t, first, set(one), "the next run does not put it right")
	}
	t.Logf("%d of %d stopped", stopped, kills())
	assert.Positive(t, stopped)
}

// TestKilledEntries kills commands that log, at random moments: what was
// answered is there, the logbook is sound.
func TestKilledEntries(t *testing.T) {
	if testing.Short() {
		t.Skip("starts the program many times")
	}
	b := newBench(t)
	r := rand.New(rand.NewPCG(5, 6))
	began := time.Now()
	code, _, errs, _ := b.run("saw flight.yaml --by usual --event landing --at 60s --anyway")
	require.Zero(t, code, errs)
	usual := time.Since(began)
	answered := 0
	for i := range kills() {
		args := fmt.Sprintf("saw flight.yaml --by k%d --event landing --at %ds --anyway", i, 60+i%30)
		cmd := exec.Command(filepath.Join(b.bin, "windfall"), strings.Fields(args)...)
		cmd.Dir = b.dir
		cmd.Env = []string{"PATH=/usr/bin:/bin", "HOME=" + b.dir, "TZ=UTC", "WINDFALL_LOGBOOK=" + filepath.Join(b.dir, "logbook.db")}
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, cmd.Start())
		wait := time.Duration(r.Float64() * 2 * float64(usual))
		go func() {
			time.Sleep(wait)
			cmd.Process.Kill()
		}()
		text := make([]byte, 64)
		n, _ := out.Read(text)
		cmd.Wait()
		if !strings.HasPrefix(string(text[:n]), "logged") {
			continue
		}
		answered++
		_, list, _, _ := b.run("log flight.yaml --json --by k" + fmt.Sprint(i))
		assert.Contains(t, list, fmt.Sprintf("k%d", i), "an answered entry is lost")
	}
	code, out, errs, _ := b.run("log --check") // reads every page
	assert.Positive(t, answered)
	assert.Zero(t, code, out+errs)
	t.Logf("%d of %d answered before the kill", answered, kills())
}

// kills is how often: 20 each day, 200 in the long form.
func kills() int {
	if os.Getenv("WINDFALL_SLOW") != "" {
		return 200
	}
	return 20
}
