package learn

import (
	"context"
	"math"

	"windfall/drift/internal/stream"
)

// scout looks for a likelier place than the chains found from where every device has
// the drag that is computed: from there a device that falls far faster can pass for
// one that always fails, and a chain never leaves that. One chain starts with much less
// drag and one with much more; where it comes to what is far likelier, its draws take
// the others' place.
func (p *Posterior) scout(ctx context.Context, o Options) error {
	devices := false
	for k := range p.problem.factors {
		devices = devices || p.problem.factors[k].Pool == "device"
	}
	if !devices || len(p.cases) == 0 {
		return nil
	}
	was := p.problem.within
	p.problem.within = scoutWithin
	defer func() { p.problem.within = was }()
	sides := [...]float64{-scoutFrom, scoutFrom}
	var got [len(sides)][]drawn
	err := each(ctx, len(sides), o.Workers, func(c int) (err error) {
		r := stream.Chains.New(o.Seed, 1<<40|uint64(c))
		st := p.problem.start(r)
		for k := range p.problem.factors {
			if f := &p.problem.factors[k]; f.Pool == "device" {
				st.mu[k] = sides[c] * f.biasScale()
			}
		}
		got[c], err = p.problem.chain(ctx, st, run{burnIn / 2, lookDraws / chains, thin}, r)
		return err
	}, func(int) {})
	if err != nil {
		return err
	}
	for _, draws := range got {
		if score(draws) > score(p.draws)+scoutGain {
			p.draws = draws
		}
	}
	return nil
}

// score is the mean log of the posterior of draws.
func score(draws []drawn) (mean float64) {
	for d := range draws {
		mean += draws[d].score / float64(len(draws))
	}
	return mean
}

// logPosterior is the log of the posterior of a state, the flights' own values
// summed out, but for a constant and small parts: the scatter within pools, and
// chances counted once for all vehicles.
func (p *problem) logPosterior(st *state) float64 {
	was, now := make([]float64, len(p.names)), make([]float64, len(p.names))
	for i := range p.sites {
		s := &p.sites[i]
		st.chance = p.chances(st, s, st.chance)
		for j, n := range s.names {
			was[n] += s.prior[j] / float64(len(p.sites))
			now[n] += st.chance[j] / float64(len(p.sites))
		}
	}
	t := p.logTarget(st, st.now)
	for n := range was { // Dirichlet
		t += outcomeStrength * was[n] * math.Log(max(now[n], 1e-12))
	}
	return t
}
