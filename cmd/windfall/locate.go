package main

import "github.com/urfave/cli/v2"

func locateCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "locate", Usage: "after losing sight: the map given everything logged so far", ArgsUsage: "FLIGHT",
		Flags: []cli.Flag{jsonFlag(), seedFlag(), outFlag(), runsFlag(), landingsFlag(), logbookFlag(), noLearningFlag(), dividedFlag()},
		Action: func(c *cli.Context) error {
			s, err := located(c, e)
			if err != nil {
				return err
			}
			r, err := s.summarise()
			if err != nil {
				return err
			}
			return s.publish(c, e, r)
		},
	}
}
