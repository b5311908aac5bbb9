package record

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/measured"
	"windfall/drift/learn"
	"windfall/drift/logbook"
)

// Learning is what a logbook has learned. A nil Learning is nothing.
type Learning struct {
	id     int64
	result learn.Result
	stale  bool // what teaches has changed since
	anyway bool // used though it is withheld

	measured measured.All
	cautions []string // of measurements that cannot be read
}

// LastLearned reads the learning in use; nil when nothing was learned, or where
// the source leaves it out.
func LastLearned(src Source) (*Learning, error) {
	if src.NoLearning {
		return nil, nil
	}
	b, err := logbook.OpenRead(src.Logbook)
	if err != nil {
		return nil, err
	}
	defer b.Close()
	l := &Learning{anyway: src.Withheld}
	if l.measured, l.cautions, err = measurements(b); err != nil {
		return nil, err
	}
	last, err := b.LatestLearned()
	if err != nil || last == nil {
		return l, err
	}
	l.id = last.ID
	if err := json.Unmarshal(last.Result, &l.result); err != nil {
		return nil, fmt.Errorf("learning %d of the logbook cannot be read (%v); run 'windfall learn' again", last.ID, err)
	}
	now, err := digest(b)
	l.stale = now != last.Finds || l.result.Flights > 0 && !l.result.Saw(l.measured.ForLearning())
	return l, err
}

// Apply puts the learning into a flight that has been read, and says so in it.
func (l *Learning) Apply(f *flightfile.File) {
	if l == nil {
		return
	}
	f.Warnings = append(f.Warnings, l.cautions...)
	l.applyFinds(f)
	found := l.result
	if f.Learned.ID == 0 {
		found = learn.Result{}
	}
	l.measured.Use(f, &found)
}

// Measured is what was measured and counts, in the order it was logged.
func (l *Learning) Measured() measured.All {
	if l == nil {
		return nil
	}
	return l.measured
}

// applyFinds puts in what finds have taught.
func (l *Learning) applyFinds(f *flightfile.File) {
	if l.id == 0 {
		return
	}
	if l.result.Withheld && !l.anyway {
		f.Warnings = append(f.Warnings, "what the finds taught is not used: on finds left out "+
			"it scores worse than no learning; windfall learn --anyway uses it all the same")
		return
	}
	used := l.result.Apply(&f.Flight)
	if len(used) == 0 {
		return
	}
	f.Learned = flightfile.Learned{ID: l.id, Finds: l.result.Finds, Used: used}
	if l.stale {
		f.Warnings = append(f.Warnings, "what the logbook teaches has changed since the last learning; run windfall learn")
	}
}

// AddLearned stores a result of learning from the finds with a digest, and
// returns its number.
func AddLearned(path, digest string, r *learn.Result, st Stamp) (int64, error) {
	text, err := json.Marshal(r)
	if err != nil {
		return 0, err
	}
	b, err := logbook.Open(path)
	if err != nil {
		return 0, err
	}
	defer b.Close()
	return b.PutLearned(logbook.Learned{When: st.Now, Version: st.Version, Seed: st.Seed, Finds: digest, Result: text})
}

// digest is that of all that teaches of flights that were found, by which a
// learning tells whether it has seen it all. What comes in of a flight that is
// being looked for is no reason to learn anew.
func digest(b *logbook.Book) (string, error) {
	flights, err := byFlight(b)
	if err != nil {
		return "", err
	}
	h := sha256.New()
	for _, entries := range flights {
		if slices.ContainsFunc(entries, func(e logbook.Entry) bool { return e.Kind == logbook.Find }) {
			for _, e := range entries {
				fmt.Fprintln(h, e.ID, e.Revision)
			}
		}
	}
	return hex.EncodeToString(h.Sum(nil)[:8]), nil
}
