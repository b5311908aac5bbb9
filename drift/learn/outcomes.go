package learn

import (
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// vehicleCount is what was drawn of the outcomes of one vehicle's finds.
type vehicleCount struct {
	count    []float64 // by outcome name
	expected []float64 // by outcome name: sum of the chances before learning
	chance   []float64 // by outcome name: sum of the chances without the vehicle's own
	finds    float64
}

// stepOutcomes draws the odds of each outcome: Gamma distributed, which for
// flights that share their outcomes makes the chances Dirichlet exactly. Those
// of a vehicle are Dirichlet about them. Given a vehicle's counts, the finds by
// which it speaks of all are its tables in the restaurants of Teh, Jordan, Beal
// and Blei (2006, Hierarchical Dirichlet Processes, J. Am. Stat. Assoc. 101).
func (p *problem) stepOutcomes(st *state, r *rand.Rand) {
	lone, byVehicle := p.countOutcomes(st)
	for g := range byVehicle {
		byVehicle[g].tables(lone, r)
	}
	for n := range st.odds {
		st.odds[n] = distuv.Gamma{Alpha: p.shape[n] + lone.count[n], Beta: p.rate[n] + lone.expected[n], Src: r}.Rand()
	}
	_, byVehicle = p.countOutcomes(st) // with the new odds
	for g, v := range byVehicle {
		v.draw(st.own[g], r)
	}
}

// countOutcomes counts the outcomes drawn: of finds without a vehicle, and of
// each vehicle's.
func (p *problem) countOutcomes(st *state) (lone vehicleCount, byVehicle []vehicleCount) {
	empty := func() vehicleCount {
		n := len(p.names)
		return vehicleCount{make([]float64, n), make([]float64, n), make([]float64, n), 0}
	}
	lone = empty()
	for range p.vehicles {
		byVehicle = append(byVehicle, empty())
	}
	for i := range p.sites {
		s := &p.sites[i]
		if !st.told[i] {
			continue
		}
		v := &lone
		if s.vehicle >= 0 {
			v = &byVehicle[s.vehicle]
			st.chance = p.chances(&state{odds: st.odds}, s, st.chance)
			for j, n := range s.names {
				v.chance[n] += st.chance[j]
			}
		}
		v.finds++
		v.count[st.which[i]]++
		for j, n := range s.names {
			v.expected[n] += s.prior[j]
		}
	}
	return lone, byVehicle
}

// share is how much the chances without the vehicle's own count for beside its
// finds, of outcome n.
func (v *vehicleCount) share(n int) float64 { return vehicleStrength * v.chance[n] / v.finds }

// tables adds to all the finds by which the vehicle speaks of every vehicle:
// one for its first find of an outcome, less for each that the vehicle's own
// chances explain.
func (v *vehicleCount) tables(all vehicleCount, r *rand.Rand) {
	if v.finds == 0 {
		return
	}
	sum := 0.0
	for n, c := range v.count {
		a := v.share(n)
		for j := range int(c) {
			if j == 0 || r.Float64() < a/(a+float64(j)) {
				all.count[n]++
				sum++
			}
		}
	}
	floats.AddScaled(all.expected, sum/v.finds, v.expected)
}

// draw draws the vehicle's own odds.
func (v *vehicleCount) draw(own []float64, r *rand.Rand) {
	for n := range own {
		own[n] = 1
		if v.finds == 0 {
			continue
		}
		if a := v.share(n); a > 0 {
			own[n] = distuv.Gamma{Alpha: a + v.count[n], Beta: 1, Src: r}.Rand() / a
		}
	}
}

// outcomeResults tells the outcomes' chances, averaged over the flights found,
// and over those of each vehicle.
func (p *Posterior) outcomeResults() []Outcome {
	all := make([]int, len(p.problem.sites))
	byVehicle := make([][]int, len(p.problem.vehicles))
	for i, s := range p.problem.sites {
		all[i] = i
		if s.vehicle >= 0 {
			byVehicle[s.vehicle] = append(byVehicle[s.vehicle], i)
		}
	}
	out := p.chancesOf(all)
	for g, sites := range byVehicle {
		for n, o := range p.chancesOf(sites) {
			out[n].Members = append(out[n].Members, outcomeMember{Name: p.problem.vehicles[g],
				Title: p.title(sites, p.vehicleTitle), Finds: len(sites), Probability: o.Probability, SE: o.SE, Odds: o.Odds})
		}
	}
	return out
}

// chancesOf returns the outcomes' chances averaged over sites.
func (p *Posterior) chancesOf(sites []int) []Outcome {
	out := make([]Outcome, len(p.problem.names))
	chances := make([][]float64, len(out)) // by outcome, by draw
	share := 1 / float64(len(sites))
	for d := range p.draws {
		now := make([]float64, len(out))
		for _, i := range sites {
			s := &p.problem.sites[i]
			for j, c := range p.problem.chances(p.draws[d].outcomes(), s, nil) {
				now[s.names[j]] += c * share
			}
		}
		for n, v := range now {
			chances[n] = append(chances[n], v)
		}
	}
	for _, i := range sites {
		s := &p.problem.sites[i]
		for j, n := range s.names {
			out[n].Was += s.prior[j] * share
		}
	}
	for n := range out {
		o := &out[n]
		o.Name, o.Odds = p.problem.names[n], 1
		o.Probability, o.SE = stat.PopMeanStdDev(chances[n], nil)
		if o.Was > 0 {
			o.Odds = o.Probability / o.Was
		}
	}
	return out
}

// outcomes is the part of a draw that chances needs.
func (d *drawn) outcomes() *state { return &state{odds: d.odds, own: d.own} }

// vehicleOf returns the number of a vehicle, a new one where it is not known;
// -1 for no name.
func (p *problem) vehicleOf(name string) int {
	if name == "" {
		return -1
	}
	g := slices.Index(p.vehicles, name)
	if g < 0 {
		g = len(p.vehicles)
		p.vehicles = append(p.vehicles, name)
	}
	return g
}
