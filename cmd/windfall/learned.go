package main

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/drift/learn"
	"windfall/drift/logbook"
)

// learnedResult says in a map's output what finds have put into it.
type learnedResult struct {
	ID    int64    `json:"id"` // of the learning in the logbook
	Finds int      `json:"finds"`
	Used  []string `json:"used"`
}

// useLearned puts what the logbook has learned into the flight of f, unless
// the command has --no-learning. It says so among the file's assumptions.
func useLearned(c *cli.Context, f *flightfile.File) error {
	put, err := lastLearned(c)
	if err == nil {
		put(f)
	}
	return err
}

// lastLearned reads the logbook once and returns what puts its learning into a
// flight, for commands with many variants of one.
func lastLearned(c *cli.Context) (put func(*flightfile.File), err error) {
	nothing := func(*flightfile.File) {}
	if c.Bool("no-learning") {
		return nothing, nil
	}
	b, err := logbook.OpenRead(logbookPath(env{getenv: os.Getenv}, c))
	if err != nil {
		return nil, err
	}
	defer b.Close()
	l, err := b.LatestLearned()
	if err != nil || l == nil {
		return nothing, err
	}
	var r learn.Result
	if err := json.Unmarshal(l.Result, &r); err != nil {
		return nil, fmt.Errorf("learning %d of the logbook cannot be read (%v); run 'windfall learn' again", l.ID, err)
	}
	_, digest, err := liveFinds(b)
	if err != nil {
		return nil, err
	}
	return func(f *flightfile.File) {
		used := r.Apply(&f.Flight)
		if len(used) == 0 {
			return
		}
		f.Learned = flightfile.Learned{ID: l.ID, Finds: r.Finds, Used: used}
		if digest != l.Finds {
			f.Warnings = append(f.Warnings, "the finds in the logbook have changed since the last learning; run windfall learn")
		}
	}, nil
}

// learnedOf is the output's part about learning, nil for none.
func learnedOf(f *flightfile.File) *learnedResult {
	if f.Learned.ID == 0 {
		return nil
	}
	return &learnedResult{f.Learned.ID, f.Learned.Finds, f.Learned.Used}
}

// liveFinds returns the finds that count and their digest, by which a learning
// tells whether it has seen them all.
func liveFinds(b *logbook.Book) ([]logbook.Entry, string, error) {
	finds, err := b.Entries(logbook.Query{Kinds: []logbook.Kind{logbook.Find}})
	if err != nil {
		return nil, "", err
	}
	h := sha256.New()
	for _, e := range finds {
		fmt.Fprintln(h, e.ID, e.Revision)
	}
	return finds, hex.EncodeToString(h.Sum(nil)[:8]), nil
}
