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
	kind     Kind    // Arrive, Leave or Late
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
	noteKeyed map[int64]bool   // entries whose key is that of the note that they were made of
	shown     map[int64]Entry  // entries as they were shown last
	has       map[int64]bool   // notes
	noted     map[int64]string // keys of notes
	at        map[int64]int64  // of notes: their change
	withdrawn map[int64]int64  // notes, and those that took them back

	pressed    []ignition // taken back or not
	timed      []*timed
	timedOf    map[int64]*timed // by their notes
	countedBy  map[int64]*timed // by all entries that they ever counted by
	recordings map[walkKey]*recording
	recordedIn map[int64]*recording // by the notes of their pieces
	lane       []said[laneNote]
	crewed     []said[crewNote]
	plans      []*Plan
	ways       map[int]ways // of plans, by number, as far as they were asked for
}

// said is a note that was read.
type said[B any] struct {
	note int64
	by   string
	at   time.Time
	body B
}

// timed is a sighting whose time hangs on the ignition.
type timed struct {
	note    int64
	by      string
	said    Said
	amended int64 // the note that last did; 0: none
	counted int64 // the note that last said by which entry it counts; 0: none
	entry   int64 // by which it counts now; 0: none
}

// walkKey names a recording: whoever sends a piece of another's has one of
// their own, so that none is lost where a phone comes in under a new name.
type walkKey struct{ by, recording string }

// recording is one walk, as far as it has come in.
type recording struct {
	id       string
	by       string
	searcher string
	entry    int64
	fixes    []Fix
	first    int64 // note of its first piece, whose key its track has
}

func newState() *state {
	return &state{entries: map[int64]logbook.Entry{}, order: map[int64]int64{}, keys: map[int64]string{},
		shown: map[int64]Entry{}, has: map[int64]bool{}, noted: map[int64]string{}, at: map[int64]int64{},
		withdrawn: map[int64]int64{}, timedOf: map[int64]*timed{}, countedBy: map[int64]*timed{},
		recordings: map[walkKey]*recording{}, recordedIn: map[int64]*recording{}, ways: map[int]ways{},
		noteKeyed: map[int64]bool{}}
}

// apply adds what the logbook says was added.
func (s *state) apply(ch logbook.Changed) {
	for _, e := range ch.Entries {
		s.entries[e.ID], s.order[e.ID] = e, ch.Order[e.ID]
		if k := ch.Keys[e.ID]; k != "" && !s.noteKeyed[e.ID] {
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
	switch n.Kind {
	case noteWithdrawn:
		if b, ok := bodyOf[noteRef](n); ok {
			s.withdrawn[b.Note] = n.ID
		}
	case noteTimed:
		if b, ok := bodyOf[timedNote](n); ok {
			s.addTimed(n, b)
		}
	case noteCounted:
		if b, ok := bodyOf[countedNote](n); ok && s.timedOf[b.Note] != nil {
			s.count(s.timedOf[b.Note], b.Entry, n.ID)
		}
	case noteFixes:
		if b, ok := bodyOf[fixesNote](n); ok {
			s.addFixes(n, b)
		}
	case notePlan:
		if b, ok := bodyOf[planNote](n); ok && b.Plan != nil {
			s.plans = append(s.plans, &Plan{Number: len(s.plans) + 1, Key: b.Key, At: n.When, By: n.By, Begin: b.Begin,
				Plan: b.Plan, Cautions: b.Cautions, note: n.ID})
		}
	case string(kindIgnition):
		s.pressed = append(s.pressed, ignition{n.ID, n.By, n.When, n.Body})
	case string(kindLane):
		if b, ok := bodyOf[laneNote](n); ok {
			s.lane = append(s.lane, said[laneNote]{n.ID, n.By, n.When, b})
		}
	case string(kindArrive), string(kindLeave), string(kindLate):
		if b, ok := bodyOf[crewNote](n); ok {
			b.kind = Kind(n.Kind)
			s.crewed = append(s.crewed, said[crewNote]{n.ID, n.By, n.When, b})
		}
	}
}

func bodyOf[B any](n logbook.Note) (b B, ok bool) { return b, json.Unmarshal(n.Body, &b) == nil }

func (s *state) addTimed(n logbook.Note, b timedNote) {
	if b.Note == 0 {
		t := &timed{note: n.ID, by: n.By, said: b.Said}
		s.timed, s.timedOf[n.ID] = append(s.timed, t), t
	} else if t := s.timedOf[b.Note]; t != nil {
		t.said, t.amended = b.Said, n.ID
	}
}

// entryOf is the entry by which a note counts; 0: none.
func (s *state) entryOf(note int64) int64 {
	if t := s.timedOf[note]; t != nil {
		return t.entry
	}
	if r := s.recordedIn[note]; r != nil {
		return r.entry
	}
	return 0
}

// count notes by which entry a timed sighting counts now; 0: by none.
func (s *state) count(t *timed, entry, note int64) {
	t.entry, t.counted = entry, note
	if entry == 0 {
		return
	}
	s.countedBy[entry] = t
	s.keyedBy(entry, t.note)
}

// keyedBy gives an entry the key of the note that it was made of: the first key
// that names the entry itself may be of what took it back.
func (s *state) keyedBy(entry, note int64) {
	if k := s.noted[note]; k != "" {
		s.keys[entry], s.noteKeyed[entry] = k, true
	}
}

// isBack tells whether a note was taken back.
func (s *state) isBack(note int64) bool { return s.withdrawn[note] != 0 }

// seqOf is the last change of a note: that it was taken back is one.
func (s *state) seqOf(note int64) int64 { return max(s.at[note], s.at[s.withdrawn[note]]) }

func (s *state) addFixes(n logbook.Note, b fixesNote) {
	k := walkKey{n.By, b.Recording}
	r := s.recordings[k]
	if r == nil {
		r = &recording{id: b.Recording, by: n.By, first: n.ID}
		s.recordings[k] = r
	}
	if b.Entry != 0 {
		r.entry = b.Entry
		s.keyedBy(b.Entry, r.first)
	}
	if b.Searcher != "" {
		r.searcher = b.Searcher
	}
	s.recordedIn[n.ID] = r
	r.fixes = append(r.fixes, b.Fixes...)
	slices.SortStableFunc(r.fixes, func(a, b Fix) int { return a.At.Compare(b.At) })
}

// plan returns the plan in force; nil: none was made.
func (s *state) plan() *Plan {
	for i := len(s.plans) - 1; i >= 0; i-- {
		if !s.isBack(s.plans[i].note) {
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
	body json.RawMessage
}

// ignitions returns those not taken back, the earliest first.
func (s *state) ignitions() (out []ignition) {
	for _, g := range s.pressed {
		if !s.isBack(g.note) {
			out = append(out, g)
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
