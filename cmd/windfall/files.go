package main

import (
	"context"
	"encoding/json"
	"io"
	"path/filepath"

	"windfall/cmd/windfall/internal/keptplan"
	"windfall/cmd/windfall/internal/outdir"
	"windfall/cmd/windfall/internal/situation"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift"
	"windfall/geo/mapfile"
)

// writeFiles writes map files and the landings, all or none, and returns their
// names. Of two layers the later's files take the place of the earlier's.
func writeFiles(ctx context.Context, dir, landings string, cloud *drift.Cloud, layers ...*mapfile.Landing) ([]string,
	error) {
	set := outdir.Open(dir)
	defer set.Discard()
	if err := addFiles(ctx, set, landings, cloud, layers...); err != nil {
		return nil, err
	}
	return set.Commit()
}

// addFiles adds map files and the landings to a set.
func addFiles(ctx context.Context, set *outdir.Set, landings string, cloud *drift.Cloud,
	layers ...*mapfile.Landing) error {
	for _, l := range layers {
		files, err := mapfile.Files(l, mapfile.Options{})
		if err != nil {
			return err
		}
		for _, f := range files {
			if err := set.Bytes(f.Name, f.Data); err != nil {
				return err
			}
		}
	}
	if landings != "" {
		name, err := filepath.Abs(landings)
		if err != nil {
			return err
		}
		if err := set.Write(name, func(w io.Writer) error { return cloud.WriteCSV(ctx, w) }); err != nil {
			return err
		}
	}
	return ctx.Err()
}

// keepPlan adds the plan to the set.
func keepPlan(set *outdir.Set, k situation.Kept) error {
	text, err := json.Marshal(k)
	if err != nil {
		return err
	}
	return set.Bytes(keptplan.File, append(text, '\n'))
}

// errNotKept says that the plan that is asked for has not been made.
func errNotKept(dir, flight string, kept *situation.Kept) error {
	path := filepath.Join(dir, keptplan.File)
	if kept == nil {
		return usage.Errorf("%s: no plan is kept there; make it first: windfall search %s", path, flight)
	}
	return usage.Errorf("%s: the plan kept there is of other inputs: the flight, what was logged or the flags have "+
		"changed; make it anew: windfall search %s", path, flight)
}
