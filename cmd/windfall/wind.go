package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/outdir"
	"windfall/cmd/windfall/internal/show"
	"windfall/cmd/windfall/internal/usage"
	"windfall/cmd/windfall/internal/winds"
	"windfall/drift/wind/sources"
	"windfall/geo/place"
	"windfall/geo/quantity"
)

func windCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "wind", Usage: "read any wind source and print the profile it makes of it", ArgsUsage: "FILE...",
		Flags: append(append(words("flight", "elevation", "when", "fetch", "rise"), switches("balloon")...),
			&cli.StringFlag{Name: "service", Value: sources.Service}, outFlag(), seedFlag(), jsonFlag()),
		Action: func(c *cli.Context) error {
			q, err := readWind(c)
			if err != nil {
				return err
			}
			return showWind(c.Context, e, q)
		},
	}
}

// windRequest is what wind is asked for.
type windRequest struct {
	winds.Request
	json bool
}

func readWind(c *cli.Context) (q windRequest, err error) {
	q.Files, q.Dir, q.json = c.Args().Slice(), c.String("out"), c.Bool("json")
	flight, fetch := c.String("flight"), c.String("fetch")
	if flight == "" && len(q.Files) == 1 && isFlight(q.Files[0]) {
		flight, q.Files = q.Files[0], nil
	}
	if flight == "" && len(q.Files) == 0 && fetch == "" {
		return q, usage.Errorf("windfall wind needs a wind file or a flight, such as: windfall wind sounding.csv")
	}
	if fetch != "" && len(q.Files) > 0 {
		return q, usage.Errorf("windfall wind reads files or fetches a forecast, not both; leave out %s or --fetch",
			q.Files[0])
	}
	if flight != "" {
		if q.Flight, err = readForWind(flight, len(q.Files) == 0 && fetch == ""); err != nil {
			return q, err
		}
		q.Options, q.Dir = q.Flight.WindOptions(), readFiles(c).in(q.Flight.Path)
	}
	if s := c.String("elevation"); s != "" {
		z, err := quantity.Parse(s, quantity.Length)
		if err != nil {
			return q, usage.Errorf("--elevation %w", err)
		}
		q.Options.Elevation = &z
	}
	if s := c.String("when"); s != "" {
		if q.Options.When, err = parseWhen(s); err != nil {
			return q, usage.Errorf("--when %w", err)
		}
	}
	q.Options.Balloon = c.Bool("balloon")
	if s := c.String("rise"); s != "" {
		if q.Options.Rise, err = quantity.Parse(s, quantity.Speed); err == nil && !(q.Options.Rise > 0) {
			err = fmt.Errorf("%q is not above zero; write such as 2.5 m/s", s)
		}
		if err != nil {
			return q, usage.Errorf("--rise %w", err)
		}
		q.Options.Balloon = true
	}
	if fetch != "" {
		q.Fetch, err = q.readFetch(fetch, c.String("service"))
	}
	return q, err
}

// isFlight tells a flight file or folder from a wind file.
func isFlight(path string) bool {
	if ext := filepath.Ext(path); ext == ".yaml" || ext == ".yml" {
		return true
	}
	st, err := os.Stat(path)
	return err == nil && st.IsDir()
}

// readForWind reads a flight whose wind is asked for. Its own wind is read only
// where it is the one: the file it names may be the one that is being fetched.
func readForWind(path string, own bool) (*flightfile.File, error) {
	var calm []flightfile.Setting
	if !own {
		calm = append(calm, flightfile.Setting{Key: "wind", Value: "[{height: 10 m, from: 0 deg, speed: 0 m/s}]"})
	}
	f, err := flightfile.Read(path, calm...)
	return f, usage.Mark(err)
}

// parseWhen reads a time with its zone.
func parseWhen(s string) (time.Time, error) {
	for _, layout := range []string{time.RFC3339, "2006-01-02T15:04Z07:00", "2006-01-02 15:04:05Z07:00",
		"2006-01-02 15:04Z07:00"} {
		if t, err := time.Parse(layout, s); err == nil {
			return t, nil
		}
	}
	return time.Time{}, fmt.Errorf("%q is not a time with its zone; write one such as 2026-03-14T10:30:00+01:00", s)
}

// readFetch says what to ask the service at an address for the wind at a place.
func (q windRequest) readFetch(at, service string) (*sources.Request, error) {
	r := &sources.Request{Service: service, When: q.Options.When, Elevation: q.Options.Elevation}
	switch {
	case at == "pad" && q.Flight != nil:
		r.Place = q.Flight.Flight.Site.Pad
	case at == "pad":
		return nil, usage.Errorf("--fetch pad needs --flight FLIGHT, whose pad it is; or name a place such as " +
			"39.0512,-5.5831")
	default:
		p, err := place.Parse(at)
		if err != nil {
			return nil, usage.Errorf("--fetch %v", err)
		}
		r.Place = p
	}
	if r.When.IsZero() {
		return nil, usage.Errorf("--fetch needs the launch time; add --when 2026-03-14T10:30:00+01:00")
	}
	if err := r.Check(); err != nil {
		return nil, usage.Errorf("--%w", err)
	}
	return r, nil
}

// showWind reads or fetches the wind, draws it and prints it.
func showWind(ctx context.Context, e env, q windRequest) error {
	set := outdir.Open("")
	defer set.Discard()
	r, err := q.Read(ctx, set)
	if err != nil {
		return err
	}
	if q.Dir != "" {
		if err := q.Draw(set, r); err != nil {
			return err
		}
	}
	files, err := set.Commit()
	if err != nil {
		return err
	}
	if q.json {
		d := r.Document()
		d.Files = append(d.Files, files...)
		return show.JSON(e.out, d)
	}
	return show.Wind(e.out, r, files)
}
