package record

import (
	"context"
	"slices"

	"windfall/drift/learn"
)

// Learn learns from all lessons, and once more where flights never found were seen
// by people who turn out to be known. plain: everybody is taken as anybody.
// Where nothing is left to learn from, what was learned before is forgotten.
func (l *Lessons) Learn(ctx context.Context, plain bool, o learn.Options) (*learn.Result, error) {
	if l.Nothing() {
		return &learn.Result{Verdict: []string{"nothing is left to learn from: maps are as before learning"}}, nil
	}
	r, err := l.fit(ctx, o)
	if err != nil {
		return nil, err
	}
	if plain {
		r.Observers = nil
		return r, nil
	}
	heard, err := l.hear(r)
	if err != nil || heard == 0 {
		return r, err
	}
	if r, err = l.fit(ctx, o); err != nil {
		return nil, err
	}
	r.Heard = heard
	return r, nil
}

func (l *Lessons) fit(ctx context.Context, o learn.Options) (*learn.Result, error) {
	post, err := learn.Fit(ctx, l.Cases, l.Measured, o)
	if err != nil {
		return nil, err
	}
	return post.Report(ctx, o)
}

// hear takes what people saw of flights never found with what r knows of their
// sightings, as the maps of such flights do, and returns of how many flights.
func (l *Lessons) hear(r *learn.Result) (flights int, err error) {
	for i, x := range l.lost {
		logged := x.logged
		logged.Seen = slices.Clone(logged.Seen)
		if len(r.Correct(logged.Seen)) == 0 {
			continue
		}
		c, err := learn.NewCase(x.model, logged)
		if err != nil {
			return 0, err
		}
		was := &l.Cases[i]
		c.Flight, c.PlaceTitle, c.VehicleTitle = was.Flight, was.PlaceTitle, was.VehicleTitle
		l.Cases[i] = c
		flights++
	}
	return flights, nil
}
