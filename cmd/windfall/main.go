// Command windfall says where a rocket will come down, where it did come down,
// and in which order to search for it. This package only wires: it knows flags,
// the clock, the terminal and printing; the work is done by drift, geo and
// search, and put together in internal/situation.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"
	"unicode"

	"github.com/schollz/progressbar/v3"
	"github.com/urfave/cli/v2"
	"golang.org/x/term"

	"windfall/cmd/windfall/internal/help"
	"windfall/cmd/windfall/internal/usage"
)

// version is part of what "same seed, same inputs, same version" promises.
const version = "0.1.0"

// env is what the program takes from the world outside its arguments.
type env struct {
	out, err io.Writer
	now      func() time.Time
	getenv   func(string) string
	terminal bool // standard error is a terminal: progress may be shown
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	e := env{out: os.Stdout, err: os.Stderr, now: time.Now, getenv: os.Getenv, terminal: term.IsTerminal(int(os.Stderr.Fd()))}
	code := run(ctx, e, os.Args[1:])
	stop()
	os.Exit(code)
}

// Exit statuses.
const (
	done        = 0
	failed      = 1   // the run failed
	misused     = 2   // the command line or a file is wrong
	interrupted = 130 // as shells have it: 128 and SIGINT's number
)

// run runs one command line and returns the exit status.
func run(ctx context.Context, e env, args []string) int {
	app := newApp(e)
	ordered, err := flagsFirst(app, args)
	if name, ok := helpAsked(args); ok {
		err = showHelp(e, app, name)
	} else if err == nil {
		err = app.RunContext(ctx, append([]string{app.Name}, ordered...))
	}
	switch {
	case err == nil:
		return done
	case errors.Is(err, context.Canceled):
		sayError(e.err, errors.New("interrupted; nothing was written"))
		return interrupted
	}
	sayError(e.err, err)
	if usage.Is(err) {
		return misused
	}
	return failed
}

// sayError prints an error as one line.
func sayError(w io.Writer, err error) { fmt.Fprintf(w, "windfall: %s\n", oneLine(err.Error())) }

// oneLine makes a text safe to print on one line: what files hold and people
// type may have line ends, control characters for the terminal, or no end.
func oneLine(s string) string {
	const most = 1000
	s = strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t' || r == '\r':
			return ' '
		case unicode.IsControl(r):
			return '\ufffd'
		}
		return r
	}, strings.TrimSpace(s))
	if r := []rune(s); len(r) > most {
		s = string(r[:most/2]) + " ... " + string(r[len(r)-most/2:])
	}
	return s
}

func newApp(e env) *cli.App {
	app := cli.NewApp()
	app.Name, app.Version, app.HideHelpCommand = "windfall", version, true
	app.Usage = "where a rocket comes down, and the search that finds it soonest"
	app.Writer, app.ErrWriter = e.out, e.err
	app.ExitErrHandler = func(*cli.Context, error) {} // run decides the status
	app.OnUsageError = func(_ *cli.Context, err error, _ bool) error { return usage.Mark(err) }
	app.Action = func(c *cli.Context) error {
		if c.Args().Present() {
			return unknownCommand(app, c.Args().First())
		}
		return showHelp(e, app, help.First)
	}
	app.Commands = []*cli.Command{
		newCommand(e),
		predictCommand(e),
		compareCommand(e),
		sawCommand(e),
		locateCommand(e),
		spottersCommand(e),
		searchCommand(e),
		searchedCommand(e),
		exportCommand(e),
		foundCommand(e),
		learnCommand(e),
		logCommand(e),
		windCommand(e),
		helpCommand(e),
		versionCommand(e),
		completionCommand(e),
	}
	for _, c := range app.Commands {
		c.OnUsageError = app.OnUsageError
		c.HideHelpCommand = true
	}
	return app
}

// progress returns a callback that draws a bar on standard error when that is
// a terminal, else nil.
func (e env) progress(what string) func(done, total int) {
	if !e.terminal {
		return nil
	}
	stages := e.stages()
	return func(done, total int) { stages(what, done, total) }
}

// stages is progress for work of several stages: a bar for each.
func (e env) stages() func(stage string, done, total int) {
	if !e.terminal {
		return nil
	}
	var name string
	var bar *progressbar.ProgressBar
	return func(stage string, done, total int) {
		if bar == nil || stage != name {
			name = stage
			bar = progressbar.NewOptions(total, progressbar.OptionSetWriter(e.err), progressbar.OptionSetDescription(stage), progressbar.OptionClearOnFinish())
		}
		bar.ChangeMax(total)
		bar.Set(done)
	}
}
