package evidence

import (
	"context"
	"math"
	"math/rand/v2"
	"runtime"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/floats"

	"windfall/drift"
	"windfall/drift/internal/stream"
)

// target is what is sampled: outcomes with their prior chances, standard
// normal inputs, and what a run of them says of each sighting.
type target struct {
	m       model
	terms   []*term // the sightings
	chances []float64
	dim     int       // inputs
	nf      int       // features
	np      int       // parts
	wrong   []float64 // of each sighting, see term
	worker  func() flyFunc
	draw    func(seed uint64, i int, in *drift.Input)
}

// flyFunc flies in and fills the landing, parts, features and right of r.
type flyFunc func(in drift.Input, r *run)

// run is one flight, and what it says of the sightings.
type run struct {
	k       int       // outcome
	z       []float64 // inputs
	f       []float64 // features
	right   []float64 // log-likelihood of each sighting, times the chance that it is right
	ll      float64   // log-likelihood of all sightings
	logq    float64   // log of proposal over prior, given the outcome
	landing drift.Landing
	parts   []drift.PartLanding
}

// batch is a set of runs. A run that was flown does not change any more, so
// batches may share their inner slices.
type batch []run

// newBatch makes n empty runs.
func newBatch(t *target, n int) batch {
	b, ns := make(batch, n), len(t.wrong)
	floats, parts := make([]float64, n*(t.dim+t.nf+ns)), make([]drift.PartLanding, n*t.np)
	cut := func(n int) (s []float64) {
		s, floats = floats[:n:n], floats[n:]
		return s
	}
	for i := range b {
		r := &b[i]
		r.z, r.f, r.right = cut(t.dim), cut(t.nf), cut(ns)
		r.parts, parts = parts[:t.np:t.np], parts[t.np:]
	}
	return b
}

// of sets the outcome of all runs.
func (b batch) of(k int) batch {
	for i := range b {
		b[i].k = k
	}
	return b
}

// weigh adds up what a run says of the sightings.
func (r *run) weigh(wrong []float64) {
	r.ll = 0
	for i, v := range r.right {
		r.ll += logAdd(v, wrong[i])
	}
}

// sampler draws batches and counts the flights it took.
type sampler struct {
	*target
	seed    uint64
	workers int
	flights int
	done    func(flights int) // nil: nobody watches
}

// parallel does jobs 0..n-1 on as many goroutines as there are workers, each with
// a sampler of its own that has one; their flights are added to s.
func (s *sampler) parallel(n int, do func(one *sampler, k int)) {
	var next, flights atomic.Int64
	var wg sync.WaitGroup
	for range min(n, s.workers) {
		wg.Go(func() {
			one := &sampler{target: s.target, seed: s.seed, workers: 1}
			for k := int(next.Add(1)) - 1; k < n; k = int(next.Add(1)) - 1 {
				do(one, k)
			}
			flights.Add(int64(one.flights))
		})
	}
	wg.Wait()
	s.flights += int(flights.Load())
}

// proposals gives the proposal of each outcome; nil entries are not drawn.
type proposals []*mixture

// fill draws and flies runs of b whose outcomes are set: run i has its inputs
// from generator i of the stream.
func (s *sampler) fill(ctx context.Context, b batch, q proposals, from stream.Stream) error {
	return s.fillAfter(ctx, b, q, from, 0)
}

// fillAfter leaves the first runs of b as they are.
func (s *sampler) fillAfter(ctx context.Context, b batch, q proposals, from stream.Stream, first int) error {
	return s.each(ctx, b, first, func(i int, w *drawing) drift.Input {
		from.Seed(w.pcg, s.seed, uint64(i))
		r := &b[i]
		m := q[r.k]
		m.draw(w.rng, r.z, w.scratch)
		r.logq = m.logRatio(r.z, w.scratch)
		return drift.Input{Outcome: r.k, Z: r.z}
	})
}

// fillPrior draws and flies the runs of b as the model itself does.
func (s *sampler) fillPrior(ctx context.Context, b batch) error {
	return s.each(ctx, b, 0, func(i int, w *drawing) drift.Input {
		s.draw(s.seed, i, &w.in)
		b[i].k = w.in.Outcome
		copy(b[i].z, w.in.Z)
		return w.in
	})
}

// drawing is a worker's own room.
type drawing struct {
	pcg     *rand.PCG
	rng     *rand.Rand
	scratch []float64
	in      drift.Input
}

// each flies the runs of b from first on, on all workers; one of them writes a run.
func (s *sampler) each(ctx context.Context, b batch, first int, draw func(i int, w *drawing) drift.Input) error {
	const chunk = 64
	var next atomic.Int64
	next.Store(int64(first))
	var wg sync.WaitGroup
	for range s.workers {
		wg.Go(func() {
			pcg := rand.NewPCG(0, 0)
			w := &drawing{pcg: pcg, rng: rand.New(pcg), scratch: make([]float64, 2*s.dim+2)}
			fly := s.worker()
			for ctx.Err() == nil {
				lo := int(next.Add(chunk)) - chunk
				if lo >= len(b) {
					return
				}
				for i := lo; i < min(lo+chunk, len(b)); i++ {
					fly(draw(i, w), &b[i])
					b[i].weigh(s.wrong)
				}
			}
		})
	}
	wg.Wait()
	s.flights += len(b) - first
	if s.done != nil {
		s.done(s.flights)
	}
	return ctx.Err()
}

// cores is the number of workers for an option's value; 0 means all.
func cores(n int) int {
	if n > 0 {
		return n
	}
	return runtime.GOMAXPROCS(0)
}

// relative turns logarithms of weights into weights that sum to one; ok is
// false where none is above zero.
func relative(logs []float64) (w []float64, logSum float64, ok bool) {
	w = make([]float64, len(logs))
	if len(logs) == 0 {
		return w, math.Inf(-1), false
	}
	logSum = floats.LogSumExp(logs)
	if math.IsInf(logSum, 0) || math.IsNaN(logSum) {
		return w, logSum, false
	}
	for i, v := range logs {
		w[i] = math.Exp(v - logSum)
	}
	return w, logSum, true
}

// fitted lays the runs out for a fit with weights w.
func (t *target) fitted(b batch, w []float64) *fitted {
	s := &fitted{w: w, dim: t.dim, nf: t.nf}
	for i := range b {
		s.z, s.f = append(s.z, b[i].z...), append(s.f, b[i].f...)
	}
	return s
}
