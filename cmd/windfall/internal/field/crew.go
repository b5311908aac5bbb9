package field

import (
	"time"
)

// laneKey names a lane of a plan.
type laneKey struct {
	block string
	lane  int
}

// LaneState is what was last said of a lane.
type LaneState struct {
	Key   string    `json:"key"`
	Plan  int       `json:"plan"`
	Block string    `json:"block"`
	Lane  int       `json:"lane"`
	State string    `json:"state"` // done or skipped
	By    string    `json:"by"`
	At    time.Time `json:"at"`
	Also  string    `json:"also,omitempty"` // somebody else who said done of it
	Note  string    `json:"note,omitempty"`
}

// lanes returns what was last said, by the time it was said, of the lanes of a
// plan; those that are open again are left out.
func (s *state) lanes(plan int) map[laneKey]LaneState {
	out := map[laneKey]LaneState{}
	for _, n := range s.lane {
		b := n.body
		if s.isBack(n.note) || b.Plan != plan {
			continue
		}
		k := laneKey{b.Block, b.Lane}
		was, ok := out[k]
		now := LaneState{s.noted[n.note], b.Plan, b.Block, b.Lane, b.State, n.by, n.at, was.Also, b.Note}
		switch {
		case ok && n.at.Before(was.At):
			now, was = was, now
		case !ok:
			was = LaneState{}
		}
		if now.State == "open" {
			now.Also = ""
		} else if was.State == "done" && now.State == "done" && was.By != now.By {
			now.Also = was.By
		}
		out[k] = now
	}
	for k, l := range out {
		if l.State == "open" {
			delete(out, k)
		}
	}
	return out
}

// CrewState is where a searcher stands.
type CrewState struct {
	Name  string     `json:"name"`
	State string     `json:"state"` // expected, in, late or left
	By    string     `json:"by,omitempty"`
	At    *time.Time `json:"at,omitempty"` // of the state
	Late  float64    `json:"late_min,omitempty"`
}

// crew returns what was last said of searchers, by the time it was said; those
// of whom nothing was said are left out.
func (s *state) crew() map[string]CrewState {
	out := map[string]CrewState{}
	for _, n := range s.crewed {
		b := n.body
		if s.isBack(n.note) {
			continue
		}
		was := out[b.Searcher]
		if was.At != nil && n.at.Before(*was.At) {
			continue
		}
		now := CrewState{Name: b.Searcher, By: was.By, At: &n.at, Late: b.Minutes}
		switch now.State = "late"; b.kind {
		case kindArrive:
			now.State, now.By = "in", n.by
		case kindLeave:
			now.State, now.By = "left", ""
		}
		out[b.Searcher] = now
	}
	return out
}

// searcherOf returns whom somebody searches as; "": nobody.
func (s *state) searcherOf(person string) string {
	name, at := "", time.Time{}
	for _, c := range s.crew() {
		if c.By == person && c.State != "left" && !c.At.Before(at) {
			name, at = c.Name, *c.At
		}
	}
	return name
}
