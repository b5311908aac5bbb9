package main

import (
	"bufio"
	"io"
	"path/filepath"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/outdir"
)

func predictCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "predict", Usage: "before launch: where it will come down", ArgsUsage: "FLIGHT",
		Flags: []cli.Flag{jsonFlag(), seedFlag(), outFlag(), runsFlag(), landingsFlag(), logbookFlag(), noLearningFlag(),
			&cli.GenericFlag{Name: "beyond", Value: &texts{}, Usage: "also the chance of landing farther from the pad than this, such as 500 m; may be given more than once"}},
		Action: func(c *cli.Context) error {
			beyond, err := beyondZones(*c.Generic("beyond").(*texts))
			if err != nil {
				return err
			}
			s, err := predicted(c, e)
			if err != nil {
				return err
			}
			s.beyond = beyond
			r, err := s.summarise()
			if err != nil {
				return err
			}
			s.beforeLaunch(r)
			return s.publish(c, e, r)
		},
	}
}

// publish writes the map files and the landings, then prints the result.
func (s *situation) publish(c *cli.Context, e env, r *result) error {
	set := outdir.Open(outFolder(c, s.file))
	defer set.Discard()
	if err := s.landingFiles(set, r); err != nil {
		return err
	}
	if err := s.landingsTo(c, set); err != nil {
		return err
	}
	if err := c.Context.Err(); err != nil {
		return err
	}
	files, err := set.Commit()
	if err != nil {
		return err
	}
	r.Files = files
	if c.Bool("json") {
		return writeJSON(e.out, r)
	}
	return printResult(e.out, s, r)
}

// landingsTo adds the file of --landings to the set.
func (s *situation) landingsTo(c *cli.Context, set *outdir.Set) error {
	name := c.String("landings")
	if name == "" {
		return nil
	}
	abs, err := filepath.Abs(name)
	if err != nil {
		return err
	}
	return set.Write(abs, func(w io.Writer) error {
		b := bufio.NewWriter(w)
		if err := writeLandings(c.Context, b, s.cloud); err != nil {
			return err
		}
		return b.Flush()
	})
}
