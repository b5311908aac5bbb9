package record

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/paulmach/orb"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/drift/learn"
	"windfall/drift/logbook"
)

// Finds is what a logbook offers to learn from.
type Finds struct {
	Cases   []learn.Case
	LeftOut []string // why a find could not be used, a sentence each
	Digest  string   // of all finds
}

// LearnFrom turns the logbook's finds of vehicles into cases: the last find of
// a flight, with the inputs stored when it was logged, or the flight's latest.
func LearnFrom(ctx context.Context, path string) (*Finds, error) {
	b, err := logbook.OpenRead(path)
	if err != nil {
		return nil, err
	}
	defer b.Close()
	finds, digest, err := liveFinds(b)
	if err != nil {
		return nil, err
	}
	dir, err := os.MkdirTemp("", "windfall-learn-*")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	out := &Finds{Digest: digest}
	for i, f := range lastFinds(finds) {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		at := filepath.Join(dir, fmt.Sprint(i))
		c, err := findCase(b, f, at)
		if err != nil {
			out.LeftOut = append(out.LeftOut, fmt.Sprintf("%s (entry %d): %s", f.Flight, f.ID,
				strings.ReplaceAll(err.Error(), at+"/", "stored ")))
			continue
		}
		out.Cases = append(out.Cases, c)
	}
	return out, nil
}

// lastFinds keeps the last find of each flight's vehicle, flights in the order
// of their first: the find of a part places the part.
func lastFinds(finds []logbook.Entry) []logbook.Entry {
	last := map[string]int{}
	var use []logbook.Entry
	for _, f := range finds {
		var body Find
		if err := json.Unmarshal(f.Body, &body); err != nil || body.Part != "" {
			continue
		}
		if i, ok := last[f.Flight]; ok {
			use[i] = f
			continue
		}
		last[f.Flight] = len(use)
		use = append(use, f)
	}
	return use
}

// findCase makes a case of a find, its inputs written to dir to be read again.
func findCase(b *logbook.Book, f logbook.Entry, dir string) (learn.Case, error) {
	in, err := inputsInForce(b, f)
	if err != nil {
		return learn.Case{}, err
	}
	main, err := WriteInputs(in, dir)
	if err != nil {
		return learn.Case{}, err
	}
	file, err := flightfile.Read(main)
	if err != nil {
		return learn.Case{}, err
	}
	m, err := file.Model()
	if err != nil {
		return learn.Case{}, err
	}
	p, ok := f.Geometry().(orb.Point)
	if !ok {
		return learn.Case{}, errors.New("the entry has no place")
	}
	var body Find
	if err := json.Unmarshal(f.Body, &body); err != nil {
		return learn.Case{}, err
	}
	c := learn.NewCase(m, m.Frame().ToXY(p), body.Outcome)
	c.Flight, c.PlaceTitle, c.VehicleTitle = f.Flight, file.Names.Site, file.Names.Vehicle
	return c, nil
}

// inputsInForce returns the inputs stored with an entry, or the flight's latest.
func inputsInForce(b *logbook.Book, f logbook.Entry) (*logbook.Inputs, error) {
	id := f.Inputs
	if id == 0 {
		all, err := b.FlightInputs(f.Flight)
		if err != nil {
			return nil, err
		}
		if len(all) == 0 {
			return nil, errors.New("its flight file is not in the logbook; log the find with 'windfall found FLIGHT LAT,LON'")
		}
		id = all[len(all)-1].ID
	}
	return b.Inputs(id)
}
