package main

import (
	"strings"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/nearest"
	"windfall/cmd/windfall/internal/usage"
)

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
		return "", usage.Errorf("windfall %s needs %s, such as: windfall %s %s", c.Command.Name, what, c.Command.Name, c.Command.ArgsUsage)
	}
	return "", usage.Errorf("windfall %s takes one argument, %s, not %d (%s)", c.Command.Name, what, c.NArg(), strings.Join(c.Args().Slice(), " "))
}
