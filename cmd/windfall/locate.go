package main

import (
	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/situation"
)

func locateCommand(e env) *cli.Command {
	flags := append(locateFlags(), filesFlags()...)
	return &cli.Command{
		Name: "locate", Usage: "after losing sight: the map given everything logged so far", ArgsUsage: "FLIGHT",
		Flags: append(flags, jsonFlag(), &cli.BoolFlag{Name: "detail"}),
		Action: func(c *cli.Context) error {
			q, err := readMapRequest(e, c)
			if err != nil {
				return err
			}
			f, err := record.Load(q.source)
			if err != nil {
				return err
			}
			return showMap(c.Context, e, f, q, situation.SummaryOptions{})
		},
	}
}
