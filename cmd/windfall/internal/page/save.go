package page

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
)

// putFlight saves a draft: the drawings, then the flight file, all or none, and
// never over a change that the page had not seen.
func (s *Server) putFlight(r *http.Request) (any, error) {
	var b draftBody
	if err := readJSON(r, &b); err != nil {
		return nil, err
	}
	d, err := s.draft(b)
	if err != nil {
		return nil, err
	}
	if _, err := s.read(d); err != nil {
		return nil, err
	}
	s.folder.mu.Lock()
	defer s.folder.mu.Unlock()
	now, err := os.ReadFile(s.opt.Flight)
	if err != nil {
		return nil, refuse(
			http.StatusNotFound,
			"nothing was saved: %s: %s. Put the file back, or copy your changes elsewhere",
			s.opt.Flight,
			plain(err),
		)
	}
	if c := s.conflict(b, d, now); c != nil {
		return nil, &refusal{status: http.StatusConflict, text: c.Message, doc: c}
	}
	files := map[string][]byte{}
	for name, bytes := range d.files {
		files[name] = bytes
	}
	if !bytes.Equal(now, d.text) {
		files[filepath.Base(s.opt.Flight)] = d.text
	}
	if err := s.folder.write(files); err != nil {
		return nil, err
	}
	v := version{hashOf(d.text), d.text}
	s.folder.remember(v)
	return s.docOf(v, true), nil
}

// conflictDoc shows both when a file was changed elsewhere meanwhile.
type conflictDoc struct {
	Message     string       `json:"message"`
	Differences []difference `json:"differences"`
	YoursText   string       `json:"yours_text"`
	TheirsText  string       `json:"theirs_text"`
	Theirs      *flightDoc   `json:"theirs"`
}

// conflict says what was changed elsewhere since the page read it; nil: nothing
// that the draft would overwrite. The folder's lock is held.
func (s *Server) conflict(b draftBody, d *draft, now []byte) *conflictDoc {
	what := []string{}
	out := &conflictDoc{Differences: []difference{}, YoursText: string(d.text), TheirsText: string(now)}
	if hashOf(now) != b.Base {
		what = append(what, filepath.Base(s.opt.Flight))
		var base []byte
		for _, v := range s.folder.texts {
			if v.hash == b.Base {
				base = v.text
			}
		}
		out.Differences = differences(base, d.text, now)
	}
	for _, which := range drawings {
		name, ok := d.names[which]
		if !ok {
			continue
		}
		there, err := os.ReadFile(s.folder.side(name))
		if err != nil {
			there = nil
		}
		if mine := b.Drawn[which]; hashOf(there) != mine.Base {
			what = append(what, name)
			out.Differences = append(out.Differences, difference{name, "", shapeCount(mine.Shapes), shapeCount(there)})
		}
	}
	if len(what) == 0 {
		return nil
	}
	v := version{hashOf(now), now}
	s.folder.remember(v)
	out.Theirs = s.docOf(v, true)
	out.Message = joinWords(
		what,
	) + " changed since this page read it, by an editor or in another window. " +
		"Nothing was saved and nothing is lost: here are both."
	return out
}

func joinWords(words []string) string {
	if len(words) == 1 {
		return words[0] + " was"
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1] + " were"
}

func shapeCount(b []byte) string {
	var top struct {
		Features []json.RawMessage `json:"features"`
	}
	if json.Unmarshal(b, &top) != nil || len(top.Features) == 0 {
		return "nothing drawn"
	}
	if len(top.Features) == 1 {
		return "1 shape"
	}
	return fmt.Sprintf("%d shapes", len(top.Features))
}
