package compare

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	"windfall/drift"
	"windfall/geo"
	"windfall/geo/chance"
	"windfall/geo/grid"
	"windfall/geo/sun"
)

// Row is one variant: the flight with some keys set otherwise, and where it
// comes down.
type Row struct {
	Flight
	Set   map[string]string // by key, as tried; a direction that was found in place of Auto
	Hour  time.Time         // zero: the flight's own
	Label string            // what sets it apart, for people

	Landings []drift.Landing
	In       []bool          // whether run i came down in the field; nil: no field
	Map      *grid.Map       // of the landings
	Area     float64         // m2, the 90 % area
	Moments  grid.Moments    // of the landings
	Places   []chance.Chance // the field first, where there is one
	Wind     Winds
	Marks    []string // what the flight as designed breaks, a word or two each: "lands hard"

	Difference *Difference // of the first place from the best row's, run by run; nil without a field

	Limits    []Check
	Light     sun.Light // when it lands; empty: time not known
	LightLeft *float64  // minutes from landing to the end of civil twilight; nil: dark, or not known
	Within    bool      // the limits, in daylight

	order    int // as asked for
	settings []Setting
	turn     bool    // rail.toward is still to be found
	score    float64 // higher is better
}

// Winds are those of the likeliest wind choice at 10 m, where weather services
// measure the surface wind (WMO-No. 8), and at the apogee as designed.
type Winds struct {
	Pad    Wind `json:"pad"`
	Apogee Wind `json:"apogee"`
}

// Wind is the mean wind at a height above the pad.
type Wind struct {
	Height  float64 `json:"height_m"`
	FromDeg float64 `json:"from_deg"`
	Speed   float64 `json:"speed_mps"`
}

const padWindHeight = 10.0 // m

func windOver(m *drift.Model, z float64) Wind {
	speed, from := m.MainWind(z)
	return Wind{z, from, speed}
}

// Difference is of a chance from the best row's, over the paired runs.
type Difference struct {
	Place       string  `json:"place"`
	Probability float64 `json:"probability"`
	SE          float64 `json:"se"`
}

// each does every row once, on as many goroutines as there are workers; the
// error is that of the first row that has one.
func (e *engine) each(ctx context.Context, rows []*Row, do func(*Row) error) error {
	errs := make([]error, len(rows))
	var next, done atomic.Int64
	var failed atomic.Bool
	var mu sync.Mutex
	var wg sync.WaitGroup
	for range e.workers(len(rows)) {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < len(rows) && !failed.Load(); i = int(next.Add(1)) - 1 {
				if errs[i] = do(rows[i]); errs[i] != nil {
					failed.Store(true)
				}
				if n := done.Add(1); e.o.Progress != nil {
					mu.Lock()
					e.o.Progress(int(n), len(rows))
					mu.Unlock()
				}
			}
		})
	}
	wg.Wait()
	for _, err := range errs { // a row is begun after those before it: the first error is always the same
		if err != nil {
			return err
		}
	}
	return ctx.Err()
}

func (e *engine) workers(rows int) int {
	n := e.o.Workers
	if n <= 0 {
		n = runtime.GOMAXPROCS(0)
	}
	return min(n, rows)
}

// flyRow turns the rail where that is asked for, makes the row's flight and
// flies it.
func (e *engine) flyRow(ctx context.Context, r *Row, runs int) error {
	if r.turn {
		if err := e.turnRail(ctx, r, max(runs/turnShare, turnLeast)); err != nil {
			return err
		}
	}
	return e.try(ctx, r, r.settings, runs)
}

// try makes the row's flight with settings, flies it and scores it.
func (e *engine) try(ctx context.Context, r *Row, settings []Setting, runs int) (err error) {
	if r.Flight, err = e.in.Vary(settings); err != nil {
		return fmt.Errorf("with %s: %w", inWords(settings), err)
	}
	if r.Landings, err = e.fly(ctx, r.Model, runs); err != nil {
		return err
	}
	return r.rate()
}

// rate scores the landings: by the chance of the field, else by the 90 % area,
// which is made only where it is needed.
func (r *Row) rate() error {
	r.Area, r.Map, r.In = math.NaN(), nil, nil
	if r.Field == nil {
		err := r.chart()
		r.score = -r.Area
		return err
	}
	field := chance.Area("field", chance.Field, r.Field)
	r.In = make([]bool, len(r.Landings))
	n := 0
	for i, l := range r.Landings {
		if r.In[i] = field.Contains(l.At); r.In[i] {
			n++
		}
	}
	r.score = float64(n) / float64(len(r.Landings))
	return nil
}

// chart makes the map of the landings.
func (r *Row) chart() (err error) {
	if r.Map, err = grid.From(r.Model.Frame(), r.points(), nil, grid.Options{}); err == nil {
		r.Area = r.Map.Area(0.9)
	}
	return err
}

func (r *Row) points() []geo.XY {
	out := make([]geo.XY, len(r.Landings))
	for i, l := range r.Landings {
		out[i] = l.At
	}
	return out
}

// summarise fills what a row of the table shows.
func (r *Row) summarise() (err error) {
	if r.Map == nil {
		if err := r.chart(); err != nil {
			return err
		}
	}
	cloud := chance.Cloud{At: r.points(), Outcome: make([]int, len(r.Landings))}
	for i, l := range r.Landings {
		cloud.Outcome[i] = l.Outcome
	}
	for _, o := range r.Model.Outcomes() {
		cloud.Names = append(cloud.Names, o.Name)
	}
	if r.Moments, err = grid.Measure(cloud.At, nil); err != nil {
		return err
	}
	r.Marks = r.Model.Marks()
	r.Wind = Winds{windOver(r.Model, padWindHeight), windOver(r.Model, r.Model.Nominal().ApogeeM)}
	r.Places = []chance.Chance{}
	for _, z := range chance.Zones(r.Field, r.Ground) {
		r.Places = append(r.Places, cloud.Of(z))
	}
	if c := r.Model.Flight().Site.Ceiling; c != nil {
		above := func(i int) bool { return r.Landings[i].ApogeeM > *c }
		r.Places = append(r.Places, cloud.Event("above ceiling", chance.Ceiling, above))
	}
	return nil
}

// against fills the difference from the best row.
func (r *Row) against(best *Row) {
	if r.In != nil {
		p, se := chance.Difference(r.In, best.In)
		r.Difference = &Difference{"field", p, se}
	}
}
