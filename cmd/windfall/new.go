package main

import (
	_ "embed"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/newflight"
	"windfall/cmd/windfall/internal/show"
)

func newCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "new", Usage: "a flight folder to start from, drawn around your pad", ArgsUsage: "DIR",
		Flags: []cli.Flag{jsonFlag(), &cli.StringFlag{Name: "pad"}, &cli.StringFlag{Name: "units", Value: "metric"}},
		Action: func(c *cli.Context) error {
			dir, err := onlyArgument(c, "a folder to make")
			if err != nil {
				return err
			}
			t, err := newflight.From(c.String("pad"), c.String("units"))
			if err != nil {
				return err
			}
			files, err := t.Write(dir, e.now())
			if err != nil {
				return err
			}
			if c.Bool("json") {
				return show.JSON(e.out, map[string]any{"files": files})
			}
			p := show.To(e.out)
			for _, f := range files {
				p.Hint("wrote %s", f)
			}
			p.Hint("next: change %s, then: windfall predict %s", files[0], files[0])
			return p.Err()
		},
	}
}
