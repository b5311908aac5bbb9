package learn

import (
	"cmp"
	"context"
	"errors"
	"math/rand/v2"
	"runtime"
	"slices"

	"github.com/paulmach/orb"

	"windfall/drift/internal/stream"
	"windfall/geo"
)

// Options steer Fit; the zero value is a full fit.
type Options struct {
	Seed     uint64
	Workers  int                                 // 0: one a core; the result does not depend on it
	Draws    int                                 // of the posterior that are kept; 0: 2000
	Progress func(stage string, done, total int) // may be nil
}

// Posterior is what Fit knows after all that was logged: draws from the posterior.
type Posterior struct {
	cases     []Case     // by flight
	measured  []Measured // by entry
	problem   *problem
	places    []orb.Point
	draws     []drawn
	withheld  []bool       // by factor: maps do not use it; nil: not weighed yet
	likely    [][]float64  // by case and outcome: its chance, when last looked at; nil: not yet
	effective []float64    // by case: effective runs behind its likelihood
	shape     [][][]geo.XY // by case and outcome: Jacobian of the landing by the wind's shape
	seed      uint64
}

// drawn is one draw of the posterior.
type drawn struct {
	mu, tau, s []float64
	u          [][]float64
	odds       []float64
	own        [][]float64
	wrong      float64
	score      float64   // log of the posterior, but for a constant
	logp       []float64 // by site
	bad        []float64 // by site: whether its find is wrong
}

// Fit learns from flights and from what was measured on the ground; their order
// changes nothing.
func Fit(ctx context.Context, cases []Case, measured []Measured, o Options) (*Posterior, error) {
	if len(cases)+len(measured) == 0 {
		return nil, errors.New("nothing logged to learn from")
	}
	if o.Workers == 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	if o.Draws == 0 {
		o.Draws = 2000
	}
	p := &Posterior{cases: slices.Clone(cases), seed: o.Seed, shape: make([][][]geo.XY, len(cases)),
		effective: make([]float64, len(cases)), likely: make([][]float64, len(cases))}
	slices.SortStableFunc(p.cases, func(a, b Case) int { return cmp.Compare(a.Flight, b.Flight) })
	for i := range p.cases {
		p.shape[i] = make([][]geo.XY, len(p.cases[i].Chances))
	}
	p.measured = slices.Clone(measured)
	slices.SortStableFunc(p.measured, func(a, b Measured) int { return cmp.Compare(a.Entry, b.Entry) })
	p.problem, p.places = newProblem(p.cases, p.measured)
	// Each look draws runs where the last one's posterior has the factors, of
	// those flights whose runs are no longer many enough there.
	most := looks
	if len(cases) > manyCases { // their errors average out
		most = 2
	}
	for look := range most {
		if err := p.look(ctx, look, o); err != nil {
			return nil, err
		}
		if err := p.sample(ctx, lookDraws, burnIn/2, look, o); err != nil {
			return nil, err
		}
		if look == 0 {
			if err := p.scout(ctx, o); err != nil {
				return nil, err
			}
		}
		p.recentre()
		if p.watch() == 0 {
			break
		}
	}
	p.problem.within = lastFar
	err := p.sample(ctx, o.Draws, burnIn, looks, o)
	p.watch()
	return p, err
}

// recentre takes the factors' means and spreads as the centre of the next look.
func (p *Posterior) recentre() {
	for k := range p.problem.centre {
		p.problem.centre[k], p.problem.spread[k] = 0, 0
		for d := range p.draws {
			p.problem.centre[k] += p.draws[d].mu[k] / float64(len(p.draws))
			p.problem.spread[k] += p.draws[d].s[k] / float64(len(p.draws))
		}
	}
}

// sample runs the chains, each from its own generator, and gathers their draws
// in chain order.
func (p *Posterior) sample(ctx context.Context, keep, burn, look int, o Options) error {
	per := (keep + chains - 1) / chains
	got := make([][]drawn, chains)
	thin := thin
	if len(p.cases) > manyCases {
		thin /= 2 // many flights: the joint moves go far
	}
	err := each(ctx, chains, o.Workers, func(c int) (err error) {
		r := stream.Chains.New(o.Seed, uint64(look)<<48|uint64(c))
		got[c], err = p.problem.chain(ctx, p.problem.start(r), run{burn, per, thin}, r)
		return err
	}, func(int) {})
	if err != nil {
		return err
	}
	p.draws = slices.Concat(got...)
	return nil
}

// run is how long a chain is: sweeps before it counts, draws kept, sweeps a draw.
type run struct{ burn, keep, thin int }

// chain runs a chain from a state on.
func (p *problem) chain(ctx context.Context, st *state, n run, r *rand.Rand) (got []drawn, err error) {
	var m mover
	for i := range n.burn + n.keep*n.thin {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if i == n.burn/2 {
			m.shape()
		}
		m.frozen = i >= n.burn
		p.sweep(st, &m, r)
		if i >= n.burn && (i-n.burn)%n.thin == 0 {
			got = append(got, p.snapshot(st))
		}
	}
	return got, nil
}

func (p *problem) snapshot(st *state) drawn {
	d := drawn{mu: slices.Clone(st.mu), tau: slices.Clone(st.tau), s: slices.Clone(st.s), odds: slices.Clone(st.odds),
		wrong: st.wrong, score: p.logPosterior(st), logp: make([]float64, len(st.bad)), bad: make([]float64, len(st.bad)),
		u: make([][]float64, len(st.u))}
	for k := range st.u {
		d.u[k] = slices.Clone(st.u[k])
	}
	for _, own := range st.own {
		d.own = append(d.own, slices.Clone(own))
	}
	for i := range st.bad {
		d.logp[i] = st.now[i].log
		if st.bad[i] {
			d.bad[i] = 1
		}
	}
	return d
}
