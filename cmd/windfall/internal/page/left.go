package page

import (
	"sync"

	"windfall/cmd/windfall/internal/field"
)

// leftKept is what is left, as it was worked out last.
type leftKept struct {
	mu  sync.Mutex
	doc *leftDoc
}

// leftDoc is where the vehicle still may be.
type leftDoc struct {
	leftBrief
}

// leftBrief is the gist of it.
type leftBrief struct {
	Version int64   `json:"version"`
	Stale   bool    `json:"stale"`
	Total   float64 `json:"probability_of_success_total"`
	Outside float64 `json:"outside_map"`
	Advice  string  `json:"advice,omitempty"`
}

// brief is what was worked out last; nil: nothing yet.
func (l *leftKept) brief(v *field.View) *leftBrief {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.doc == nil {
		return nil
	}
	b := l.doc.leftBrief
	b.Stale = b.Version < v.Evidence
	return &b
}
