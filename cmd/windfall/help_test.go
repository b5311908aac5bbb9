package main

import (
	"bufio"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/help"
)

// global are the flags that every command has.
var global = []string{"--help", "--quiet"}

// Each command has a page of one screen that tells of each of its flags and of
// no others.
func TestHelpTellsOfEveryFlag(t *testing.T) {
	app := newApp(env{out: io.Discard, err: io.Discard})
	first, ok := help.Page(help.First)
	require.True(t, ok)
	for _, c := range app.Commands {
		page, ok := help.Page(c.Name)
		if !assert.True(t, ok, "no help page for %s", c.Name) {
			continue
		}
		assert.Regexp(t, `(?m)^  (\w+, )?`+c.Name+`\b`, first, "the first page leaves out %s", c.Name)
		told := help.Flags(page)
		for _, f := range c.Flags {
			name := "--" + f.Names()[0]
			if len(f.Names()[0]) == 1 {
				name = name[1:]
			}
			assert.Contains(t, told, name, "help of %s", c.Name)
			told = slices.DeleteFunc(told, func(s string) bool { return s == name })
		}
		if c.Name != "help" {
			for _, f := range told {
				assert.Contains(t, global, f, "help of %s tells of a flag it has not", c.Name)
			}
		}
		lines := strings.Count(page, "\n")
		assert.LessOrEqual(t, lines, 46, "help of %s is more than a screen", c.Name)
		for line := range strings.Lines(page) {
			assert.LessOrEqual(t, len(line), 92, "%s: %s", c.Name, line)
		}
		assert.NotEmpty(t, help.Examples(page), c.Name)
	}
}

// The examples of all help pages run as they stand, on the example flight with
// a track, some places and a table of levels beside it. Those that make a plan,
// ten seconds of processor time each, wait for WINDFALL_SLOW=1: the README's
// walk makes the same ones.
func TestHelpExamples(t *testing.T) {
	if testing.Short() {
		t.Skip("flies many examples")
	}
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS("../../testdata/garza")))
	require.NoError(t, os.CopyFS(dir, os.DirFS("testdata/help")))
	app := newApp(env{out: io.Discard, err: io.Discard})
	names := []string{help.First}
	for _, c := range app.Commands {
		names = append(names, c.Name)
	}
	// What is logged by one example is there for those after it.
	order := []string{"saw", "searched", "search", "export", "found", "learn", "log"}
	slices.SortStableFunc(names, func(a, b string) int { return slices.Index(order, a) - slices.Index(order, b) })
	for _, name := range names {
		page, _ := help.Page(name)
		for _, line := range help.Examples(page) {
			if name == help.First {
				break
			}
			switch {
			case name == "serve":
				line = "exec " + line + " --no-browser"
			case os.Getenv("WINDFALL_SLOW") != "":
			case name == "search" || name == "searched" || name == "export":
				continue
			case name == "found":
				line += " --no-plan"
			}
			cmd := exec.Command("sh", "-c", line)
			cmd.Dir = dir
			cmd.Env = append(os.Environ(), "PATH="+binDir(t)+":"+os.Getenv("PATH"), "HOME="+dir, "XDG_DATA_HOME="+dir,
				"WINDFALL_LOGBOOK="+filepath.Join(dir, "logbook.db"))
			run := (*exec.Cmd).CombinedOutput
			if name == "serve" {
				run = untilServing
			}
			out, err := run(cmd)
			assert.NoError(t, err, "%s\n%s", line, out)
		}
	}
}

// untilServing runs a command until it says where its page is, then asks it to
// stop.
func untilServing(cmd *exec.Cmd) (said []byte, err error) {
	out, err := cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	cmd.Stderr = cmd.Stdout
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	for lines := bufio.NewScanner(out); lines.Scan(); {
		said = append(append(said, lines.Bytes()...), '\n')
		if strings.HasPrefix(lines.Text(), "page: ") {
			cmd.Process.Signal(os.Interrupt)
		}
	}
	return said, cmd.Wait()
}

// binDir is a folder with this test program as windfall, which main_test.go
// lets be the real one.
func binDir(t *testing.T) string {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	dir := t.TempDir()
	require.NoError(t, os.Symlink(self, filepath.Join(dir, "windfall")))
	return dir
}

func TestHelpAsked(t *testing.T) {
	for _, c := range []struct {
		args string
		name string
		ok   bool
	}{
		{"--help", help.First, true}, {"-h", help.First, true}, {"predict flight.yaml --help", "predict", true}, {"saw --help x", "saw", true},
		{"predict flight.yaml", "", false}, {"saw f -- --help", "", false},
	} {
		name, ok := helpAsked(strings.Fields(c.args))
		assert.Equal(t, c.name, name, c.args)
		assert.Equal(t, c.ok, ok, c.args)
	}
}

// Each shell takes what completion prints for it.
func TestCompletion(t *testing.T) {
	app := newApp(env{out: io.Discard, err: io.Discard})
	text, ok := help.Completion(completed(app), "bash")
	require.True(t, ok)
	out, err := exec.Command("bash", "-c", text+`
COMP_WORDS=(windfall pre); COMP_CWORD=1; _windfall; echo "${COMPREPLY[@]}"
COMP_WORDS=(windfall predict --bey); COMP_CWORD=2; _windfall; echo "${COMPREPLY[@]}"`).CombinedOutput()
	require.NoError(t, err, string(out))
	assert.Equal(t, "predict\n--beyond\n", string(out))
	zsh, _ := help.Completion(completed(app), "zsh")
	assert.Contains(t, zsh, "bashcompinit")
	fish, _ := help.Completion(completed(app), "fish")
	assert.Regexp(t, `-a predict -d '`, fish)
	_, ok = help.Completion(completed(app), "tcsh")
	assert.False(t, ok)
}

var controls = regexp.MustCompile(`[[:cntrl:]]`)

func TestOneLine(t *testing.T) {
	assert.Equal(t, "a b c\ufffd[31m", oneLine("a\nb\tc\x1b[31m\n"))
	assert.Less(t, len(oneLine(strings.Repeat("x", 10<<20))), 1100)
	assert.False(t, controls.MatchString(oneLine("\x00\x07\x7f")))
}
