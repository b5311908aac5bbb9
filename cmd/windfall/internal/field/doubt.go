package field

import (
	"context"
	"errors"
	"strings"

	"windfall/cmd/windfall/internal/record"
	"windfall/drift/evidence"
)

// mostDoubts is how many sightings of one batch are held against the flight: it
// takes a moment each, and a long queue is answered without.
const mostDoubts = 3

// Doubt adds to the results of a batch what is odd about its sightings: one that
// no simulated flight comes near is logged all the same, and said.
func (f *Field) Doubt(ctx context.Context, fl *record.Flight, results []Result) error {
	looked := 0
	for i, r := range results {
		s, ok := f.sighting(r)
		if !ok {
			continue
		}
		if looked++; looked > mostDoubts {
			return nil
		}
		caution, err := evidence.Check(ctx, fl.Input.Model, s, evidence.Options{Seed: 1})
		var cannot *evidence.OutOfReach
		switch {
		case errors.As(err, &cannot):
			caution = cannot.Error()
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil:
			caution = err.Error()
		}
		if caution != "" {
			results[i].Message = strings.TrimPrefix(r.Message+"; it is logged, but "+caution, "; ")
		}
	}
	return nil
}

// sighting is the one that a result is of, if it was logged now.
func (f *Field) sighting(r Result) (evidence.Sighting, bool) {
	if r.ID == 0 || r.State != Logged {
		return evidence.Sighting{}, false
	}
	f.mu.Lock()
	e := f.state.entries[r.ID]
	f.mu.Unlock()
	if e.Withdrawn {
		return evidence.Sighting{}, false
	}
	s, ok, err := evidence.Decode(e.ID, e.By, string(e.Kind), e.Body)
	return s, ok && err == nil
}
