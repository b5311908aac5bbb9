package field

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"windfall/cmd/windfall/internal/record"
	"windfall/drift/logbook"
	"windfall/search/track"
)

const (
	mostFixes = 100_000 // of one recording: a day of fixes every second
	looseFix  = 50.0    // m: fixes that say they are worse are left out, a choice of ours
)

// track adds a piece to a recording, and logs the recording so far as the track
// that it is: cleaned, and with its gaps, just as a file of it would be.
func (w *writer) track(s Said) (Result, error) {
	id := cmp.Or(s.Recording, s.Key)
	r := w.state.recordings[walkKey{w.who.Name, id}]
	switch {
	case len(s.Fixes) == 0:
		return s.no("a track without fixes")
	case len(id) > mostKey:
		return s.no("recording %.70q is longer than %d letters", id, mostKey)
	case r != nil && len(r.fixes)+len(s.Fixes) > mostFixes:
		return s.no("the recording has %d fixes, as many as one may have; begin another", len(r.fixes))
	}
	for i, x := range s.Fixes {
		if !(math.Abs(x.Lat) <= 90 && math.Abs(x.Lon) <= 180) || x.At.IsZero() {
			return s.no("fix %d: lat %g, lon %g at %s is no place and time", i+1, x.Lat, x.Lon,
				x.At.Format(time.RFC3339))
		}
	}
	searcher := s.Searcher
	if searcher == "" && (r == nil || r.searcher == "") {
		searcher = w.state.searcherOf(w.who.Name)
	}
	n, err := w.addNote(noteFixes, w.who.Name, s.At, fixesNote{Recording: id, Searcher: searcher, Fixes: s.Fixes})
	if err != nil {
		return Result{}, err
	}
	w.pieces = append(w.pieces, piece{w.n, w.state.recordings[walkKey{w.who.Name, id}], s.At})
	return Result{Key: s.Key, State: Logged}, w.say(s, 0, n.ID)
}

// piece is a piece of a recording that was just written; its track comes once,
// after all pieces that came together.
type piece struct {
	n  int // of the batch
	of *recording
	at time.Time
}

// tracks logs the tracks of the pieces that came.
func (w *writer) tracks(out []Result) error {
	notes := map[*recording][]string{}
	for _, p := range w.pieces {
		said, ok := notes[p.of]
		if !ok {
			var err error
			if said, err = w.logRecording(p.of, p.at); err != nil {
				return err
			}
			notes[p.of] = said
		}
		out[p.n].ID, out[p.n].Message = p.of.entry, strings.Join(said, "; ")
	}
	return nil
}

// logRecording makes the track of a recording fit its fixes, and says what was
// taken out of it.
func (w *writer) logRecording(r *recording, at time.Time) (notes []string, err error) {
	by := cmp.Or(r.searcher, r.by)
	if name, ok := w.flight.Input.Named(by); ok {
		by = name
	}
	t, dropped := r.track()
	walked, err := record.NewTrack(t, "the recording", w.flight, by, "")
	if err != nil {
		return []string{"kept, and not yet a search: " + strings.TrimPrefix(err.Error(), "the recording: ")}, nil
	}
	if dropped > 0 {
		walked.Notes = append(walked.Notes, fmt.Sprintf("%d fixes left out: they say they are more than %.0f m off",
			dropped, looseFix))
	}
	body, err := json.Marshal(walked)
	if err != nil {
		return nil, err
	}
	if e, ok := w.state.entries[r.entry]; ok {
		if e.Withdrawn {
			return []string{"kept, but this track was withdrawn: it counts for nothing"}, nil
		}
		if sameJSON(e.Body, body) {
			return walked.Notes, nil
		}
		return walked.Notes, w.amendEntry(r.entry, w.who.Name, body)
	}
	e, err := w.addEntry(string(logbook.Track), by, at, body)
	if err != nil {
		return nil, err
	}
	_, err = w.addNote(noteFixes, w.who.Name, w.now, fixesNote{Recording: r.id, Entry: e.ID})
	return walked.Notes, err
}

// track is the recording as a file of it would be read. dropped counts fixes
// that say they are too far off.
func (r *recording) track() (t *track.Track, dropped int) {
	t = &track.Track{}
	var seg []track.Fix
	cut := func() {
		if len(seg) > 0 {
			t.Segments, seg = append(t.Segments, seg), nil
		}
	}
	for _, x := range r.fixes {
		if x.Gap {
			cut()
		}
		if x.Accuracy > looseFix {
			dropped++
			continue
		}
		if n := len(seg); n > 0 && seg[n-1].Time.Equal(x.At) {
			continue // sent twice
		}
		seg = append(seg, track.Fix{At: orb.Point{x.Lon, x.Lat}, Time: x.At})
	}
	cut()
	return t, dropped
}

func lonLat(p Point) orb.Point { return orb.Point{p.Lon, p.Lat} }
