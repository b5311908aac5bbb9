package main

import (
	"slices"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/measured"
	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/report"
	"windfall/cmd/windfall/internal/show"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/logbook"
)

func measuredCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "measured", Usage: "log a sink test, a mass, a delay or a lean measured on the ground", ArgsUsage: "FLIGHT",
		Flags: slices.Concat(words(measured.Flags...), words("by", "logbook"), switches("packed", "list"),
			entries("withdraw"), []cli.Flag{seedFlag(), jsonFlag()}),
		Action: func(c *cli.Context) error {
			path, err := onlyArgument(c, "a flight file")
			if err != nil {
				return err
			}
			src, id := readSource(e, c, path), c.Int64("withdraw")
			switch {
			case c.IsSet("withdraw") && id < 1:
				return usage.Errorf("--withdraw %d is no entry's number; --list lists them", id)
			case c.IsSet("withdraw") && c.Bool("list"):
				return usage.Errorf("--withdraw and --list exclude each other; give one")
			case c.Bool("list"):
				f, err := record.Read(src)
				if err != nil {
					return err
				}
				return listLogged(e, f, src.Logbook, c.Bool("json"), logbook.Measured)
			}
			var m *report.Measured
			if c.IsSet("withdraw") {
				m, err = report.WithdrawMeasured(src, id, readStamp(e, c))
			} else {
				m, err = report.LogMeasured(src, measured.Words(readGiven(c)), readStamp(e, c))
			}
			if err != nil {
				return err
			}
			if c.Bool("json") {
				return show.JSON(e.out, m)
			}
			return show.Measured(e.out, record.Sentence(m.Entry), m, path)
		},
	}
}
