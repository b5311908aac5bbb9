package main

import (
	"context"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/show"
	"windfall/cmd/windfall/internal/situation"
	"windfall/cmd/windfall/internal/usage"
	"windfall/geo/chance"
	"windfall/geo/quantity"
)

func predictCommand(e env) *cli.Command {
	flags := append(mapFlags(), filesFlags()...)
	return &cli.Command{
		Name: "predict", Usage: "before launch: where it will come down", ArgsUsage: "FLIGHT",
		Flags: append(flags, jsonFlag(), &cli.BoolFlag{Name: "detail"},
			&cli.GenericFlag{Name: "beyond", Value: &texts{}}),
		Action: func(c *cli.Context) error {
			beyond, err := readBeyond(*c.Generic("beyond").(*texts))
			if err != nil {
				return err
			}
			q, err := readMapRequest(e, c)
			if err != nil {
				return err
			}
			f, err := record.Read(q.source)
			if err != nil {
				return err
			}
			return showMap(c.Context, e, f, q, situation.SummaryOptions{Beyond: beyond, BeforeLaunch: true})
		},
	}
}

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

// readBeyond reads the distances of --beyond.
func readBeyond(distances []string) ([]chance.Zone, error) {
	var out []chance.Zone
	for _, s := range distances {
		d, err := quantity.Parse(s, quantity.Length)
		if err != nil {
			return nil, usage.Errorf("--beyond %w", err)
		}
		if !(d > 0) {
			return nil, usage.Errorf("--beyond %q is not above zero; write a distance such as 500 m", s)
		}
		out = append(out, chance.Farther("beyond "+s, d))
	}
	return out, nil
}

// mapRequest is what predict and locate are asked for.
type mapRequest struct {
	source record.Source
	make   situation.Options
	files  fileOptions
	json   bool
	detail bool // print everything
	text   bool // print messages to send
}

func readMapRequest(e env, c *cli.Context) (mapRequest, error) {
	path, err := onlyArgument(c, "a flight file")
	if err != nil {
		return mapRequest{}, err
	}
	q := mapRequest{source: readSource(e, c, path), files: readFiles(c), json: c.Bool("json"), detail: c.Bool("detail"),
		text: c.Bool("text")}
	q.make, err = readMap(e, c)
	return q, err
}

// showMap makes the map of a flight, writes its files and prints it.
func showMap(ctx context.Context, e env, f *record.Flight, q mapRequest, o situation.SummaryOptions) error {
	base, err := q.files.open(f)
	if err != nil {
		return err
	}
	defer base.Close()
	s, err := situation.Locate(ctx, f.Input, q.make)
	if err != nil {
		return err
	}
	r, err := situation.Summarise(s, o)
	if err != nil {
		return err
	}
	if o.BeforeLaunch {
		if err := r.WeighWind(ctx, f.Input); err != nil {
			return err
		}
	}
	if r.Files, err = writeFiles(ctx, q.files.in(f.File.Path), q.files.landings, s.Cloud,
		base.Under(situation.Layers(s, r))); err != nil {
		return err
	}
	if q.json {
		return show.JSON(e.out, r)
	}
	if q.detail {
		return show.Detail(e.out, r)
	}
	return show.Summary(e.out, r)
}
