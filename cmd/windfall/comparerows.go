package main

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"windfall/cmd/windfall/internal/choice"
	"windfall/cmd/windfall/internal/flightfile"
	"windfall/drift"
	"windfall/geo"
	"windfall/geo/chance"
	"windfall/geo/grid"
	"windfall/geo/sun"
)

// variant is one row of a comparison: the flight with some keys set otherwise.
type variant struct {
	Set        map[string]string `json:"set"`
	Hour       string            `json:"hour,omitempty"` // UTC
	Places     []chance.Chance   `json:"places"`
	Difference *difference       `json:"difference"` // of the first place from the best row's, run by run; null without a field
	Landing    landingResult     `json:"landing"`
	Centre     polarResult       `json:"centre"`
	Nominal    nominalResult     `json:"nominal"`
	Wind       windResult        `json:"wind"`
	Light      sun.Light         `json:"light,omitempty"`          // when it lands; left out without a time
	LightLeft  *float64          `json:"light_left_min,omitempty"` // minutes from landing to the end of civil twilight
	Limits     []limitResult     `json:"limits"`
	Within     bool              `json:"within_limits"`

	order    int
	hour     time.Time
	settings []flightfile.Setting
	auto     bool // rail.toward is still to be found

	file     *flightfile.File
	model    *drift.Model
	landings []drift.Landing
	in       []bool  // run i came down in the field
	score    float64 // higher is better
	area     float64 // m2 of the 90 % area; NaN: not yet known
	chances  *grid.Map
}

type difference struct {
	Place       string  `json:"place"`
	Probability float64 `json:"probability"`
	SE          float64 `json:"se"`
}

type polarResult struct {
	Distance float64 `json:"distance_m"`
	Bearing  float64 `json:"bearing_deg"`
}

type windResult struct {
	Pad    windAt `json:"pad"`
	Apogee windAt `json:"apogee"`
}

type windAt struct {
	Height  float64 `json:"height_m"`
	FromDeg float64 `json:"from_deg"`
	Speed   float64 `json:"speed_mps"`
}

type limitResult struct {
	Name   string   `json:"name"`
	Value  *float64 `json:"value"` // null: it does not happen
	Limit  float64  `json:"limit"`
	Within bool     `json:"within"`
}

// flyAll flies the variants, each on one goroutine, into their own slots.
func (k *comparison) flyAll(ctx context.Context, vs []*variant, runs int) error {
	errs := make([]error, len(vs))
	var next, done atomic.Int64
	var failed atomic.Bool
	var mu sync.Mutex
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(vs)) {
		wg.Go(func() {
			for !failed.Load() {
				i := int(next.Add(1)) - 1
				if i >= len(vs) {
					return
				}
				if errs[i] = k.flyOne(ctx, vs[i], runs); errs[i] != nil {
					failed.Store(true)
				}
				if n := done.Add(1); k.note != nil {
					mu.Lock()
					k.note(int(n), len(vs))
					mu.Unlock()
				}
			}
		})
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return ctx.Err()
}

func (k *comparison) flyOne(ctx context.Context, v *variant, runs int) error {
	if v.auto {
		if err := k.turnRail(ctx, v, max(runs/4, 100)); err != nil {
			return err
		}
	}
	if err := k.ready(v, v.settings); err != nil {
		return err
	}
	if err := k.flyReady(ctx, v, runs); err != nil || !k.final {
		return err
	}
	return v.summarise()
}

// ready reads and prepares a variant.
func (k *comparison) ready(v *variant, settings []flightfile.Setting) (err error) {
	if v.file, err = flightfile.Read(k.path, settings...); err == nil {
		k.learned(v.file)
		v.file.Flight.Parts = nil // they cost time and do not move the vehicle
		v.model, err = prepare(v.file)
	}
	if err != nil {
		return wrongf("with %s: %w", settingsText(settings), err)
	}
	return nil
}

func (k *comparison) flyReady(ctx context.Context, v *variant, runs int) (err error) {
	if v.landings, err = k.draws.Fly(ctx, v.model, runs); err != nil {
		return err
	}
	v.area, v.in = math.NaN(), nil
	if v.file.Field == nil {
		if err := v.mapLandings(); err != nil {
			return err
		}
		v.score = -v.area
		return nil
	}
	field := chance.Area("field", chance.Field, v.file.Field)
	v.in = make([]bool, runs)
	n := 0
	for i, l := range v.landings {
		if v.in[i] = field.Contains(l.At); v.in[i] {
			n++
		}
	}
	v.score = float64(n) / float64(runs)
	return nil
}

func (v *variant) points() []geo.XY {
	out := make([]geo.XY, len(v.landings))
	for i, l := range v.landings {
		out[i] = l.At
	}
	return out
}

func (v *variant) mapLandings() (err error) {
	v.chances, err = grid.From(v.model.Frame(), v.points(), nil, grid.Options{})
	if err == nil {
		v.area = v.chances.Area(0.9)
	}
	return err
}

// turnRail finds the direction of rail.toward=auto with the highest score:
// twelve round the compass, then twice half the step to each side of the best.
func (k *comparison) turnRail(ctx context.Context, v *variant, runs int) error {
	settings, best, at := v.settings, math.Inf(-1), 0.0
	try := func(deg float64) error {
		deg = geo.NormDeg(deg)
		s := append(slices.Clone(settings), flightfile.Setting{Key: "rail.toward", Value: fmt.Sprintf("%g deg", deg)})
		if err := k.ready(v, s); err != nil {
			return err
		}
		if err := k.flyReady(ctx, v, runs); err != nil {
			return err
		}
		if v.score > best {
			best, at = v.score, deg
		}
		return nil
	}
	for deg := 0.0; deg < 360; deg += 30 {
		if err := try(deg); err != nil {
			return err
		}
		if v.model.Flight().Rail.LeanDeg == 0 {
			break // a vertical rail leans nowhere
		}
	}
	for step := 15.0; step > 7 && v.model.Flight().Rail.LeanDeg > 0; step /= 2 {
		from := at
		for _, side := range []float64{-step, step} {
			if err := try(from + side); err != nil {
				return err
			}
		}
	}
	v.Set["rail.toward"] = fmt.Sprintf("%g deg", at)
	v.settings = append(settings, flightfile.Setting{Key: "rail.toward", Value: v.Set["rail.toward"]})
	v.auto = false
	return nil
}

// sort puts variants best first: those within the limits and in daylight, by
// score; ties by the smaller 90 % area where known, then as asked for.
func (k *comparison) sort(vs []*variant) {
	for _, v := range vs {
		v.judge(k.limit)
	}
	slices.SortStableFunc(vs, func(a, b *variant) int {
		switch {
		case a.Within != b.Within:
			if a.Within {
				return -1
			}
			return 1
		case a.score != b.score:
			if a.score > b.score {
				return -1
			}
			return 1
		case a.area != b.area && !math.IsNaN(a.area) && !math.IsNaN(b.area):
			return cmp.Compare(a.area, b.area)
		}
		return a.order - b.order
	})
}

// judge compares the nominal flight with the limits, and its hour with the sun.
func (v *variant) judge(l speedLimits) {
	n := v.model.Nominal()
	v.Limits, v.Within = []limitResult{}, true
	add := func(name string, value float64, limit *float64, most bool) {
		if limit == nil {
			return
		}
		r := limitResult{Name: name, Value: orNull(value), Limit: *limit}
		r.Within = !math.IsNaN(value) && (value <= *limit) == most
		v.Limits = append(v.Limits, r)
		v.Within = v.Within && r.Within
	}
	add("touchdown_mps", n.LandingMps, l.touchdown, true)
	add("ejection_mps", n.EjectionMps, l.ejection, true)
	add("rail_exit_mps", n.RailExitMps, l.railExit, false)
	when := v.file.Flight.When
	if when.IsZero() {
		return
	}
	down := when.Add(time.Duration(n.LandingS * float64(time.Second)))
	pad := v.file.Flight.Site.Pad
	v.Light = sun.LightAt(down, pad)
	if dusk := sun.NextDusk(down, pad); !dusk.IsZero() && v.Light != sun.Dark {
		left := math.Round(dusk.Sub(down).Minutes())
		v.LightLeft = &left
	}
	if v.Light != sun.Daylight || sun.LightAt(when, pad) != sun.Daylight {
		v.Within = false
	}
}

// label says what sets a row apart, for people.
func (v *variant) label(k *comparison) string {
	var out []string
	if !v.hour.IsZero() {
		out = append(out, v.clock(k))
	}
	for _, a := range k.varied() {
		out = append(out, a.Key+" "+v.Set[a.Key])
	}
	if out == nil {
		return "the flight so set"
	}
	return strings.Join(out, ", ")
}

// varied returns the keys that have more than one value, or auto.
func (k *comparison) varied() []choice.Axis {
	var out []choice.Axis
	for _, a := range k.axes {
		if len(a.Values) > 1 || a.Values[0] == choice.Auto {
			out = append(out, a)
		}
	}
	return out
}

// clock is the row's hour in the flight's zone, with the date where hours of
// more than one day are compared.
func (v *variant) clock(k *comparison) string {
	first, last := k.hours[0], k.hours[len(k.hours)-1]
	if first.Format(time.DateOnly) != last.Format(time.DateOnly) {
		return v.hour.Format("2 Jan 15:04")
	}
	return v.hour.Format("15:04")
}

// settingsText says what was set, for errors.
func settingsText(settings []flightfile.Setting) string {
	var out []string
	for _, s := range settings {
		out = append(out, s.Key+"="+s.Value)
	}
	return strings.Join(out, ", ")
}
