package main

import (
	"context"
	"flag"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

var update = flag.Bool("update", false, "rewrite the scripts' golden files with what the program now prints")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"windfall": func() {
		e := env{out: os.Stdout, err: os.Stderr, now: testClock, getenv: os.Getenv}
		ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
		defer stop()
		os.Exit(run(ctx, e, os.Args[1:]))
	}, "camera": camera})
}

var testBegan = time.Now()

// testClock stands still, so that scripts can compare what is printed.
// $WINDFALL_TEST_NOW moves it; with a plus before the time it goes on from there.
func testClock() time.Time {
	if s := os.Getenv("WINDFALL_TEST_NOW"); s != "" {
		s, ticks := strings.CutPrefix(s, "+")
		t, err := time.Parse(time.RFC3339, s)
		if err != nil {
			panic(err)
		}
		if ticks {
			t = t.Add(time.Since(testBegan))
		}
		return t
	}
	return time.Date(2026, 4, 18, 12, 0, 0, 0, time.UTC)
}

// TestScripts runs the stories in testdata/script: sessions with the program,
// each named for its command first. $GARZA is the example flight's folder.
func TestScripts(t *testing.T) {
	garza, err := filepath.Abs("../../testdata/garza")
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(env *testscript.Env) error {
			env.Setenv("GARZA", garza)
			env.Setenv("WINDFALL_GROUNDS", os.Getenv("WINDFALL_GROUNDS"))
			env.Setenv("HOME", env.WorkDir)
			env.Setenv("TZ", "UTC")
			env.Setenv("XDG_DATA_HOME", filepath.Join(env.WorkDir, "data"))
			env.Setenv("WINDFALL_LOGBOOK", filepath.Join(env.WorkDir, "logbook.db"))
			return nil
		},
	})
}
