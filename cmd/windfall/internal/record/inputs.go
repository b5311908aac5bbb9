package record

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/logbook"
)

// Stamp says who logs something, when, and what made the map at the time.
type Stamp struct {
	By      string // may be empty
	Now     time.Time
	Version string // of the program
	Seed    uint64
	Runs    int
	Files   []logbook.File // kept beside the flight's own, such as a picture
}

// Inputs gathers all that made a flight's map, for the logbook: the flight
// file and every file it names, as read now.
func Inputs(f *flightfile.File, st Stamp) (*logbook.Inputs, error) {
	main := filepath.Base(f.Path)
	in := &logbook.Inputs{Flight: f.Flight.ID, Launched: f.Flight.When, When: st.Now, Version: st.Version, Seed: st.Seed,
		Runs: st.Runs, Learned: f.Learned.ID, Main: main, Files: []logbook.File{{Name: main, Bytes: f.Text}}}
	seen := map[string]bool{in.Main: true}
	for _, side := range f.Sides {
		name, err := filepath.Rel(filepath.Dir(f.Path), side)
		if err != nil || filepath.IsAbs(side) && !filepath.IsAbs(f.Path) {
			name = side
		}
		if name = filepath.ToSlash(name); seen[name] {
			continue
		}
		seen[name] = true
		text, err := os.ReadFile(side)
		if err != nil {
			return nil, usage.Errorf("%s: %v", side, err)
		}
		in.Files = append(in.Files, logbook.File{Name: name, Bytes: text})
	}
	in.Files = append(in.Files, st.Files...)
	return in, nil
}

// WriteInputs writes stored inputs into dir and returns the flight file's
// path. Files that lay above the flight's folder come back above it: it is
// made as deep as they need. A file named by a full path is left out, as is one
// whose bytes were too many to keep; then its own path must still have it.
func WriteInputs(in *logbook.Inputs, dir string) (string, error) {
	up := 0
	for _, f := range in.Files {
		up = max(up, strings.Count("/"+filepath.ToSlash(filepath.Clean(f.Name)), "/.."))
	}
	base := filepath.Join(".", strings.Repeat(in.Flight+"/", min(up, 20)))
	for _, f := range in.Files {
		at := filepath.Join(base, filepath.FromSlash(f.Name))
		if filepath.IsAbs(f.Name) || f.Bytes == nil && f.Size > 0 {
			continue
		}
		if !filepath.IsLocal(at) {
			return "", fmt.Errorf("stored file %q would lie outside %s; it is not written", f.Name, dir)
		}
		at = filepath.Join(dir, at)
		if err := os.MkdirAll(filepath.Dir(at), 0o755); err != nil {
			return "", err
		}
		if err := os.WriteFile(at, f.Bytes, 0o644); err != nil {
			return "", err
		}
	}
	return filepath.Join(dir, base, filepath.FromSlash(in.Main)), nil
}
