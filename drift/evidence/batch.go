package evidence

import (
	"context"
	"math"
	"math/rand/v2"
	"runtime"
	"sync"
	"sync/atomic"

	"windfall/drift"
)

// target is what is sampled: outcomes with their prior chances, standard
// normal inputs, and what a run of them says of each sighting.
type target struct {
	chances []float64
	dim     int       // inputs
	nf      int       // features
	np      int       // parts
	wrong   []float64 // of each sighting, see term
	worker  func() flyFunc
	draw    func(seed uint64, i int, in *drift.Input)
}

// flyFunc flies one run and fills one row of a batch.
type flyFunc func(in drift.Input, r row)

// row is one run's place in a batch.
type row struct {
	landing *drift.Landing
	parts   []drift.PartLanding
	f       []float64 // features
	right   []float64 // log-likelihood of each sighting, times the chance that it is right
}

// batch is a set of runs, all arrays row-major.
type batch struct {
	k       []int // outcome
	z       []float64
	f       []float64
	right   []float64
	ll      []float64 // log-likelihood of all sightings
	logq    []float64 // log of proposal over prior, given the outcome
	landing []drift.Landing
	parts   []drift.PartLanding // np each
}

func newBatch(t *target, n int) *batch {
	return &batch{
		k: make([]int, n), z: make([]float64, n*t.dim), f: make([]float64, n*t.nf),
		right: make([]float64, n*len(t.wrong)),
		ll:    make([]float64, n), logq: make([]float64, n), landing: make([]drift.Landing, n),
		parts: make([]drift.PartLanding, n*t.np),
	}
}

func (b *batch) len() int { return len(b.k) }

// sampler draws batches and counts the flights it took.
type sampler struct {
	*target
	seed    uint64
	workers int
	flights int
	done    func(flights int) // nil: nobody watches
}

// share does jobs 0..n-1 on as many goroutines as there are workers, each with
// a sampler of its own that has one; their flights are added to s.
func (s *sampler) share(n int, do func(one *sampler, k int)) {
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

// splitmix scrambles a seed (Steele, Lea and Flood 2014).
func splitmix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// proposals gives the proposal of each outcome; nil entries are not drawn.
type proposals []*mixture

// fill draws and flies rows from..to of b: row i has outcome b.k[i], and its
// inputs come from the generator of (seed, stream, i).
func (s *sampler) fill(ctx context.Context, b *batch, q proposals, stream uint64, from, to int) error {
	return s.each(ctx, b, from, to, func(i int, w *drawing) drift.Input {
		w.pcg.Seed(splitmix(s.seed)^splitmix(stream<<8+0xe51d), uint64(i))
		z := b.z[i*s.dim : (i+1)*s.dim]
		m := q[b.k[i]]
		m.draw(w.rng, z, w.scratch)
		b.logq[i] = m.logRatio(z, w.scratch)
		return drift.Input{Outcome: b.k[i], Z: z}
	})
}

// fillPrior draws and flies rows from..to of b as the model itself does.
func (s *sampler) fillPrior(ctx context.Context, b *batch, from, to int) error {
	return s.each(ctx, b, from, to, func(i int, w *drawing) drift.Input {
		s.draw(s.seed, i, &w.in)
		copy(b.z[i*s.dim:(i+1)*s.dim], w.in.Z)
		b.k[i] = w.in.Outcome
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

// each flies rows from..to of b on all workers; row i is written by one of them alone.
func (s *sampler) each(ctx context.Context, b *batch, from, to int, draw func(i int, w *drawing) drift.Input) error {
	const chunk = 64
	var next atomic.Int64
	next.Store(int64(from))
	var wg sync.WaitGroup
	for range s.workers {
		wg.Go(func() {
			pcg := rand.NewPCG(0, 0)
			w := &drawing{pcg: pcg, rng: rand.New(pcg), scratch: make([]float64, 2*s.dim+2)}
			fly := s.worker()
			for ctx.Err() == nil {
				lo := int(next.Add(chunk)) - chunk
				if lo >= to {
					return
				}
				for i := lo; i < min(lo+chunk, to); i++ {
					in := draw(i, w)
					r := row{&b.landing[i], b.parts[i*s.np : (i+1)*s.np], b.f[i*s.nf : (i+1)*s.nf], b.right[i*len(s.wrong) : (i+1)*len(s.wrong)]}
					fly(in, r)
					b.ll[i] = 0
					for t, v := range r.right {
						b.ll[i] += logAdd(v, s.wrong[t])
					}
				}
			}
		})
	}
	wg.Wait()
	s.flights += to - from
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
	top := math.Inf(-1)
	for _, v := range logs {
		top = math.Max(top, v)
	}
	w = make([]float64, len(logs))
	if math.IsInf(top, -1) || math.IsNaN(top) {
		return w, top, false
	}
	sum := 0.0
	for i, v := range logs {
		w[i] = math.Exp(v - top)
		sum += w[i]
	}
	for i := range w {
		w[i] /= sum
	}
	return w, top + math.Log(sum), true
}
