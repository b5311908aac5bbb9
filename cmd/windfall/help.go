package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/help"
	"windfall/cmd/windfall/internal/nearest"
	"windfall/cmd/windfall/internal/usage"
)

func helpCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "help", Usage: "one screen about a command", ArgsUsage: "[COMMAND]",
		Action: func(c *cli.Context) error {
			switch c.NArg() {
			case 0:
				return showHelp(e, c.App, help.First)
			case 1:
				return showHelp(e, c.App, c.Args().First())
			}
			return usage.Errorf("windfall help takes one command, not %d (%s)", c.NArg(), strings.Join(c.Args().Slice(), " "))
		},
	}
}

// showHelp prints a page.
func showHelp(e env, app *cli.App, name string) error {
	page, ok := help.Page(name)
	if !ok {
		return unknownCommand(app, name)
	}
	_, err := fmt.Fprint(e.out, page)
	return err
}

// helpAsked says of which command the words ask for help: --help may stand
// anywhere behind it.
func helpAsked(args []string) (name string, ok bool) {
	end := len(args)
	if i := slices.Index(args, "--"); i >= 0 {
		end = i
	}
	if !slices.ContainsFunc(args[:end], func(a string) bool { return a == "--help" || a == "-h" || a == "-help" }) {
		return "", false
	}
	for _, a := range args[:end] {
		if !strings.HasPrefix(a, "-") {
			return a, true
		}
	}
	return help.First, true
}

func versionCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "version", Usage: "which windfall this is",
		Action: func(c *cli.Context) error {
			if c.NArg() > 0 {
				return usage.Errorf("windfall version takes no arguments; leave them out")
			}
			_, err := fmt.Fprintf(e.out, "windfall %s\n", version)
			return err
		},
	}
}

func completionCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "completion", Usage: "commands and flags by the tab key", ArgsUsage: "SHELL",
		Action: func(c *cli.Context) error {
			shell, err := onlyArgument(c, "a shell")
			if err != nil {
				return err
			}
			text, ok := help.Completion(completed(c.App), shell)
			if !ok {
				return usage.Errorf("shell %q is not known; %s", shell, nearest.Hint(shell, []string{"bash", "zsh", "fish"}))
			}
			_, err = fmt.Fprint(e.out, text)
			return err
		},
	}
}

// completed lists the commands with their flags.
func completed(app *cli.App) (out []help.Command) {
	for _, c := range app.Commands {
		x := help.Command{Name: c.Name, Usage: c.Usage, Flags: []string{"quiet"}}
		for _, f := range c.Flags {
			x.Flags = append(x.Flags, f.Names()[0])
		}
		out = append(out, x)
	}
	return out
}
