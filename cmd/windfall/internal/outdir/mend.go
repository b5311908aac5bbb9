package outdir

import (
	"bufio"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// notice is the file that stands in a folder while a set is put in place.
const notice = "unfinished.txt"

const noticeHead = `windfall was stopped while it put these files in place, so that some may be of
the run before. The next run into this folder finishes it.
`

// temporary is the pattern of a temporary file: hidden, for one name, of this
// process.
func temporary(name string) string {
	return fmt.Sprintf(".%s.windfall-%d-*", name, os.Getpid())
}

var temporaryName = regexp.MustCompile(`^\..+\.windfall-(\d+)-\d+$`)

// announce writes the notice of a set of several files: one alone is in place
// or not. done takes it away.
func (s *Set) announce() (done func(), err error) {
	if len(s.staged) < 2 || s.dir == "" {
		return func() {}, nil
	}
	text := noticeHead
	for _, f := range s.staged {
		text += fmt.Sprintf("%s\t%s\n", f.file.Name(), f.path)
	}
	path := filepath.Join(s.dir, notice)
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		return nil, fmt.Errorf("%s: %w; choose another folder with --out", path, plain(err))
	}
	return func() { os.Remove(path) }, nil
}

// mend finishes a set that a killed run left half in place in dir, and removes
// temporary files whose process has gone. It does what it can: what it cannot,
// the next write there tells.
func mend(dir string) {
	if f, err := os.Open(filepath.Join(dir, notice)); err == nil {
		for sc := bufio.NewScanner(f); sc.Scan(); {
			from, to, ok := strings.Cut(sc.Text(), "\t")
			if ok && temporaryName.MatchString(filepath.Base(from)) && filepath.Dir(from) == filepath.Dir(to) {
				os.Rename(from, to) // an error: it is in place already
			}
		}
		f.Close()
		os.Remove(filepath.Join(dir, notice))
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	for _, e := range entries {
		m := temporaryName.FindStringSubmatch(e.Name())
		if m == nil {
			continue
		}
		pid, _ := strconv.Atoi(m[1])
		if info, err := e.Info(); err == nil && (!alive(pid) || time.Since(info.ModTime()) > 24*time.Hour) {
			os.Remove(filepath.Join(dir, e.Name()))
		}
	}
}
