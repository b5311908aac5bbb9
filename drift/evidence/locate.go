package evidence

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"

	"windfall/drift"
	"windfall/geo"
)

// Options says how to locate; the zero value is ready to use.
type Options struct {
	Runs     int                   // effective runs wanted, and runs of the prior; 0: 20 000
	Most     int                   // flights at most, in all; 0: 200 000 and 10 times Runs
	Seed     uint64                // every draw comes from it
	Workers  int                   // 0: all cores; the result does not depend on it
	Divided  bool                  // give a map also when the sightings contradict each other
	Progress func(done, total int) // nil: nobody watches; total is a guess
}

// enough is the number of effective runs below which Locate adds a caution.
const enough = 2000

// Posterior is what is known after the sightings.
type Posterior struct {
	Cloud       *drift.Cloud // weighted landings; weights sum to 1
	Prior       *drift.Cloud // the same model before the sightings, unweighted
	Effective   float64      // effective runs of Cloud (Kish)
	Flights     int          // flown in all
	LogEvidence float64      // natural logarithm of the chance density of all sightings under the model
	Outcomes    []Shift
	Inputs      []InputShift
	Sightings   []Influence // by ID, then by what they say
	Cautions    []string
}

// Shift is the chance of an outcome before and after the sightings.
type Shift struct {
	Name   string
	Before float64 // as the model has it, exact
	After  float64
	SE     float64 // of After; 0 without sightings
}

// InputShift is what the sightings say of one input of the model, in standard
// deviations of its prior.
type InputShift struct {
	drift.Coord
	Mean, SD float64
}

// model is what Locate needs of a *drift.Model.
type model interface {
	Frame() geo.Frame
	Flight() drift.Flight
	Outcomes() []drift.Chance
	Coords() []drift.Coord
	Draw(seed uint64, i int, in *drift.Input)
	Fly(in drift.Input, w *drift.Work) drift.Landing
}

// Locate returns the posterior of the landing given the sightings, in any
// order. Without sightings it is the prior. A sighting that cannot be is an
// error that names it; sightings that no run explains are a *Contradiction,
// unless Options.Divided asks for the map all the same.
func Locate(ctx context.Context, m *drift.Model, seen []Sighting, o Options) (*Posterior, error) {
	return locate(ctx, m, seen, o)
}

func locate(ctx context.Context, m model, seen []Sighting, o Options) (*Posterior, error) {
	if o.Runs <= 0 {
		o.Runs = 20000
	}
	if o.Most <= 0 {
		o.Most = 200000 + 10*o.Runs
	}
	terms, err := readyAll(m, seen)
	if err != nil {
		return nil, err
	}
	s := newSampler(m, terms, o)
	before := newBatch(s.target, o.Runs)
	if err := s.fillPrior(ctx, before); err != nil {
		return nil, err
	}
	p := &Posterior{Prior: cloud(m, o, before, nil), Flights: o.Runs}
	if len(terms) == 0 {
		p.Cloud, p.Effective = p.Prior, float64(o.Runs)
		p.Outcomes = shifts(m.Outcomes(), nil)
		return p, nil
	}
	d, err := s.sample(ctx, before, o.Runs, o.Most, func(rough *weighted) error {
		c := s.contradiction(rough)
		if c == nil || o.Divided {
			return nil
		}
		c, err := s.doubted(ctx, before, c)
		if err != nil {
			return err
		}
		return c
	})
	if err != nil {
		return nil, err
	}
	if d == nil || d.eff == 0 {
		return nil, &Contradiction{Sightings: seen}
	}
	p.Cloud = cloud(m, o, d.batch, d.w)
	p.Effective, p.LogEvidence = d.eff, d.logZ
	p.Outcomes = shifts(m.Outcomes(), d.outcomes)
	p.Inputs = inputShifts(m.Coords(), d, s.dim)
	if p.Sightings, err = s.influences(ctx, d, before); err != nil {
		return nil, err
	}
	slices.SortStableFunc(p.Sightings, func(a, b Influence) int { return cmp.Compare(a.ID, b.ID) })
	p.Flights = s.flights
	p.caution()
	if d.eff < math.Min(enough, float64(o.Runs)) {
		p.Cautions = append(p.Cautions,
			fmt.Sprintf("only %.0f effective runs after %d flights: the sightings lie far from what the flight file "+
				"allows; areas and chances are rough", d.eff, s.flights))
	}
	return p, nil
}

// caution says which sightings disagree with the rest.
func (p *Posterior) caution() {
	for i := range p.Sightings {
		in := &p.Sightings[i]
		if in.Wrong <= 0.5 {
			continue
		}
		say := ": chance %.2f that it is a mistake; check it, amend it or withdraw it"
		if k, ok := in.Kind.(interface{ disagrees() string }); ok {
			say = k.disagrees()
		}
		p.Cautions = append(p.Cautions, fmt.Sprintf("sighting %s disagrees with the rest"+say, in.label(), in.Wrong))
	}
}

// readyAll makes the terms, in an order of their own so that the order in
// which sightings were logged changes no bit of the result.
func readyAll(m model, seen []Sighting) ([]*term, error) {
	var terms []*term
	for _, s := range seen {
		t, err := ready(s, m)
		if err != nil {
			return nil, err
		}
		terms = append(terms, t)
	}
	slices.SortStableFunc(terms, func(a, b *term) int { return cmp.Compare(a.order(), b.order()) })
	return terms, nil
}

// order is a text that sorts sightings by what they say alone.
func (t *term) order() string {
	s := t.Sighting
	s.Note, s.Said, s.Picture = "", "", nil
	b, err := json.Marshal(s)
	if err != nil {
		panic(err) // a Sighting that Ready let through has no NaN
	}
	return t.Kind.Name() + string(b)
}

// landingFeatures are the features of every run: its place and time of landing, and its apogee.
const landingFeatures = 4

func newSampler(m model, terms []*term, o Options) *sampler {
	t := &target{m: m, terms: terms, dim: len(m.Coords()), draw: m.Draw, np: len(m.Flight().Parts)}
	for _, c := range m.Outcomes() {
		t.chances = append(t.chances, c.P)
	}
	t.nf = landingFeatures
	record := false
	for _, s := range terms {
		t.wrong = append(t.wrong, s.wrong)
		t.nf += s.features()
		record = record || s.recorded()
	}
	t.worker = func() flyFunc {
		w := &drift.Work{Record: record}
		return func(in drift.Input, r *run) {
			r.landing = m.Fly(in, w)
			l := &r.landing
			copy(r.parts, w.Parts)
			copy(r.f, []float64{l.At.X, l.At.Y, l.LandingS, l.ApogeeM})
			n := landingFeatures
			for i, s := range terms {
				r.right[i] = s.likelihood(l, w)
				s.feature(l, w, r.f[n:])
				n += s.features()
			}
		}
	}
	s := &sampler{target: t, seed: o.Seed, workers: cores(o.Workers)}
	if o.Progress != nil {
		s.done = func(n int) { o.Progress(n, max(n, 5*o.Runs)) }
	}
	return s
}

// cloud returns the runs of b as the model's own Run would.
func cloud(m model, o Options, b batch, w []float64) *drift.Cloud {
	c := &drift.Cloud{Frame: m.Frame(), Landings: make([]drift.Landing, len(b)), Weights: w, Outcomes: m.Outcomes(),
		Seed: o.Seed}
	for i := range b {
		c.Landings[i] = b[i].landing
	}
	parts := m.Flight().Parts
	for k, p := range parts {
		pc := drift.PartCloud{Name: p.Name, Chance: p.Chance}
		for i := range b {
			if l := b[i].parts[k]; l.Shed {
				pc.Run = append(pc.Run, i)
				pc.Landings = append(pc.Landings, l)
			}
		}
		c.Parts = append(c.Parts, pc)
	}
	return c
}

// shifts puts the outcomes' chances before beside those after; after nil
// means nothing was seen.
func shifts(names []drift.Chance, after []chance) []Shift {
	out := make([]Shift, len(names))
	for k, c := range names {
		out[k] = Shift{Name: c.Name, Before: c.P, After: c.P}
		if after != nil {
			out[k].After, out[k].SE = after[k].p, after[k].se
		}
	}
	return out
}

func inputShifts(coords []drift.Coord, d *weighted, dim int) []InputShift {
	out := make([]InputShift, dim)
	for j := range out {
		mean, sq := 0.0, 0.0
		for i, w := range d.w {
			v := d.batch[i].z[j]
			mean += w * v
			sq += w * v * v
		}
		out[j] = InputShift{coords[j], mean, math.Sqrt(math.Max(0, sq-mean*mean))}
	}
	return out
}
