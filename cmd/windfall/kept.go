package main

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"

	"windfall/cmd/windfall/internal/outdir"
	"windfall/cmd/windfall/internal/situation"
	"windfall/cmd/windfall/internal/usage"
)

// planFile is where search keeps a plan beside its map files, for export.
const planFile = "plan.json"

// keepPlan adds the plan to the set.
func keepPlan(set *outdir.Set, k situation.Kept) error {
	text, err := json.Marshal(k)
	if err != nil {
		return err
	}
	return set.Bytes(planFile, append(text, '\n'))
}

// readKept reads the plan that is kept in the first of the folders that holds
// one; nil where there is none or none that can be read.
func readKept(dirs ...string) (*situation.Kept, error) {
	var text []byte
	err := os.ErrNotExist
	for _, dir := range dirs {
		if text, err = os.ReadFile(filepath.Join(dir, planFile)); !errors.Is(err, os.ErrNotExist) {
			break
		}
	}
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, usage.Errorf("%w; make it readable, or name another folder with --out", err)
	}
	k := &situation.Kept{}
	if json.Unmarshal(text, k) != nil || k.Key == "" || k.Plan == nil {
		return nil, nil // not ours, or of another version: as good as none
	}
	return k, nil
}

// errNotKept says that the plan that is asked for has not been made.
func errNotKept(dir, flight string, kept *situation.Kept) error {
	path := filepath.Join(dir, planFile)
	if kept == nil {
		return usage.Errorf("%s: no plan is kept there; make it first: windfall search %s", path, flight)
	}
	return usage.Errorf("%s: the plan kept there is of other inputs: the flight, what was logged or the flags have "+
		"changed; make it anew: windfall search %s", path, flight)
}
