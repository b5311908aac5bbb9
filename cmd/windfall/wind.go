package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/outdir"
	"windfall/cmd/windfall/internal/show"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/wind/picture"
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
	flight  *flightfile.File // nil: none named
	files   []string
	fetch   *sources.Request // nil: read the files, or the flight's own wind
	options sources.Options
	dir     string // for pictures; "": none
	json    bool
}

func readWind(c *cli.Context) (q windRequest, err error) {
	q = windRequest{files: c.Args().Slice(), dir: c.String("out"), json: c.Bool("json")}
	flight, fetch := c.String("flight"), c.String("fetch")
	if flight == "" && len(q.files) == 1 && isFlight(q.files[0]) {
		flight, q.files = q.files[0], nil
	}
	if flight == "" && len(q.files) == 0 && fetch == "" {
		return q, usage.Errorf("windfall wind needs a wind file or a flight, such as: windfall wind sounding.csv")
	}
	if fetch != "" && len(q.files) > 0 {
		return q, usage.Errorf("windfall wind reads files or fetches a forecast, not both; leave out %s or --fetch",
			q.files[0])
	}
	if flight != "" {
		if q.flight, err = readForWind(flight, len(q.files) == 0 && fetch == ""); err != nil {
			return q, err
		}
		q.options, q.dir = q.flight.WindOptions(), readFiles(c).in(q.flight.Path)
	}
	if s := c.String("elevation"); s != "" {
		z, err := quantity.Parse(s, quantity.Length)
		if err != nil {
			return q, usage.Errorf("--elevation %w", err)
		}
		q.options.Elevation = &z
	}
	if s := c.String("when"); s != "" {
		if q.options.When, err = parseWhen(s); err != nil {
			return q, usage.Errorf("--when %w", err)
		}
	}
	q.options.Balloon = c.Bool("balloon")
	if s := c.String("rise"); s != "" {
		if q.options.Rise, err = quantity.Parse(s, quantity.Speed); err == nil && !(q.options.Rise > 0) {
			err = fmt.Errorf("%q is not above zero; write such as 2.5 m/s", s)
		}
		if err != nil {
			return q, usage.Errorf("--rise %w", err)
		}
		q.options.Balloon = true
	}
	if fetch != "" {
		q.fetch, err = q.readFetch(fetch, c.String("service"))
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
	r := &sources.Request{Service: service, When: q.options.When, Elevation: q.options.Elevation}
	switch {
	case at == "pad" && q.flight != nil:
		r.Place = q.flight.Flight.Site.Pad
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
	r, err := q.reading(ctx, set)
	if err != nil {
		return err
	}
	if q.dir != "" {
		if err := q.draw(set, r); err != nil {
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

// reading is the wind that was asked for; a forecast that was fetched goes into
// the set of files to write.
func (q windRequest) reading(ctx context.Context, set *outdir.Set) (sources.Reading, error) {
	switch {
	case q.fetch != nil:
		return q.fetched(ctx, set)
	case len(q.files) == 0:
		f := q.flight
		return sources.Reading{Choices: f.Flight.Wind, Options: q.options, Name: f.Flight.ID, Cautions: f.Warnings}, nil
	}
	var reports []sources.Report
	for _, name := range q.files {
		x, err := readWindFile(name, q.options)
		if err != nil {
			return sources.Reading{}, usage.Mark(err)
		}
		reports = append(reports, x)
	}
	r, err := sources.Combined(reports, q.options)
	return r, usage.Mark(err)
}

func readWindFile(name string, o sources.Options) (sources.Report, error) {
	in, err := os.Open(name)
	if err != nil {
		var pe *os.PathError
		if errors.As(err, &pe) {
			err = pe.Err
		}
		return sources.Report{}, fmt.Errorf("%s: %w; name a wind file", name, err)
	}
	defer in.Close()
	return sources.Read(name, in, o)
}

// fetched asks the service and keeps its answer as it came.
func (q windRequest) fetched(ctx context.Context, set *outdir.Set) (r sources.Reading, err error) {
	q.options.Pad = &q.fetch.Place
	raw, err := sources.Fetch(ctx, *q.fetch)
	if err != nil {
		return r, err
	}
	name := "forecast-" + q.fetch.When.UTC().Format("20060102T1504Z") + ".json"
	if q.flight != nil {
		name = filepath.Join(filepath.Dir(q.flight.Path), name)
	}
	if err := set.Bytes(name, raw); err != nil {
		return r, err
	}
	x, err := sources.Read(name, strings.NewReader(string(raw)), q.options)
	if err != nil {
		return r, err
	}
	r, err = sources.Combined([]sources.Report{x}, q.options)
	saved := fmt.Sprintf("saved the answer as %s; to fly with it write wind: %s in the flight file", name,
		filepath.Base(name))
	r.Cautions = append([]string{saved}, r.Cautions...)
	return r, usage.Mark(err)
}

// draw adds the pictures to the set.
func (q windRequest) draw(set *outdir.Set, r sources.Reading) error {
	w := picture.Wind{Title: "Wind: " + r.Source(), Choices: r.Choices}
	if t := r.Valid(); !t.IsZero() {
		w.Note = "valid " + t.Format("2006-01-02 15:04 UTC") + "; shaded: one standard deviation from run to run"
	}
	if r.FromLowest() {
		w.Above = "the lowest level"
	}
	if q.flight != nil {
		w.Speed, w.TurnDeg = q.flight.Flight.Spread.WindSpeed, q.flight.Flight.Spread.WindDirectionDeg
	}
	for _, f := range []struct {
		name   string
		draw   func(io.Writer, picture.Format, picture.Wind) error
		format picture.Format
	}{
		{"wind.png", picture.Profile, picture.PNG}, {"wind.svg", picture.Profile, picture.SVG},
		{"hodograph.png", picture.Hodograph, picture.PNG}, {"hodograph.svg", picture.Hodograph, picture.SVG},
	} {
		err := set.Write(filepath.Join(q.dir, f.name), func(out io.Writer) error { return f.draw(out, f.format, w) })
		if err != nil {
			return err
		}
	}
	return nil
}
