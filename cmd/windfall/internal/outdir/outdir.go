// Package outdir writes a set of output files whole or not at all: each is
// written beside its place under a temporary name, and all are renamed only
// when every one is complete. A failed or interrupted run leaves the old files
// as they were.
package outdir

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/google/renameio/v2"
)

// Set is a set of files being written to one folder.
type Set struct {
	dir     string
	made    []string // folders this set created, outermost first
	pending []*renameio.PendingFile
	names   []string
}

// Open prepares to write into dir, which Commit creates if need be.
func Open(dir string) *Set { return &Set{dir: dir} }

// Write writes one file of the set through fill. The file appears under name
// (below the set's folder, or where an absolute name says) at Commit.
func (s *Set) Write(name string, fill func(io.Writer) error) error {
	path := name
	if !filepath.IsAbs(name) {
		path = filepath.Join(s.dir, name)
	}
	if err := s.mkdir(filepath.Dir(path)); err != nil {
		return err
	}
	f, err := renameio.NewPendingFile(path, renameio.WithPermissions(0o644))
	if err != nil {
		return fmt.Errorf("%s: %w; choose another folder with --out", path, plain(err))
	}
	s.pending = append(s.pending, f)
	s.names = append(s.names, path)
	if err := fill(f); err != nil {
		return fmt.Errorf("%s: %w", path, plain(err))
	}
	return nil
}

// Bytes writes one file of the set from memory.
func (s *Set) Bytes(name string, b []byte) error {
	return s.Write(name, func(w io.Writer) error { _, err := io.Copy(w, bytes.NewReader(b)); return err })
}

// Commit puts every file in its place, in the order written, and returns their
// paths.
func (s *Set) Commit() ([]string, error) {
	for _, f := range s.pending {
		if err := f.Sync(); err != nil {
			return nil, fmt.Errorf("%s: %w", f.Name(), plain(err))
		}
	}
	for i, f := range s.pending {
		if err := f.CloseAtomicallyReplace(); err != nil {
			return nil, fmt.Errorf("%s: %w", s.names[i], plain(err))
		}
	}
	s.pending, s.made = nil, nil
	return s.names, nil
}

// Discard removes what was not committed; after Commit it does nothing.
func (s *Set) Discard() {
	for _, f := range s.pending {
		f.Cleanup() // the run has failed already; its error is the one to tell
	}
	for i := len(s.made) - 1; i >= 0; i-- {
		os.Remove(s.made[i])
	}
	s.pending, s.made = nil, nil
}

func (s *Set) mkdir(dir string) error {
	if st, err := os.Stat(dir); err == nil && st.IsDir() {
		return nil
	}
	if parent := filepath.Dir(dir); parent != dir {
		if err := s.mkdir(parent); err != nil {
			return err
		}
	}
	if err := os.Mkdir(dir, 0o755); err != nil {
		if errors.Is(err, os.ErrExist) {
			if st, e := os.Stat(dir); e == nil && st.IsDir() {
				return nil
			}
			return fmt.Errorf("%s is a file, not a folder; choose another with --out", dir)
		}
		return fmt.Errorf("%s: %w; choose another folder with --out", dir, plain(err))
	}
	s.made = append(s.made, dir)
	return nil
}

// plain drops the operation and path that os errors carry: the message names
// the file already, and the temporary name would puzzle.
func plain(err error) error {
	var pe *os.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	var le *os.LinkError
	if errors.As(err, &le) {
		return le.Err
	}
	return err
}
