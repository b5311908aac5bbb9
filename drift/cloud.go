package drift

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"

	"windfall/geo"
)

// Options of Run. The zero value runs until the map is known well enough, from
// seed 0, on all processors.
type Options struct {
	Runs     int    // 0: auto, see Run
	Seed     uint64 // same seed, same cloud, on any number of workers
	Workers  int    // 0: all processors
	Progress func(done, total int)
}

// Cloud is what the runs gave.
type Cloud struct {
	Frame    geo.Frame
	Landings []Landing
	Weights  []float64 // of each landing; nil: equal
	Outcomes []Chance  // prior chances; Landing.Outcome counts in it
	Parts    []PartCloud
	Seed     uint64
}

// PartCloud is where a shed part comes down, one landing a run in which the
// flight lasted until it came off; its Chance is not in the cloud.
type PartCloud struct {
	Name     string
	Chance   float64
	Run      []int // of each landing, index in Cloud.Landings
	Landings []PartLanding
}

// Weight returns the weight of run i; 1 when all are equal.
func (c *Cloud) Weight(i int) float64 {
	if c.Weights == nil {
		return 1
	}
	return c.Weights[i]
}

// Points returns where the runs come down that keep says yes to, nil for all
// of them, and their weights, nil when all are equal.
func (c *Cloud) Points(keep func(*Landing) bool) (at []geo.XY, weights []float64) {
	at = make([]geo.XY, 0, len(c.Landings))
	for i := range c.Landings {
		if keep != nil && !keep(&c.Landings[i]) {
			continue
		}
		at = append(at, c.Landings[i].At)
		if c.Weights != nil {
			weights = append(weights, c.Weights[i])
		}
	}
	return at, weights
}

// PartPoints returns where a part of the cloud comes down, and the weights of
// its landings, nil when all are equal.
func (c *Cloud) PartPoints(p PartCloud) (at []geo.XY, weights []float64) {
	at = make([]geo.XY, len(p.Landings))
	for i, l := range p.Landings {
		at[i] = l.At
		if c.Weights != nil {
			weights = append(weights, c.Weights[p.Run[i]])
		}
	}
	return at, weights
}

// OffTerrain returns how many runs came down where the terrain has no
// elevation and flat ground at pad elevation was taken.
func (c *Cloud) OffTerrain() (n int) {
	for i := range c.Landings {
		if c.Landings[i].OffTerrain {
			n++
		}
	}
	return n
}

// Sizes of an automatic run and the share of the semi-axes at which it stops.
const (
	autoFirst = 4096
	autoMost  = 200000
	autoShare = 0.01
)

// chunk is how many runs a worker takes at a time.
const chunk = 64

// Run flies Options.Runs runs. With Runs 0 it goes on until the standard error
// of both one-sigma semi-axes is 1 % of them or 200 000 runs are flown. It
// returns ctx's error when it is cancelled.
func (m *Model) Run(ctx context.Context, o Options) (*Cloud, error) {
	c := &Cloud{Frame: m.frame, Outcomes: m.outcomes, Seed: o.Seed}
	parts := make([][]PartLanding, len(m.parts))
	grow := func(n int) error {
		from := len(c.Landings)
		c.Landings = append(make([]Landing, 0, n), c.Landings...)[:n]
		for k := range parts {
			parts[k] = append(make([]PartLanding, 0, n), parts[k]...)[:n]
		}
		return m.flyRange(ctx, o, from, c.Landings, parts)
	}
	if o.Runs > 0 {
		if err := grow(o.Runs); err != nil {
			return nil, err
		}
	}
	for n := autoFirst; o.Runs <= 0; n = min(2*n, autoMost) {
		if err := grow(n); err != nil {
			return nil, err
		}
		if s := c.Scatter(nil); n == autoMost || s.SemiMajorSE <= autoShare*s.SemiMajor &&
			s.SemiMinorSE <= autoShare*s.SemiMinor {
			break
		}
	}
	for k, p := range m.parts {
		pc := PartCloud{Name: p.Name, Chance: p.Chance}
		for i, l := range parts[k] {
			if l.Shed {
				pc.Run = append(pc.Run, i)
				pc.Landings = append(pc.Landings, l)
			}
		}
		c.Parts = append(c.Parts, pc)
	}
	return c, nil
}

// flyRange flies runs from..len(out) into their slots.
func (m *Model) flyRange(ctx context.Context, o Options, from int, out []Landing, parts [][]PartLanding) error {
	workers := o.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	var next atomic.Int64
	next.Store(int64(from))
	var mu sync.Mutex
	done := from
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			var w Work
			var in Input
			for ctx.Err() == nil {
				lo := int(next.Add(chunk)) - chunk
				if lo >= len(out) {
					return
				}
				hi := min(lo+chunk, len(out))
				for i := lo; i < hi; i++ {
					m.Draw(o.Seed, i, &in)
					out[i] = m.Fly(in, &w)
					for k := range parts {
						parts[k][i] = w.Parts[k]
					}
				}
				if o.Progress != nil {
					mu.Lock()
					done += hi - lo
					o.Progress(done, len(out))
					mu.Unlock()
				}
			}
		})
	}
	wg.Wait()
	return ctx.Err()
}
