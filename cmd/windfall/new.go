package main

import (
	"embed"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"text/template"
	"time"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/outdir"
)

//go:embed template
var templates embed.FS

func newCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "new", Usage: "write a commented, working flight folder to start from", ArgsUsage: "DIR",
		Flags: []cli.Flag{jsonFlag()},
		Action: func(c *cli.Context) error {
			dir, err := one(c, "a folder to make")
			if err != nil {
				return err
			}
			return newFlight(e, dir, c.Bool("json"))
		},
	}
}

func newFlight(e env, dir string, asJSON bool) error {
	if es, err := os.ReadDir(dir); err == nil && len(es) > 0 {
		return wrongf("%s: is not empty; name a new folder", dir)
	} else if err != nil && !errors.Is(err, os.ErrNotExist) {
		return wrongf("%s: is not a folder; name a new one", dir)
	}
	t, err := template.ParseFS(templates, "template/flight.yaml")
	if err != nil {
		return err
	}
	abs, err := filepath.Abs(dir)
	if err != nil {
		return err
	}
	noon := e.now().Truncate(24*time.Hour).AddDate(0, 0, 1).Add(11 * time.Hour)
	set := outdir.Open(dir)
	defer set.Discard()
	if err := set.Write("flight.yaml", func(w io.Writer) error {
		return t.Execute(w, map[string]string{"ID": flightfile.Slug(filepath.Base(abs)), "When": noon.UTC().Format(time.RFC3339)})
	}); err != nil {
		return err
	}
	field, err := templates.ReadFile("template/field.geojson")
	if err != nil {
		return err
	}
	if err := set.Bytes("field.geojson", field); err != nil {
		return err
	}
	files, err := set.Commit()
	if err != nil {
		return err
	}
	if asJSON {
		return writeJSON(e.out, map[string]any{"files": files})
	}
	for _, f := range files {
		fmt.Fprintf(e.out, "wrote %s\n", f)
	}
	fmt.Fprintf(e.out, "next: change %s, then: windfall predict %s\n", files[0], files[0])
	return nil
}
