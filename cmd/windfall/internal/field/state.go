package field

import (
	"encoding/json"
	"slices"
	"time"

	"windfall/drift/logbook"
	"windfall/search"
)

// The kinds of notes. Those of a phone's own kinds have its name.
const (
	notePlan      = "plan"      // planNote
	noteFixes     = "fixes"     // fixesNote
	noteCounted   = "counted"   // countedNote: what became of a timed sighting
	noteWithdrawn = "withdrawn" // noteRef
	noteTimed     = "timed"     // timedNote: a sighting whose time hangs on the ignition
)

// noteRef names a note.
type noteRef struct {
	Note int64 `json:"note"`
}

// countedNote says which entry a timed sighting counts by; 0: none.
type countedNote struct {
	Note  int64 `json:"note"`
	Entry int64 `json:"entry"`
}

// timedNote is a sighting as it was said, its time put right. Note is the one
// that it amends; 0: none.
type timedNote struct {
	Note int64 `json:"note,omitempty"`
	Said Said  `json:"said"`
}

// fixesNote is a piece of a recording.
type fixesNote struct {
	Recording string `json:"recording"`
	Searcher  string `json:"searcher,omitempty"`
	Entry     int64  `json:"entry"` // the track that the recording has become; 0: none yet
	Fixes     []Fix  `json:"fixes"`
}

// laneNote is what was said of a lane.
type laneNote struct {
	Plan  int    `json:"plan"`
	Block string `json:"block"`
	Lane  int    `json:"lane"`
	State string `json:"state"`
	Note  string `json:"note,omitempty"`
}

// crewNote is that somebody comes, goes or is late.
type crewNote struct {
	Searcher string  `json:"searcher"`
	Minutes  float64 `json:"minutes,omitempty"`
	Note     string  `json:"note,omitempty"`
}

// Plan is a plan that was made for the field.
type Plan struct {
	Number   int          `json:"number"` // set by its place among the flight's; 1 is the first
	Key      string       `json:"key"`
	At       time.Time    `json:"at"`
	By       string       `json:"by"`
	Begin    *time.Time   `json:"begin,omitempty"` // of its minute 0; nil: not known
	Plan     *search.Plan `json:"plan,omitempty"`
	Cautions []string     `json:"cautions,omitempty"`
	note     int64
}

// planNote is what the logbook keeps of a plan.
type planNote struct {
	Key      string       `json:"key"`
	Begin    *time.Time   `json:"begin,omitempty"`
	Plan     *search.Plan `json:"plan"`
	Cautions []string     `json:"cautions,omitempty"`
}

// state is what the notes and entries of a flight come to.
type state struct {
	seq       int64
	entries   map[int64]logbook.Entry
	order     map[int64]int64  // of entries: their latest change
	keys      map[int64]string // of entries
	notes     []logbook.Note   // in the order they came
	has       map[int64]bool   // notes
	noted     map[int64]string // keys of notes
	at        map[int64]int64  // of notes: their change
	withdrawn map[int64]bool   // notes

	timed      []*timed
	recordings map[string]*recording
	plans      []*Plan
}

// timed is a sighting whose time hangs on the ignition.
type timed struct {
	note  int64
	by    string
	said  Said
	entry int64 // by which it counts now; 0: none
}

// recording is one walk, as far as it has come in.
type recording struct {
	by       string
	searcher string
	entry    int64
	fixes    []Fix
}

func newState() *state {
	return &state{entries: map[int64]logbook.Entry{}, order: map[int64]int64{}, keys: map[int64]string{},
		has: map[int64]bool{}, noted: map[int64]string{}, at: map[int64]int64{},
		withdrawn: map[int64]bool{}, recordings: map[string]*recording{}}
}

// apply adds what the logbook says was added.
func (s *state) apply(ch logbook.Changed) {
	for _, e := range ch.Entries {
		s.entries[e.ID], s.order[e.ID] = e, ch.Order[e.ID]
		if k := ch.Keys[e.ID]; k != "" {
			s.keys[e.ID] = k
		}
	}
	for _, n := range ch.Notes {
		s.at[n.ID] = ch.At[n.ID]
		s.note(n, ch.Noted[n.ID])
	}
	s.seq = ch.Seq
}

// note adds a note. One that cannot be read counts for nothing, as everywhere
// in the logbook.
func (s *state) note(n logbook.Note, key string) {
	if key != "" {
		s.noted[n.ID] = key
	}
	if s.has[n.ID] {
		return
	}
	s.has[n.ID] = true
	s.notes = append(s.notes, n)
	switch n.Kind {
	case noteWithdrawn:
		var b noteRef
		if json.Unmarshal(n.Body, &b) == nil {
			s.withdrawn[b.Note] = true
		}
	case noteTimed:
		var b timedNote
		if json.Unmarshal(n.Body, &b) == nil {
			s.addTimed(n, b)
		}
	case noteCounted:
		var b countedNote
		if json.Unmarshal(n.Body, &b) == nil {
			if t := s.timedAs(b.Note); t != nil {
				t.entry = b.Entry
			}
		}
	case noteFixes:
		var b fixesNote
		if json.Unmarshal(n.Body, &b) == nil {
			s.addFixes(n.By, b)
		}
	case notePlan:
		var b planNote
		if json.Unmarshal(n.Body, &b) == nil && b.Plan != nil {
			s.plans = append(s.plans, &Plan{Number: len(s.plans) + 1, Key: b.Key, At: n.When, By: n.By, Begin: b.Begin, Plan: b.Plan,
				Cautions: b.Cautions, note: n.ID})
		}
	}
}

func (s *state) addTimed(n logbook.Note, b timedNote) {
	if b.Note == 0 {
		s.timed = append(s.timed, &timed{note: n.ID, by: n.By, said: b.Said})
	} else if t := s.timedAs(b.Note); t != nil {
		t.said = b.Said
	}
}

// timedAs returns the timed sighting of a note; nil: it is none.
func (s *state) timedAs(note int64) *timed {
	for _, t := range s.timed {
		if t.note == note {
			return t
		}
	}
	return nil
}

// timedBy returns the timed sighting that counts by an entry; nil: none does.
func (s *state) timedBy(entry int64) *timed {
	for _, t := range s.timed {
		if t.entry == entry && entry != 0 {
			return t
		}
	}
	return nil
}

func (s *state) addFixes(by string, b fixesNote) {
	r := s.recordings[b.Recording]
	if r == nil {
		r = &recording{by: by}
		s.recordings[b.Recording] = r
	}
	if b.Entry != 0 {
		r.entry = b.Entry
	}
	if b.Searcher != "" {
		r.searcher = b.Searcher
	}
	r.fixes = append(r.fixes, b.Fixes...)
	slices.SortStableFunc(r.fixes, func(a, b Fix) int { return a.At.Compare(b.At) })
}

// plan returns the plan in force; nil: none was made.
func (s *state) plan() *Plan {
	for i := len(s.plans) - 1; i >= 0; i-- {
		if !s.withdrawn[s.plans[i].note] {
			return s.plans[i]
		}
	}
	return nil
}

// ignition is a press of that button.
type ignition struct {
	note int64
	by   string
	at   time.Time
}

// ignitions returns those not taken back, the earliest first.
func (s *state) ignitions() (out []ignition) {
	for _, n := range s.notes {
		if n.Kind == string(Ignition) && !s.withdrawn[n.ID] {
			out = append(out, ignition{n.ID, n.By, n.When})
		}
	}
	slices.SortStableFunc(out, func(a, b ignition) int { return a.at.Compare(b.at) })
	return out
}

// sameLaunch is how far apart presses of one ignition are at most: a choice of
// ours.
const sameLaunch = 10 * time.Second

// ignitionFor returns the ignition that somebody's times count from: the last
// one that was pressed, by their own phone where it was pressed there too.
func (s *state) ignitionFor(by string) (out ignition, ok bool) {
	all := s.ignitions()
	if len(all) == 0 {
		return out, false
	}
	out = all[len(all)-1]
	for _, g := range all {
		if g.by == by && out.at.Sub(g.at) <= sameLaunch {
			return g, true
		}
	}
	return out, true
}
