// Package keptplan reads the plan that search keeps beside its map files, for
// export and the page.
package keptplan

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"

	"windfall/cmd/windfall/internal/situation"
	"windfall/cmd/windfall/internal/usage"
)

// File is where the plan is kept.
const File = "plan.json"

// Read reads the plan that is kept in the first of the folders that holds
// one; nil where there is none or none that can be read.
func Read(dirs ...string) (*situation.Kept, error) {
	var text []byte
	err := os.ErrNotExist
	for _, dir := range dirs {
		if text, err = os.ReadFile(filepath.Join(dir, File)); !errors.Is(err, os.ErrNotExist) {
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
