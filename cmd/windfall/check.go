package main

import (
	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/show"
)

func checkCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "check", Usage: "what a flight file says and what is assumed; flies nothing", ArgsUsage: "FLIGHT",
		Flags: append(flightFlags(), jsonFlag()),
		Action: func(c *cli.Context) error {
			path, err := onlyArgument(c, "a flight file")
			if err != nil {
				return err
			}
			f, err := record.Read(readSource(e, c, path))
			if err != nil {
				return err
			}
			r := record.Understand(f)
			if c.Bool("json") {
				return show.JSON(e.out, r)
			}
			return show.Check(e.out, f.File.Path, r)
		},
	}
}
