package learn

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"

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

// Posterior is what Fit knows after all finds: draws from the posterior.
type Posterior struct {
	cases    []Case
	problem  *problem
	places   []orb.Point
	draws    []drawn
	muCentre []float64    // by factor: its mean in the last look
	centre   [][]float64  // by case and link: where its tangents are made
	shape    [][][]geo.XY // by case and outcome: Jacobian of the landing by the wind's shape
	seed     uint64
}

// drawn is one draw of the posterior.
type drawn struct {
	mu, tau, s []float64
	u          [][]float64
	odds       []float64
	own        [][]float64
	wrong      float64
	logp       []float64 // by site
	bad        []float64 // by site: probability that its entry is wrong, given the rest
}

// Fit learns from cases. Cases without a landing that moves with the inputs
// are an error of the caller: none of the model's flights is so.
func Fit(ctx context.Context, cases []Case, o Options) (*Posterior, error) {
	if len(cases) == 0 {
		return nil, errors.New("no finds to learn from")
	}
	if o.Workers == 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	if o.Draws == 0 {
		o.Draws = 2000
	}
	p := &Posterior{cases: cases, seed: o.Seed, shape: make([][][]geo.XY, len(cases))}
	for i := range cases {
		p.shape[i] = make([][]geo.XY, len(cases[i].Chances))
		p.centre = append(p.centre, make([]float64, len(cases[i].Links)))
	}
	// Each look makes the flight model linear where the last one's posterior has
	// the factors, but not more than farthest away from where it was.
	moved := 0.0
	for look, last := 0, false; !last; look++ {
		last = look == looks-1 || look > 0 && moved < settled
		if err := p.look(ctx, look, last, o); err != nil {
			return nil, err
		}
		keep, burn := lookDraws, burnIn/2
		if last {
			keep, burn = o.Draws, burnIn
		}
		if err := p.sample(ctx, keep, burn, look, o); err != nil {
			return nil, err
		}
		moved = p.recentre()
	}
	return p, nil
}

// recentre takes the factors' means as the centre of the next look, and
// returns the farthest move.
func (p *Posterior) recentre() (moved float64) {
	if p.muCentre == nil {
		p.muCentre = make([]float64, len(p.problem.factors))
	}
	for k := range p.muCentre {
		m := 0.0
		for d := range p.draws {
			m += p.draws[d].mu[k] / float64(len(p.draws))
		}
		moved = max(moved, math.Abs(m-p.muCentre[k]))
		p.muCentre[k] = m
	}
	return moved
}

// look makes the tangents of every case around what the last look has learned.
func (p *Posterior) look(ctx context.Context, look int, last bool, o Options) error {
	build, places := newProblem(p.cases)
	many := len(p.cases) > manyCases // their errors average out
	err := each(ctx, len(p.cases), o.Workers, func(i int) error {
		c := &p.cases[i]
		q := p.belief(i, c)
		fly := c.Fly()
		at := make([]tangent, len(c.Chances))
		for out, ch := range c.Chances {
			if ch.P <= 0 || c.Outcome >= 0 && c.Outcome != out {
				continue
			}
			n := rareHits
			if many && !last {
				n = fewHits // for the scale alone
			}
			if ch.P >= 0.5 || c.Outcome == out {
				n = hits
				if many {
					n = hits / 2
				}
				p.shape[i][out] = nil // anew where the factors now are
			}
			r := stream.Tangents.New(o.Seed, uint64(look)<<48|uint64(out)<<40|uint64(i))
			if h, ok := newAim(c, fly, out, q, &p.shape[i][out]); ok {
				at[out] = h.tangent(n, r)
			}
		}
		build.sites[i].at = at
		return nil
	}, func(done int) {
		if o.Progress != nil {
			o.Progress(fmt.Sprintf("flying the finds, look %d", look+1), done, len(p.cases))
		}
	})
	if build.centre = p.muCentre; build.centre == nil {
		build.centre = make([]float64, len(build.factors))
	}
	if build.within = farthest; last {
		build.within = lastFar
	}
	p.problem, p.places = build, places
	return err
}

// belief is what is thought of case i's inputs so far: before the first look,
// the defaults.
func (p *Posterior) belief(i int, c *Case) belief {
	q := belief{mean: make([]float64, c.Dim), sd: make([]float64, c.Dim)}
	for j := range q.sd {
		q.sd[j] = 1
	}
	for l, link := range c.Links {
		mean, sd := 0.0, link.ratio() // the first look
		if len(p.draws) > 0 {
			mean, sd = p.predictive(i, l, nil)
			was := p.centre[i][l]
			mean = min(max(mean, was-farthest), was+farthest)
		}
		p.centre[i][l] = mean
		q.mean[link.Coord], q.sd[link.Coord] = mean/link.ratio(), max(sd, 0.1*link.ratio())/link.ratio()
	}
	return q
}

// predictive returns mean and standard deviation of the value of column l of
// case i in a new flight like it, over the draws weighted by w (nil: equal).
func (p *Posterior) predictive(i, l int, w []float64) (mean, sd float64) {
	s := &p.problem.sites[i]
	return p.predict(s.slots[l], s.group[l], s.ratio[l], w)
}

// predict is the predictive of factor k in a group (-1: one never seen) for a
// flight whose own spread is ratio times the default's: the normal distribution
// that has its 5 % and 95 % points. Its tails may be too heavy for moments.
func (p *Posterior) predict(k, group int, ratio float64, w []float64) (mean, sd float64) {
	type value struct{ x, w float64 }
	all := make([]value, 0, 2*len(p.draws))
	r := stream.Forecasts.New(p.seed, uint64(k))
	tot := 0.0
	for d := range p.draws {
		dr := &p.draws[d]
		wt := 1.0
		if w != nil {
			wt = w[d]
		}
		x, v := dr.mu[k], dr.s[k]*dr.s[k]*ratio*ratio
		if group >= 0 {
			x += dr.u[k][group]
		} else if !p.problem.factors[k].scaleOnly {
			v += dr.tau[k] * dr.tau[k]
		}
		e := math.Sqrt(v) * r.NormFloat64()
		all = append(all, value{x - e, wt}, value{x + e, wt})
		tot += 2 * wt
	}
	slices.SortFunc(all, func(a, b value) int { return cmp.Compare(a.x, b.x) })
	var low, high, sum float64
	for i, v := range all {
		before := sum / tot
		sum += v.w
		if before < 0.05 {
			low = v.x
		}
		if before < 0.95 {
			high = all[i].x
		}
	}
	const z95 = 1.6448536269514722 // standard normal quantile of 0.95
	return (low + high) / 2, (high - low) / (2 * z95)
}

// sample runs the chains, each from its own generator, and gathers their draws
// in chain order.
func (p *Posterior) sample(ctx context.Context, keep, burn, look int, o Options) error {
	per := (keep + chains - 1) / chains
	got := make([][]drawn, chains)
	err := each(ctx, chains, o.Workers, func(c int) error {
		r := stream.Chains.New(o.Seed, uint64(look)<<48|uint64(c))
		st := p.problem.start(r)
		var m mover
		for i := range burn + per*thin {
			if err := ctx.Err(); err != nil {
				return err
			}
			if i == burn/2 {
				m.shape()
			}
			m.frozen = i >= burn
			p.problem.sweep(st, &m, r)
			if i >= burn && (i-burn)%thin == 0 {
				got[c] = append(got[c], p.problem.snapshot(st))
			}
		}
		return nil
	}, func(int) {})
	if err != nil {
		return err
	}
	p.draws = slices.Concat(got...)
	return nil
}

func (p *problem) snapshot(st *state) drawn {
	d := drawn{mu: slices.Clone(st.mu), tau: slices.Clone(st.tau), s: slices.Clone(st.s), odds: slices.Clone(st.odds),
		wrong: st.wrong, logp: slices.Clone(st.logp), bad: make([]float64, len(st.bad)), u: make([][]float64, len(st.u))}
	for k := range st.u {
		d.u[k] = slices.Clone(st.u[k])
	}
	for _, own := range st.own {
		d.own = append(d.own, slices.Clone(own))
	}
	for i := range st.bad {
		if st.bad[i] {
			d.bad[i] = 1
		}
	}
	return d
}

// newProblem lays out the factors, groups and outcomes of cases.
func newProblem(cases []Case) (*problem, []orb.Point) {
	p := &problem{}
	of, at := places(cases)
	index := map[string]int{}
	factorOf := func(spec Spec, scaleOnly bool) int {
		k, ok := index[spec.Name]
		if !ok {
			k = len(p.factors)
			index[spec.Name] = k
			p.factors = append(p.factors, factor{Spec: spec, scaleOnly: scaleOnly})
		}
		return k
	}
	groupOf := func(k int, name string) int {
		g := slices.Index(p.factors[k].groups, name)
		if g < 0 {
			g = len(p.factors[k].groups)
			p.factors[k].groups = append(p.factors[k].groups, name)
		}
		return g
	}
	total := map[string]float64{}
	seen := map[string]float64{}
	for i := range cases {
		c := &cases[i]
		s := site{c: c, wrong: logWrong(c.Find.Norm()), vehicle: p.vehicleOf(c.Vehicle)}
		add := func(k, g int, ratio float64) {
			p.factors[k].slots = append(p.factors[k].slots, slot{i, len(s.slots), g, ratio})
			s.slots, s.group, s.ratio = append(s.slots, k), append(s.group, g), append(s.ratio, ratio)
		}
		for _, l := range c.Links {
			k := factorOf(SpecOf(l.Factor), false)
			name := l.Group
			if p.factors[k].Pool == "place" {
				name = placeName(of[i])
			}
			add(k, groupOf(k, name), l.ratio())
		}
		if len(c.Shape) > 0 {
			k := factorOf(SpecOf(cmp.Or(c.Of, WindShape)), true)
			add(k, -1, 1)
			add(k, -1, 1)
		}
		for _, ch := range c.Chances {
			n := slices.Index(p.names, ch.Name)
			if n < 0 {
				n = len(p.names)
				p.names = append(p.names, ch.Name)
			}
			s.names, s.prior = append(s.names, n), append(s.prior, ch.P)
			total[ch.Name] += ch.P
			seen[ch.Name]++
		}
		p.sites = append(p.sites, s)
	}
	for _, n := range p.names {
		a := outcomeStrength * max(total[n]/seen[n], 1e-6)
		p.shape, p.rate = append(p.shape, a), append(p.rate, a)
	}
	return p, at
}

func placeName(i int) string { return fmt.Sprintf("place %d", i+1) }

// each runs do(0..n-1) on some workers; done is told the count, in any order.
func each(ctx context.Context, n, workers int, do func(int) error, done func(int)) error {
	errs := make([]error, n)
	var mu sync.Mutex
	next, ended := 0, 0
	var wg sync.WaitGroup
	for range max(1, min(workers, n)) {
		wg.Go(func() {
			for {
				mu.Lock()
				i := next
				next++
				mu.Unlock()
				if i >= n || ctx.Err() != nil {
					return
				}
				errs[i] = do(i)
				mu.Lock()
				ended++
				done(ended)
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return err
	}
	return errors.Join(errs...)
}
