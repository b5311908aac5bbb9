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
	"regexp"
	"strings"
	"syscall"
	"time"
	"unicode"

	"github.com/urfave/cli/v2"
	"golang.org/x/term"

	"windfall/cmd/windfall/internal/help"
	"windfall/cmd/windfall/internal/meter"
	"windfall/cmd/windfall/internal/nearest"
	"windfall/cmd/windfall/internal/show"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/logbook"
)

// version is part of what "same seed, same inputs, same version" promises.
const version = "0.1.0"

// env is what the program takes from the world outside its arguments.
type env struct {
	out, err io.Writer
	now      func() time.Time
	getenv   func(string) string
	terminal bool // standard error is a terminal: progress may be shown

	note  func(stage string, done, total int) // takes progress in place of a terminal; nil: nobody does
	meter *meter.Meter                        // shows progress; nil: none is shown
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	e := env{out: os.Stdout, err: os.Stderr, now: time.Now, getenv: os.Getenv,
		terminal: term.IsTerminal(int(os.Stderr.Fd()))}
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
	args, quiet := quietAsked(args)
	if quiet {
		e.out = show.Quiet(e.out)
	} else if e.terminal {
		e.meter = meter.New(e.err, e.now)
		e.out = e.meter.Before(e.out)
	}
	app := newApp(e)
	ordered, err := flagsFirst(app, args)
	if name, ok := helpAsked(args); ok {
		err = showHelp(e, app, name)
	} else if err == nil {
		err = app.RunContext(ctx, append([]string{app.Name}, ordered...))
	}
	if e.meter != nil {
		e.meter.Stop()
	}
	switch {
	case err == nil:
		return done
	case errors.Is(err, context.Canceled):
		sayError(e.err, errors.New("interrupted; nothing was written"))
		return interrupted
	}
	sayError(e.err, err)
	if usage.Is(err) || errors.Is(err, logbook.ErrFile) {
		return misused
	}
	return failed
}

// quietAsked takes --quiet, which every command has, out of the words.
func quietAsked(args []string) (rest []string, quiet bool) {
	for i, a := range args {
		switch a {
		case "--":
			return append(rest, args[i:]...), quiet
		case "--quiet", "-quiet":
			quiet = true
		default:
			rest = append(rest, a)
		}
	}
	return rest, quiet
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
	app.OnUsageError = func(_ *cli.Context, err error, _ bool) error { return usage.Mark(flagError(err)) }
	app.Action = func(c *cli.Context) error {
		if c.Args().Present() {
			return unknownCommand(app, c.Args().First())
		}
		return showHelp(e, app, help.First)
	}
	app.Commands = []*cli.Command{
		newCommand(e),
		checkCommand(e),
		predictCommand(e),
		compareCommand(e),
		sawCommand(e),
		lookCommand(e),
		locateCommand(e),
		spottersCommand(e),
		searchCommand(e),
		searchedCommand(e),
		exportCommand(e),
		foundCommand(e),
		measuredCommand(e),
		learnCommand(e),
		logCommand(e),
		windCommand(e),
		serveCommand(e),
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

var badFlag = regexp.MustCompile(`(?s)invalid value "(.*)" for flag -(\S+): `)

// flagError says in our words what the flag parser found.
func flagError(err error) error {
	m := badFlag.FindStringSubmatch(err.Error())
	if m == nil {
		return fmt.Errorf("%w; windfall help COMMAND shows the flags", err)
	}
	return fmt.Errorf("--%s %.40q is not a whole number in its range; write one such as 1", m[2], m[1])
}

// progress returns a callback that shows progress on standard error when that
// is a terminal, else nil.
func (e env) progress(what string) func(done, total int) {
	stages := e.stages()
	if stages == nil {
		return nil
	}
	return func(done, total int) { stages(what, done, total) }
}

// stages is progress for work of several stages: a bar for each.
func (e env) stages() func(stage string, done, total int) {
	if e.note != nil {
		return e.note
	}
	if e.meter == nil {
		return nil
	}
	e.meter.Begin()
	return e.meter.Tell
}

func unknownCommand(app *cli.App, name string) error {
	var known []string
	for _, c := range app.Commands {
		known = append(known, c.Name)
	}
	return usage.Errorf("unknown command %q; %s", name, nearest.Hint(name, known))
}

// flagsFirst puts flags before positional arguments, where the flag parser
// wants them: people write `windfall saw flight.yaml --by Ana`. An argument
// that starts with a minus and a digit, such as a southern latitude, is a place
// and not a flag.
func flagsFirst(app *cli.App, args []string) ([]string, error) {
	if len(args) == 0 || strings.HasPrefix(args[0], "-") {
		return args, nil
	}
	cmd := app.Command(args[0])
	if cmd == nil {
		return nil, unknownCommand(app, args[0])
	}
	takesValue := map[string]bool{"help": false, "h": false}
	var known []string
	for _, f := range cmd.Flags {
		_, isBool := f.(*cli.BoolFlag)
		for _, n := range f.Names() {
			takesValue[n] = !isBool
		}
		known = append(known, "--"+f.Names()[0])
	}
	var flags, rest []string
	for i := 1; i < len(args); i++ {
		a := args[i]
		if a == "--" {
			rest = append(rest, args[i+1:]...)
			break
		}
		name, ok := flagName(a)
		if !ok {
			rest = append(rest, a)
			continue
		}
		value, found := takesValue[name]
		if !found {
			return nil, usage.Errorf("unknown flag %q of windfall %s; %s", a, cmd.Name, nearest.Hint(a, known))
		}
		flags = append(flags, a)
		if value && !strings.Contains(a, "=") {
			if i+1 == len(args) {
				return nil, usage.Errorf("flag %s of windfall %s needs a value", a, cmd.Name)
			}
			i++
			flags = append(flags, args[i])
		}
	}
	out := append([]string{cmd.Name}, flags...)
	if len(rest) > 0 {
		out = append(append(out, "--"), rest...)
	}
	return out, nil
}

// flagName returns the name of a flag argument without dashes and value.
func flagName(a string) (string, bool) {
	n := strings.TrimPrefix(strings.TrimPrefix(a, "-"), "-")
	if n == a || n == "" || n[0] >= '0' && n[0] <= '9' || n[0] == '.' {
		return "", false
	}
	n, _, _ = strings.Cut(n, "=")
	return n, true
}

// onlyArgument returns the command's single argument, or says what it should be.
func onlyArgument(c *cli.Context, what string) (string, error) {
	switch c.NArg() {
	case 1:
		return c.Args().First(), nil
	case 0:
		return "", usage.Errorf("windfall %s needs %s, such as: windfall %s %s", c.Command.Name, what, c.Command.Name,
			c.Command.ArgsUsage)
	}
	return "", usage.Errorf("windfall %s takes one argument, %s, not %d (%s); quote what has spaces", c.Command.Name,
		what, c.NArg(),
		strings.Join(c.Args().Slice(), " "))
}
