package field

import (
	"encoding/json"
	"fmt"
	"math"

	"windfall/drift/evidence"
)

// timed sightings count from the ignition. Whatever order they come in, and
// however often the ignition is taken back and pressed again, each counts by one
// entry whose time is that from the ignition in force.

// settle makes the entries of the timed sightings fit the ignition.
func (w *writer) settle() error {
	for _, t := range w.state.timed {
		if err := w.settleOne(t); err != nil {
			return err
		}
	}
	return nil
}

func (w *writer) settleOne(t *timed) error {
	want, _, err := w.counted(t)
	if err != nil {
		want = nil // said when it was logged: it counts for nothing
	}
	e, has := w.state.entries[t.entry]
	switch {
	case has && e.Withdrawn, want == nil && !has: // taken back, here or elsewhere; or it never counted
		return nil
	case want == nil:
		if err := w.withdrawEntry(t.entry, t.by); err != nil || w.state.isBack(t.note) {
			return err
		}
		_, err = w.addNote(noteCounted, t.by, w.now, countedNote{t.note, 0})
		return err
	}
	body, err := json.Marshal(want)
	if err != nil {
		return err
	}
	if has {
		if sameJSON(e.Body, body) {
			return nil
		}
		return w.amendEntry(t.entry, t.by, body)
	}
	e, err = w.addEntry(want.Kind.Entry(), t.by, t.said.At, body)
	if err != nil {
		return err
	}
	_, err = w.addNote(noteCounted, t.by, w.now, countedNote{t.note, e.ID})
	return err
}

// counted is a timed sighting as evidence; nil with words where it cannot count
// yet.
func (w *writer) counted(t *timed) (*evidence.Sighting, string, error) {
	if w.state.isBack(t.note) {
		return nil, "it was taken back", nil
	}
	g, ok := w.state.ignitionFor(t.by)
	if !ok {
		return nil, "no ignition has been pressed yet: it counts as soon as one is", nil
	}
	s := t.said
	button, _ := buttonOf(s.Event, s.Heard)
	if s.Kind != kindTiming {
		button.Late, button.Spread = 0, 1
	}
	at := s.At.Sub(g.at).Seconds() - button.Late
	if at <= 0 {
		return nil, fmt.Sprintf("it is %.0f s before the ignition at %s: it does not count", -at,
			g.at.UTC().Format("15:04:05 UTC")), nil
	}
	sd := button.Spread
	if s.TimeSD != nil {
		sd = *s.TimeSD
	}
	start, _ := buttonOf(string(kindIgnition), false)
	if sd = math.Hypot(sd, start.Spread); g.by != t.by {
		sd = math.Hypot(sd, clocks)
	}
	m := evidence.Moment{Event: s.Event, At: hundredth(at), TimeSD: *hundredth(sd), Heard: s.Heard}
	if s.Event == lost {
		m.Event, m.At, m.After = "landing", nil, m.At
	}
	out := &evidence.Sighting{By: t.by, Note: s.Note, Sure: s.Sure}
	if s.Kind == kindTiming {
		out.Kind = evidence.Timing{Observer: observer(s), Moment: m}
		return out, "", out.Ready()
	}
	err := w.sighting(s, out, m)
	return out, "", err
}

// hundredth rounds seconds to hundredths: presses are no better.
func hundredth(v float64) *float64 {
	v = math.Round(100*v) / 100
	return &v
}

func sameJSON(a, b []byte) bool {
	var x, y any
	if json.Unmarshal(a, &x) != nil || json.Unmarshal(b, &y) != nil {
		return false
	}
	p, _ := json.Marshal(x)
	q, _ := json.Marshal(y)
	return string(p) == string(q)
}
