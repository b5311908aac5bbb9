package page

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/outdir"
)

// folder is the flight's folder: its flight file and what lies beside it. Its
// lock is held from looking at a file until a change of it is written.
type folder struct {
	path string // of the flight file, as it was named

	mu    sync.Mutex
	texts []version // flight files read of late, the newest last
}

// version is a text of the flight file.
type version struct {
	hash string
	text []byte
}

const keptVersions = 16 // so many saves back a page may have been loaded

func hashOf(b []byte) string {
	if b == nil {
		return ""
	}
	h := sha256.Sum256(b)
	return hex.EncodeToString(h[:16])
}

// flight reads the flight file and remembers it.
func (f *folder) flight() (version, error) {
	text, err := os.ReadFile(f.path)
	if err != nil {
		return version{}, refuse(http.StatusNotFound, "%s: %s", f.path, plain(err))
	}
	v := version{hashOf(text), text}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.remember(v)
	return v, nil
}

func (f *folder) remember(v version) {
	f.texts = slices.DeleteFunc(f.texts, func(x version) bool { return x.hash == v.hash })
	f.texts = append(f.texts, v)
	if len(f.texts) > keptVersions {
		f.texts = f.texts[1:]
	}
}

// version returns the text with a hash: the one on disk, or one read before.
func (f *folder) version(hash string) (version, error) {
	f.mu.Lock()
	for _, v := range f.texts {
		if v.hash == hash {
			f.mu.Unlock()
			return v, nil
		}
	}
	f.mu.Unlock()
	if v, err := f.flight(); err != nil || v.hash == hash {
		return v, err
	}
	return version{}, refuse(
		http.StatusGone,
		"the flight was changed elsewhere since this page was loaded; load the page again",
	)
}

// side returns the path of a file that is named in the flight file.
func (f *folder) side(name string) string {
	if filepath.IsAbs(name) {
		return name
	}
	return filepath.Join(filepath.Dir(f.path), name)
}

// drawn are the drawings of a flight file's text: their names and bytes.
type drawn struct {
	name  string // as the flight file has it, or would have it
	named bool   // the flight file has it
	bytes []byte // nil: there is no such file
}

// drawings are the two files that are drawn on the map.
var drawings = []string{"field", "ground"}

// drawing reads a drawing that the flight file names; where it names none, a
// name for one that is not taken.
func (f *folder) drawing(which string, values map[string]any) drawn {
	if site, ok := values["site"].(map[string]any); ok {
		if name, ok := site[which].(string); ok && name != "" {
			b, err := os.ReadFile(f.side(name))
			if err != nil || len(b) > mostFile {
				b = nil
			}
			return drawn{name, true, b}
		}
	}
	name := which + ".geojson"
	for i := 2; ; i++ {
		if _, err := os.Lstat(f.side(name)); errors.Is(err, fs.ErrNotExist) || i > 999 {
			return drawn{name: name}
		}
		name = fmt.Sprintf("%s-%d.geojson", which, i)
	}
}

// names lists the files beside the flight file that a page may choose from.
func (f *folder) names() []string {
	out := []string{}
	es, _ := os.ReadDir(filepath.Dir(f.path)) // a folder that is gone shows as the flight file missing
	for _, e := range es {
		if e.Type().IsRegular() && !strings.HasPrefix(e.Name(), ".") && e.Name() != filepath.Base(f.path) {
			out = append(out, e.Name())
		}
	}
	return out
}

// write writes files beside the flight file, all or none. f.mu is held.
func (f *folder) write(files map[string][]byte) error {
	set := outdir.Open(filepath.Dir(f.path))
	defer set.Discard()
	for _, name := range sortedKeys(files) { // field and ground before the file that names them
		if !filepath.IsLocal(name) {
			return refuse(
				http.StatusForbidden,
				"%s lies outside the flight's folder; it is not changed from here",
				name,
			)
		}
		if err := set.Bytes(name, files[name]); err != nil {
			return writeError(err)
		}
	}
	_, err := set.Commit()
	return writeError(err)
}

func writeError(err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, fs.ErrPermission), strings.Contains(err.Error(), "read-only"):
		return refuse(
			http.StatusForbidden,
			"nothing was saved: %s; the folder can only be read. Make it writable, or copy it to one that is and serve that",
			withoutAdvice(err),
		)
	}
	return refuse(http.StatusInsufficientStorage, "nothing was saved: %s", withoutAdvice(err))
}

// withoutAdvice cuts what outdir says to those who name a folder.
func withoutAdvice(err error) string {
	text, _, _ := strings.Cut(err.Error(), "; choose another")
	return text
}

func sortedKeys[V any](m map[string]V) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.SortFunc(out, func(a, b string) int {
		if x, y := strings.HasSuffix(a, ".yaml"), strings.HasSuffix(b, ".yaml"); x != y { // the flight file last
			if x {
				return 1
			}
			return -1
		}
		return strings.Compare(a, b)
	})
	return out
}

// plain drops the operation and path of a file error.
func plain(err error) string {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err.Error()
	}
	return err.Error()
}

// differences lists the keys in which two texts differ from a third.
func differences(base, yours, theirs []byte) []difference {
	b, y, t := flightfile.Flat(base), flightfile.Flat(yours), flightfile.Flat(theirs)
	keys := map[string]bool{}
	for _, m := range []map[string]string{b, y, t} {
		for k := range m {
			keys[k] = true
		}
	}
	out := []difference{}
	for _, k := range sortedKeys(keys) {
		if b[k] != y[k] || b[k] != t[k] {
			out = append(out, difference{k, b[k], y[k], t[k]})
		}
	}
	return out
}

// difference is a key that two people changed, or one of them.
type difference struct {
	Key    string `json:"key"`
	Base   string `json:"base"`
	Yours  string `json:"yours"`
	Theirs string `json:"theirs"`
}
