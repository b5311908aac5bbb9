package main

import (
	"errors"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/adrg/xdg"
	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/drift"
)

// loadFlight reads the command's flight file, puts in what the logbook has
// learned, and makes it ready to fly. What is
// wrong with either is an error of the file.
func loadFlight(c *cli.Context, settings ...flightfile.Setting) (*flightfile.File, *drift.Model, error) {
	path, err := one(c, "a flight file")
	if err != nil {
		return nil, nil, err
	}
	return loadPath(c, path, settings...)
}

// loadPath is loadFlight for a command with more arguments than the flight.
func loadPath(c *cli.Context, path string, settings ...flightfile.Setting) (*flightfile.File, *drift.Model, error) {
	f, err := flightfile.Read(path, settings...)
	if err != nil {
		return nil, nil, wrong{err}
	}
	if err := useLearned(c, f); err != nil {
		return nil, nil, err
	}
	m, err := prepare(f)
	return f, m, err
}

// readFlight is loadFlight for a file that is not the command's argument, with
// nothing learned in it.
func readFlight(path string, settings ...flightfile.Setting) (*flightfile.File, *drift.Model, error) {
	f, err := flightfile.Read(path, settings...)
	if err != nil {
		return nil, nil, wrong{err}
	}
	m, err := prepare(f)
	return f, m, err
}

// prepare gives a flight's own errors the line of the field they name.
func prepare(f *flightfile.File) (*drift.Model, error) {
	m, err := drift.Prepare(f.Flight)
	var fe *drift.FieldError
	if errors.As(err, &fe) {
		return nil, wrong{f.Error(fe.Field, strings.TrimSpace(quoted(fe.Value)+" "+fe.Msg))}
	}
	if err != nil {
		return nil, wrongf("%s: %w", f.Path, err)
	}
	return m, nil
}

// logbookPath is --logbook, else $WINDFALL_LOGBOOK, else the user's data folder.
func logbookPath(e env, c *cli.Context) string {
	if p := c.String("logbook"); p != "" {
		return p
	}
	if p := e.getenv("WINDFALL_LOGBOOK"); p != "" {
		return p
	}
	return filepath.Join(xdg.DataHome, "windfall", "logbook.db")
}

// outFolder is --out, else out beside the flight file.
func outFolder(c *cli.Context, f *flightfile.File) string {
	if p := c.String("out"); p != "" {
		return p
	}
	return filepath.Join(filepath.Dir(f.Path), "out")
}

func quoted(s string) string {
	if s == "" {
		return ""
	}
	return strconv.Quote(s)
}
