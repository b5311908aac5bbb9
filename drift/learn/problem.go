package learn

import (
	"cmp"
	"fmt"
	"slices"

	"github.com/paulmach/orb"
)

// factor is a factor being learned; all values in default spreads.
type factor struct {
	Spec
	groups    []string // names of the pool's members
	slots     []slot   // every value of it
	scaleOnly bool     // the wind's shape: no bias
}

// slot is one factor value of one case.
type slot struct {
	site, col int // which site, which of its columns
	group     int // into factor.groups; -1: none
	ratio     float64
}

// site is one case ready for sampling.
type site struct {
	c     *Case
	ways  []way
	flown []flight  // what the ways were made of
	few   []int     // points wanted of each flown
	names []int     // outcomes as numbers in problem.names
	prior []float64 // their chances before learning
	wrong float64   // log density of its find as a wrong entry
	slots []int     // factor index of each column
	group []int     // group of each column
	ratio []float64

	vehicle int // into problem.vehicles; -1: it shares its outcomes with none
}

// way is how what was logged of a case may have come about.
type way struct {
	points
	outcome int
	lost    bool // the find has no part in it: it is wrong, or there is none
}

// flight is the runs of a case that one outcome, and a find taken as right or
// not, make.
type flight struct {
	runs
	outcome int
	lost    bool
	rare    bool // few were drawn, for an outcome thought unlikely
}

// gauge is a value of a factor that was measured without a flight, one as a
// flight would have it.
type gauge struct {
	factor, group int     // group into factor.groups; -1: none
	value, sd     float64 // in default spreads; sd: of the measuring
}

// problem is everything the sampler needs; it does not change.
type problem struct {
	factors []factor
	sites   []site
	names   []string  // outcomes
	shape   []float64 // Gamma shape and rate of each outcome's odds before learning
	rate    []float64

	vehicles []string
	gauges   []gauge

	centre []float64 // by factor: the mean around which points were drawn
	spread []float64 // by factor: the spread then
	within float64   // how far from it, in default spreads, they are believed; 0: anywhere
}

// newProblem lays out the factors, groups and outcomes of cases and of what was
// measured.
func newProblem(cases []Case, measured []Measured) (*problem, []orb.Point) {
	p := &problem{}
	of, at := places(cases)
	for i := range cases {
		p.sites = append(p.sites, p.newSite(i, &cases[i], placeName(of[i])))
	}
	for _, m := range measured {
		k := p.factorOf(specOf(m.Factor), false)
		unit := p.factors[k].SD
		p.gauges = append(p.gauges, gauge{k, p.groupOf(k, m.Group), m.Value / unit, m.SD / unit})
	}
	total, seen := make([]float64, len(p.names)), make([]float64, len(p.names))
	for _, s := range p.sites {
		for i, n := range s.names {
			total[n] += s.prior[i]
			seen[n]++
		}
	}
	for n := range p.names {
		a := outcomeStrength * max(total[n]/seen[n], 1e-6)
		p.shape, p.rate = append(p.shape, a), append(p.rate, a)
	}
	p.centre = make([]float64, len(p.factors))
	for k := range p.factors {
		p.spread = append(p.spread, p.factors[k].spreadMedian())
	}
	return p, at
}

// factorOf returns the number of a factor, a new one where it is not known.
func (p *problem) factorOf(spec Spec, scaleOnly bool) int {
	k := slices.IndexFunc(p.factors, func(f factor) bool { return f.Name == spec.Name })
	if k < 0 {
		k = len(p.factors)
		p.factors = append(p.factors, factor{Spec: spec, scaleOnly: scaleOnly})
	}
	return k
}

// groupOf returns the number of a member of factor k's pool; -1 for no name.
func (p *problem) groupOf(k int, name string) int {
	if name == "" {
		return -1
	}
	g := slices.Index(p.factors[k].groups, name)
	if g < 0 {
		g = len(p.factors[k].groups)
		p.factors[k].groups = append(p.factors[k].groups, name)
	}
	return g
}

// newSite lays out case i.
func (p *problem) newSite(i int, c *Case, place string) site {
	s := site{c: c, wrong: logWrong(c.Find.Norm()), vehicle: p.vehicleOf(c.Vehicle)}
	add := func(k, g int, ratio float64) {
		p.factors[k].slots = append(p.factors[k].slots, slot{i, len(s.slots), g, ratio})
		s.slots, s.group, s.ratio = append(s.slots, k), append(s.group, g), append(s.ratio, ratio)
	}
	for _, l := range c.Links {
		k := p.factorOf(specOf(l.Factor), false)
		name := l.Group
		if p.factors[k].Pool == "place" {
			name = place
		}
		add(k, p.groupOf(k, name), l.ratio())
	}
	if len(c.Shape) > 0 {
		k := p.factorOf(specOf(cmp.Or(c.Of, WindShape)), true)
		for range min(len(c.Shape), 2) {
			add(k, -1, 1)
		}
	}
	for _, ch := range c.Chances {
		n := slices.Index(p.names, ch.Name)
		if n < 0 {
			n = len(p.names)
			p.names = append(p.names, ch.Name)
		}
		s.names, s.prior = append(s.names, n), append(s.prior, ch.P)
	}
	return s
}

func placeName(i int) string { return fmt.Sprintf("place %d", i+1) }
