// Package outdir writes a set of output files whole or not at all: each is
// written beside its place under a temporary name, and all are renamed only
// when every one is complete. A failed or interrupted run leaves the old files
// as they were.
//
// A run that is killed can leave two things, both of which the next Set for
// the same folder mends: temporary files, which it removes, and, between the
// first and the last renaming, a set half in place. Such a folder holds a file
// unfinished.txt that says so to whoever looks, and what is needed to finish.
package outdir

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
)

// Set is a set of files being written to one folder.
type Set struct {
	dir    string
	made   []string // folders this set created, outermost first
	staged []staged
}

// staged is a file written whole under a temporary name.
type staged struct {
	file *os.File
	path string // where it goes
}

// Open prepares to write into dir, which Commit creates if need be.
func Open(dir string) *Set {
	mend(dir)
	return &Set{dir: dir}
}

// Check says what would keep files from being written into dir, or to names of
// their own, before any work is done for them.
func Check(dir string, names ...string) error {
	for _, n := range append([]string{dir}, names...) {
		if err := nameable(n); err != nil {
			return err
		}
	}
	for at := dir; ; at = filepath.Dir(at) {
		st, err := os.Stat(at)
		if err != nil && !errors.Is(err, os.ErrPermission) && filepath.Dir(at) != at {
			continue // not there yet, or below a file
		}
		if err != nil {
			return fmt.Errorf("%s: %w; choose another folder with --out", at, plain(err))
		}
		if !st.IsDir() {
			return fmt.Errorf("%s is a file, not a folder; choose another with --out", at)
		}
		f, err := os.CreateTemp(at, temporary("check"))
		if err != nil {
			return fmt.Errorf("%s: %w; choose another folder with --out", at, plain(err))
		}
		f.Close()
		os.Remove(f.Name())
		break
	}
	for _, n := range names {
		if st, err := os.Stat(n); err == nil && st.IsDir() {
			return fmt.Errorf("%s: is a folder; name a file", n)
		}
		if st, err := os.Stat(filepath.Dir(n)); err != nil || !st.IsDir() {
			return fmt.Errorf("%s: there is no folder %s; make it, or name another file", n, filepath.Dir(n))
		}
	}
	return nil
}

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
	if st, err := os.Stat(path); err == nil && st.IsDir() {
		return fmt.Errorf("%s: is a folder; name a file, or choose another folder with --out", path)
	}
	f, err := os.CreateTemp(filepath.Dir(path), temporary(filepath.Base(path)))
	if err != nil {
		return fmt.Errorf("%s: %w; choose another folder with --out", path, plain(err))
	}
	s.staged = append(s.staged, staged{f, path})
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
	for _, f := range s.staged {
		err := errors.Join(f.file.Chmod(0o644), f.file.Sync(), f.file.Close())
		if err != nil {
			return nil, fmt.Errorf("%s: %w", f.path, plain(err))
		}
	}
	done, err := s.announce()
	if err != nil {
		return nil, err
	}
	var names []string
	for _, f := range s.staged {
		if err := os.Rename(f.file.Name(), f.path); err != nil {
			return nil, fmt.Errorf("%s: %w", f.path, plain(err))
		}
		names = append(names, f.path)
	}
	done()
	s.staged, s.made = nil, nil
	return names, nil
}

// Discard removes what was not committed; after Commit it does nothing.
func (s *Set) Discard() {
	for _, f := range s.staged {
		f.file.Close() // the run has failed already; its error is the one to tell
		os.Remove(f.file.Name())
	}
	for i := len(s.made) - 1; i >= 0; i-- {
		os.Remove(s.made[i])
	}
	s.staged, s.made = nil, nil
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
