package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/nearest"
)

// wrong marks an error of the command line or of a file: exit status 2.
type wrong struct{ error }

func (w wrong) Unwrap() error { return w.error }

func wrongf(format string, args ...any) error { return wrong{fmt.Errorf(format, args...)} }

// say prints an error as one line on standard error.
func say(w io.Writer, err error) {
	fmt.Fprintf(w, "windfall: %s\n", oneLine(err.Error()))
}

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

func unknownCommand(app *cli.App, name string) error {
	var known []string
	for _, c := range app.Commands {
		known = append(known, c.Name)
	}
	return wrongf("unknown command %q; %s", name, nearest.Hint(name, known))
}

// order puts flags before positional arguments, where the flag parser wants
// them: people write `windfall saw flight.yaml --by Ana`. An argument that
// starts with a minus and a digit, such as a southern latitude, is a place and
// not a flag.
func order(app *cli.App, args []string) ([]string, error) {
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
			return nil, wrongf("unknown flag %q of windfall %s; %s", a, cmd.Name, nearest.Hint(a, known))
		}
		flags = append(flags, a)
		if value && !strings.Contains(a, "=") {
			if i+1 == len(args) {
				return nil, wrongf("flag %s of windfall %s needs a value", a, cmd.Name)
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

// one returns the command's single argument, or says what it should be.
func one(c *cli.Context, what string) (string, error) {
	switch c.NArg() {
	case 1:
		return c.Args().First(), nil
	case 0:
		return "", wrongf("windfall %s needs %s, such as: windfall %s %s", c.Command.Name, what, c.Command.Name, c.Command.ArgsUsage)
	}
	return "", wrongf("windfall %s takes one argument, %s, not %d (%s)", c.Command.Name, what, c.NArg(), strings.Join(c.Args().Slice(), " "))
}

// writeJSON writes v as the one document on standard output.
func writeJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	err := enc.Encode(v)
	var bad *json.UnsupportedValueError
	if errors.As(err, &bad) {
		return fmt.Errorf("a result is not a number (%s): please report this", bad.Str)
	}
	return err
}

// Flags that more than one command has.
func jsonFlag() cli.Flag {
	return &cli.BoolFlag{Name: "json", Usage: "print one JSON document on standard output"}
}

func seedFlag() cli.Flag {
	return &cli.Uint64Flag{Name: "seed", Value: 1, Usage: "same seed, same bytes"}
}

func outFlag() cli.Flag {
	return &cli.StringFlag{Name: "out", Usage: "folder for map files (default: out beside the flight file)"}
}

func runsFlag() cli.Flag {
	return &cli.StringFlag{Name: "runs", Value: "auto", Usage: "number of simulated flights, or auto: until the ellipse is known to 1 %"}
}

func landingsFlag() cli.Flag {
	return &cli.StringFlag{Name: "landings", Usage: "write every simulated landing to this CSV file"}
}

func logbookFlag() cli.Flag {
	return &cli.StringFlag{Name: "logbook", Usage: "logbook file (default: $WINDFALL_LOGBOOK, else the user's data folder)"}
}

func noLearningFlag() cli.Flag {
	return &cli.BoolFlag{Name: "no-learning", Usage: "leave out what the logbook has learned"}
}
