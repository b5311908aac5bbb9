package field

import (
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"time"

	"windfall/cmd/windfall/internal/record"
	"windfall/drift/evidence"
	"windfall/drift/logbook"
)

// View is what is known of a flight in the field, as it is shown. It is not
// changed once made.
type View struct {
	Version   int64
	Ignition  *Press
	Crew      map[string]CrewState // by searcher; those of whom nothing was said are left out
	Plan      *Plan                // in force; nil: none
	PlanSince int64                // the version with which it came
	Progress  []LaneState          // of the plan in force
	Done      []LaneState          // lanes done, of every plan
	Entries   []Entry              // in the order of their last change
	Finds     []Entry
	Conflicts []Clash
	Evidence  int64 // the version that last changed the map

	state map[string]string // searcher by person
	plans []*Plan
}

// Press is the ignition in force.
type Press struct {
	Key string    `json:"key"`
	At  time.Time `json:"at"`
	By  string    `json:"by"`
}

// Entry is something logged, as it is shown.
type Entry struct {
	ID        int64           `json:"id,omitempty"`
	Key       string          `json:"key,omitempty"`
	Kind      Kind            `json:"kind"`
	By        string          `json:"by"`
	At        time.Time       `json:"at"`
	Says      string          `json:"says"`
	Withdrawn bool            `json:"withdrawn"`
	Revision  int             `json:"revision"`
	Body      json.RawMessage `json:"body"`

	Seq int64 `json:"-"` // of its last change
}

// Clash is something that two people say differently.
type Clash struct {
	Message string  `json:"message"`
	IDs     []int64 `json:"ids,omitempty"`
}

// look makes the view.
func (s *state) look() *View {
	v := &View{Version: s.seq, Crew: s.crew(), Plan: s.plan(), Progress: []LaneState{}, Entries: []Entry{},
		Finds: []Entry{}, Conflicts: []Clash{}, Done: s.doneLanes(), state: map[string]string{},
		plans: slices.Clone(s.plans)}
	for _, c := range v.Crew {
		if c.By != "" {
			v.state[c.By] = s.searcherOf(c.By)
		}
	}
	if v.Plan != nil {
		v.PlanSince = s.at[v.Plan.note]
		for _, l := range s.lanes(v.Plan.Number) {
			v.Progress = append(v.Progress, l)
		}
		slices.SortFunc(v.Progress, func(a, b LaneState) int {
			return cmp.Or(cmp.Compare(a.Block, b.Block), cmp.Compare(a.Lane, b.Lane))
		})
	}
	s.lookAtEntries(v)
	s.lookAtClock(v)
	slices.SortStableFunc(v.Entries, func(a, b Entry) int { return cmp.Compare(a.Seq, b.Seq) })
	s.clashes(v)
	return v
}

// SearcherOf returns whom a person searches as; "": nobody.
func (v *View) SearcherOf(person string) string { return v.state[person] }

func (s *state) lookAtEntries(v *View) {
	v.Entries = make([]Entry, 0, len(s.entries))
	for id, e := range s.entries {
		if e.Kind == logbook.Measured {
			continue // on the ground, not of a flight
		}
		if t := s.countedBy[id]; t != nil && t.entry != id {
			continue // lookAtClock shows it, or its next entry
		}
		x, ok := s.shown[id]
		if !ok || x.Revision != e.Revision {
			x = Entry{ID: id, Kind: kindOf(e), By: e.By, At: e.When, Says: record.Sentence(e), Withdrawn: e.Withdrawn,
				Revision: e.Revision, Body: e.Body}
		}
		x.Key, x.Seq = s.keys[id], s.order[id]
		s.shown[id] = x
		v.Entries = append(v.Entries, x)
		v.Evidence = max(v.Evidence, x.Seq)
	}
	for _, e := range s.finds() {
		v.Finds = append(v.Finds, s.shown[e.ID])
	}
}

// kindOf is the kind of an entry as the field calls it.
func kindOf(e logbook.Entry) Kind {
	switch e.Kind {
	case logbook.Timing:
		return kindTiming
	case logbook.Height:
		return kindHeight
	case logbook.NothingIn:
		return kindNothing
	case logbook.Track:
		return kindTrack
	case logbook.Find:
		return kindFind
	}
	s, _, _ := evidence.Decode(e.ID, e.By, string(e.Kind), e.Body)
	if _, ok := s.Kind.(evidence.Looks); ok {
		return kindLooked
	}
	return kindBearing
}

// lookAtClock adds the presses of ignition, and the timed sightings that count
// for nothing yet.
func (s *state) lookAtClock(v *View) {
	for _, g := range s.pressed {
		v.Entries = append(v.Entries, Entry{Key: s.noted[g.note], Kind: kindIgnition, By: g.by, At: g.at, Says: "ignition",
			Withdrawn: s.isBack(g.note), Revision: 1, Body: g.body, Seq: s.seqOf(g.note)})
	}
	if all := s.ignitions(); len(all) > 0 {
		g := all[len(all)-1]
		v.Ignition = &Press{s.noted[g.note], g.at, g.by}
	}
	for _, t := range s.timed {
		if _, ok := s.entries[t.entry]; ok {
			continue
		}
		body, err := json.Marshal(t.said)
		if err != nil {
			continue
		}
		v.Entries = append(v.Entries, Entry{Key: s.noted[t.note], Kind: t.said.Kind, By: t.by, At: t.said.At,
			Says: t.said.Event + ": does not count without an ignition before it", Withdrawn: s.isBack(t.note), Revision: 1,
			Body: body, Seq: max(s.seqOf(t.note), s.at[t.amended], s.at[t.counted])})
	}
}

func (v *View) clash(ids []int64, format string, a ...any) {
	v.Conflicts = append(v.Conflicts, Clash{fmt.Sprintf(format, a...), ids})
}

// clashes says what does not go together.
func (s *state) clashes(v *View) {
	if g := s.ignitions(); len(g) > 1 {
		v.clash(nil, "ignition was pressed %d times, from %s to %s: take back what was none", len(g),
			g[0].at.UTC().Format("15:04:05.0"), g[len(g)-1].at.UTC().Format("15:04:05.0 UTC"))
	}
	found := map[string][]int64{}
	for _, e := range s.finds() {
		if f, ok := findOf(e); ok && !f.Unconfirmed {
			found[f.Part] = append(found[f.Part], e.ID)
		}
	}
	for _, part := range slices.Sorted(maps.Keys(found)) {
		if ids := found[part]; len(ids) > 1 {
			v.clash(ids, "%s was found %d times: take back what is not it", cmp.Or(part, "the vehicle"), len(ids))
		}
	}
	for _, l := range v.Progress {
		if l.Also != "" {
			v.clash(nil, "lane %d of %s was done by %s and by %s", l.Lane, l.Block, l.Also, l.By)
		}
	}
}
