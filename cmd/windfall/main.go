// Command windfall says where a rocket will come down, where it did come down,
// and in which order to search for it. This package only wires: it knows files,
// flags, the clock and printing; the work is done by drift, geo and search.
package main

import (
	"context"
	"errors"
	"io"
	"os"
	"os/signal"
	"syscall"
	"time"

	"github.com/urfave/cli/v2"
	"golang.org/x/term"

	"windfall/cmd/windfall/internal/help"
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

// run runs one command line and returns the exit status: 0 done, 1 the run
// failed, 2 the command line or a file is wrong, 130 interrupted.
func run(ctx context.Context, e env, args []string) int {
	app := newApp(e)
	ordered, err := order(app, args)
	if name, ok := helpAsked(args); ok {
		err = showHelp(e, app, name)
	} else if err == nil {
		err = app.RunContext(ctx, append([]string{app.Name}, ordered...))
	}
	if err == nil {
		return 0
	}
	var w wrong
	if errors.As(err, &w) {
		say(e.err, err)
		return 2
	}
	if errors.Is(err, context.Canceled) {
		say(e.err, errors.New("interrupted; nothing was written"))
		return 130
	}
	say(e.err, err)
	return 1
}

func newApp(e env) *cli.App {
	app := cli.NewApp()
	app.Name, app.Version, app.HideHelpCommand = "windfall", version, true
	app.Usage = "where a rocket comes down, and the search that finds it soonest"
	app.Writer, app.ErrWriter = e.out, e.err
	app.ExitErrHandler = func(*cli.Context, error) {} // run decides the status
	app.OnUsageError = func(_ *cli.Context, err error, _ bool) error { return wrong{err} }
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
