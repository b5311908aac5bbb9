// Package winds reads the wind that a command asks for, from files, a flight or a
// service, and draws it.
package winds

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/outdir"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/wind/picture"
	"windfall/drift/wind/sources"
)

// Request is what is asked for.
type Request struct {
	Flight  *flightfile.File // nil: none named
	Files   []string
	Fetch   *sources.Request // nil: read the files, or the flight's own wind
	Options sources.Options
	Dir     string // for pictures; "": none
}

// Read is the wind that was asked for; a forecast that was fetched goes into the
// set of files to write.
func (q Request) Read(ctx context.Context, set *outdir.Set) (sources.Reading, error) {
	switch {
	case q.Fetch != nil:
		return q.fetched(ctx, set)
	case len(q.Files) == 0:
		f := q.Flight
		return sources.Reading{Choices: f.Flight.Wind, Options: q.Options, Name: f.Flight.ID, Cautions: f.Warnings}, nil
	}
	var reports []sources.Report
	for _, name := range q.Files {
		x, err := readFile(name, q.Options)
		if err != nil {
			return sources.Reading{}, usage.Mark(err)
		}
		reports = append(reports, x)
	}
	r, err := sources.Combined(reports, q.Options)
	return r, usage.Mark(err)
}

func readFile(name string, o sources.Options) (sources.Report, error) {
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
func (q Request) fetched(ctx context.Context, set *outdir.Set) (r sources.Reading, err error) {
	q.Options.Pad = &q.Fetch.Place
	raw, err := sources.Fetch(ctx, *q.Fetch)
	if err != nil {
		return r, err
	}
	name := "forecast-" + q.Fetch.When.UTC().Format("20060102T1504Z") + ".json"
	if q.Flight != nil {
		name = filepath.Join(filepath.Dir(q.Flight.Path), name)
	}
	if err := set.Bytes(name, raw); err != nil {
		return r, err
	}
	x, err := sources.Read(name, strings.NewReader(string(raw)), q.Options)
	if err != nil {
		return r, err
	}
	r, err = sources.Combined([]sources.Report{x}, q.Options)
	saved := fmt.Sprintf("saved the answer as %s; to fly with it write wind: %s in the flight file", name,
		filepath.Base(name))
	r.Cautions = append([]string{saved}, r.Cautions...)
	return r, usage.Mark(err)
}

// Draw adds the pictures to the set, in Dir.
func (q Request) Draw(set *outdir.Set, r sources.Reading) error {
	w := picture.Wind{Title: "Wind: " + r.Source(), Choices: r.Choices}
	if t := r.Valid(); !t.IsZero() {
		w.Note = "valid " + t.Format("2006-01-02 15:04 UTC") + "; shaded: one standard deviation from run to run"
	}
	if r.FromLowest() {
		w.Above = "the lowest level"
	}
	if q.Flight != nil {
		w.Speed, w.TurnDeg = q.Flight.Flight.Spread.WindSpeed, q.Flight.Flight.Spread.WindDirectionDeg
	}
	for _, f := range []struct {
		name   string
		draw   func(io.Writer, picture.Format, picture.Wind) error
		format picture.Format
	}{
		{"wind.png", picture.Profile, picture.PNG}, {"wind.svg", picture.Profile, picture.SVG},
		{"hodograph.png", picture.Hodograph, picture.PNG}, {"hodograph.svg", picture.Hodograph, picture.SVG},
	} {
		err := set.Write(filepath.Join(q.Dir, f.name), func(out io.Writer) error { return f.draw(out, f.format, w) })
		if err != nil {
			return err
		}
	}
	return nil
}
