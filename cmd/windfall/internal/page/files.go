package page

import (
	"errors"
	"io"
	"mime"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

// filesDoc lists the files of the flight's folder, those made by commands too.
type filesDoc struct {
	Files []string `json:"files"`
}

func (s *Server) getFiles(*http.Request) (any, error) {
	all := s.folder.names()
	es, _ := os.ReadDir(s.folder.side("out")) // none: nothing was made yet
	for _, e := range es {
		if e.Type().IsRegular() {
			all = append(all, "out/"+e.Name())
		}
	}
	return filesDoc{all}, nil
}

// getFile hands a file of the flight's folder out, to be kept and not shown.
func (s *Server) getFile(w http.ResponseWriter, r *http.Request) {
	root, err := os.OpenRoot(filepath.Dir(s.opt.Flight)) // nothing outside the folder, by links either
	if err != nil {
		writeDoc(w, http.StatusNotFound, map[string]any{"message": plain(err)})
		return
	}
	defer root.Close()
	name := r.PathValue("name")
	f, err := root.Open(filepath.FromSlash(name))
	if err != nil {
		writeDoc(
			w,
			http.StatusNotFound,
			map[string]any{"message": clipped(name, 120) + ": there is no such file in the flight's folder"},
		)
		return
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil || !st.Mode().IsRegular() {
		writeDoc(w, http.StatusNotFound, map[string]any{"message": clipped(name, 120) + ": is not a file"})
		return
	}
	base := filepath.Base(name)
	w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": base}))
	w.Header().Set("Content-Type", typeOf(base))
	http.ServeContent(w, r, base, st.ModTime(), f)
}

// types are those of the files that commands make.
var types = map[string]string{
	".kml": "application/vnd.google-earth.kml+xml", ".kmz": "application/vnd.google-earth.kmz",
	".gpx":     "application/gpx+xml",
	".geojson": "application/geo+json", ".json": "application/json", ".csv": "text/csv; charset=utf-8",
	".png": "image/png",
	".svg": "image/svg+xml", ".yaml": "application/yaml",
}

func typeOf(name string) string {
	if t, ok := types[strings.ToLower(filepath.Ext(name))]; ok {
		return t
	}
	return "application/octet-stream"
}

// loadable are the names a file may have that is loaded into the folder: what
// flight files name, in letters that every file system takes.
var loadable = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9 ._()+-]{0,99}\.(?i:json|csv|txt|geojson|hgt|asc|gpx)$`)

// putFile loads a file into the flight's folder. It replaces none with other
// bytes.
func (s *Server) putFile(r *http.Request) (any, error) {
	name := r.PathValue("name")
	if !loadable.MatchString(name) || !filepath.IsLocal(name) {
		return nil, refuse(
			http.StatusBadRequest,
			"%q cannot be loaded; give it a plain name that ends in .json, .csv, .txt, .geojson, .hgt, .asc or .gpx",
			clipped(name, 120),
		)
	}
	if r.ContentLength > mostFile {
		return nil, refuse(
			http.StatusRequestEntityTooLarge,
			"%s has %d MB; a file may have %d MB",
			name,
			r.ContentLength>>20,
			mostFile>>20,
		)
	}
	b, err := io.ReadAll(http.MaxBytesReader(nil, r.Body, mostFile))
	if err != nil {
		var big *http.MaxBytesError
		if errors.As(err, &big) {
			return nil, refuse(
				http.StatusRequestEntityTooLarge,
				"%s is too large; a file may have %d MB",
				name,
				mostFile>>20,
			)
		}
		return nil, refuse(http.StatusBadRequest, "%s did not arrive whole: %v", name, err)
	}
	s.folder.mu.Lock()
	defer s.folder.mu.Unlock()
	if old, err := os.ReadFile(s.folder.side(name)); err == nil && !slices.Equal(old, b) {
		return nil, refuse(
			http.StatusConflict,
			"there is another %s beside the flight; give this one another name",
			name,
		)
	}
	if err := s.folder.write(map[string][]byte{name: b}); err != nil {
		return nil, err
	}
	return map[string]any{"name": name, "bytes": len(b)}, nil
}
