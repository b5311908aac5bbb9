package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"time"

	"github.com/schollz/progressbar/v3"
	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/drift"
	"windfall/drift/evidence"
	"windfall/drift/logbook"
	"windfall/geo"
	"windfall/geo/chance"
	"windfall/geo/grid"
	"windfall/geo/mapfile"
	"windfall/search"
)

// situation is a flight and all that is known of where it comes down: the
// cloud of landings and the map made of it.
type situation struct {
	file    *flightfile.File
	model   *drift.Model
	cloud   *drift.Cloud
	moments grid.Moments
	counted chance.Cloud
	chances *grid.Map
	beyond  []chance.Zone // distances from the pad whose chance is asked for

	posterior *evidence.Posterior // nil: nothing seen

	shed []mapfile.Part // where shed parts lie, filled by summarise

	gone    []search.Pass   // ways of the logged tracks: gone over without a find
	covered []mapfile.Strip // the same, to be drawn
	foundBy float64         // the chance they had to find it

	begin time.Time // of the search plan; zero: not known
}

// located is the situation given everything logged about the flight so far;
// without sightings it is predicted's.
func located(c *cli.Context, e env) (*situation, error) {
	f, m, err := loadFlight(c)
	if err != nil {
		return nil, err
	}
	return situated(c, e, f, m)
}

// situated is located for a flight that has been read.
func situated(c *cli.Context, e env, f *flightfile.File, m *drift.Model) (*situation, error) {
	seen, err := logged(e, c, f.Flight.ID)
	if err != nil {
		return nil, err
	}
	runs, err := runCount(c)
	if err != nil {
		return nil, err
	}
	var post *evidence.Posterior
	logs := c.Command.Name == "found" || c.Command.Name == "searched" // what they log must not be lost to what was seen
	if len(seen) > 0 {
		post, err = evidence.Locate(c.Context, m, seen, evidence.Options{Runs: runs, Seed: c.Uint64("seed"), Divided: logs || c.Bool("divided"), Progress: e.progress("weighing")})
	}
	var contradiction *evidence.Contradiction
	if len(seen) == 0 || logs && errors.As(err, &contradiction) {
		cloud, err := m.Run(c.Context, drift.Options{Runs: runs, Seed: c.Uint64("seed"), Progress: e.progress("flying")})
		if err != nil {
			return nil, err
		}
		s, err := mapped(f, m, cloud)
		if err != nil {
			return nil, err
		}
		return s, s.searched(c, e)
	}
	if err != nil {
		return nil, err
	}
	s, err := mapped(f, m, post.Cloud)
	if err != nil {
		return nil, err
	}
	s.posterior = post
	return s, s.searched(c, e)
}

// logged returns the sightings that the logbook holds of a flight.
func logged(e env, c *cli.Context, flight string) ([]evidence.Sighting, error) {
	path := logbookPath(e, c)
	book, err := logbook.OpenRead(path)
	if err != nil {
		return nil, err
	}
	defer book.Close()
	entries, err := book.Entries(logbook.Query{Flight: flight})
	if err != nil {
		return nil, err
	}
	var seen []evidence.Sighting
	for _, x := range entries {
		s, ok, err := evidence.Decode(x.ID, x.By, string(x.Kind), x.Body)
		if err != nil {
			return nil, wrongf("%s: entry %d: %w; amend or withdraw it", path, x.ID, err)
		}
		if ok {
			seen = append(seen, s)
		}
	}
	return seen, nil
}

// predicted is the situation before launch: nothing seen.
func predicted(c *cli.Context, e env) (*situation, error) {
	f, m, err := loadFlight(c)
	if err != nil {
		return nil, err
	}
	runs, err := runCount(c)
	if err != nil {
		return nil, err
	}
	cloud, err := m.Run(c.Context, drift.Options{Runs: runs, Seed: c.Uint64("seed"), Progress: e.progress("flying")})
	if err != nil {
		return nil, err
	}
	return mapped(f, m, cloud)
}

// mapped makes the map of a cloud.
func mapped(f *flightfile.File, m *drift.Model, cloud *drift.Cloud) (*situation, error) {
	s := &situation{file: f, model: m, cloud: cloud}
	s.counted = chance.Cloud{At: make([]geo.XY, len(cloud.Landings)), Weights: cloud.Weights, Outcome: make([]int, len(cloud.Landings))}
	for i, l := range cloud.Landings {
		s.counted.At[i], s.counted.Outcome[i] = l.At, l.Outcome
	}
	for _, o := range cloud.Outcomes {
		s.counted.Names = append(s.counted.Names, o.Name)
	}
	var err error
	if s.moments, err = grid.Measure(s.counted.At, cloud.Weights); err != nil {
		return nil, err
	}
	s.chances, err = grid.From(cloud.Frame, s.counted.At, cloud.Weights, grid.Options{})
	return s, err
}

const maxRuns = 5_000_000 // a GB or so of landings

// runCount reads --runs: a number, or auto (0).
func runCount(c *cli.Context) (int, error) {
	s := c.String("runs")
	if s == "auto" || s == "" {
		return 0, nil
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < 100 || n > maxRuns {
		return 0, wrongf("--runs %q is not a number of runs; write 100 to %d, or auto", s, maxRuns)
	}
	return n, nil
}

// progress returns a callback that draws a bar on standard error when that is
// a terminal, else nil.
func (e env) progress(what string) func(done, total int) {
	if !e.terminal {
		return nil
	}
	var bar *progressbar.ProgressBar
	return func(done, total int) {
		if bar == nil {
			bar = progressbar.NewOptions(total, progressbar.OptionSetWriter(e.err), progressbar.OptionSetDescription(what), progressbar.OptionClearOnFinish())
		}
		bar.ChangeMax(total)
		bar.Set(done)
	}
}

// writeLandings writes a cloud as CSV: one landing a row.
func writeLandings(ctx context.Context, w io.Writer, c *drift.Cloud) error {
	if _, err := io.WriteString(w, "lat,lon,east_m,north_m,weight,outcome,landing_s\n"); err != nil {
		return err
	}
	total := 0.0
	for _, x := range c.Weights {
		total += x
	}
	weight := 1 / float64(len(c.Landings))
	for i := range c.Landings {
		if i%4096 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		l := &c.Landings[i]
		if c.Weights != nil {
			weight = c.Weights[i] / total
		}
		p := c.Frame.ToLonLat(l.At)
		if _, err := fmt.Fprintf(w, "%.8f,%.8f,%.3f,%.3f,%.8g,%s,%.3f\n", p.Lat(), p.Lon(), l.At.X, l.At.Y, weight, c.Outcomes[l.Outcome].Name, l.LandingS); err != nil {
			return err
		}
	}
	return nil
}
