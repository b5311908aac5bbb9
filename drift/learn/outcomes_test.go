package learn

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/mathext"

	"windfall/drift"
)

// Two vehicles, two outcomes, all known: one vehicle fails in 6 of 8, the other
// in none of 12. The chance of all is p ~ Beta(18, 2); a vehicle's about it is
// Beta(20 p, 20 (1-p)), so that its finds are beta-binomial; the means of the
// vehicles' chances are summed over p in 20 000 steps.
func TestVehiclesHaveTheirOwnOutcomes(t *testing.T) {
	fails, finds := []int{6, 0}, []int{8, 12}
	var outcome []int
	for g := range finds {
		for i := range finds[g] {
			o := 0
			if i < fails[g] {
				o = 1
			}
			outcome = append(outcome, o)
		}
	}
	p := direct(make([]float64, len(outcome)), outcome)
	p.names, p.vehicles = p.names[:2], []string{"one", "two"}
	p.shape = []float64{0.9 * outcomeStrength, 0.1 * outcomeStrength}
	p.rate = p.shape
	for i := range p.sites {
		s := &p.sites[i]
		s.names, s.prior = s.names[:2], []float64{0.9, 0.1}
		if s.vehicle = 0; i >= finds[0] {
			s.vehicle = 1
		}
	}
	r := rand.New(rand.NewPCG(7, 7))
	st := p.start(r)
	const n = 40000
	var got [2]float64
	for range n {
		p.sweep(st, &mover{}, r)
		for g := range got {
			got[g] += p.chances(st, &p.sites[g*finds[0]], nil)[0] / n
		}
	}
	var want [2]float64
	const steps, k = 20000, vehicleStrength
	total := 0.0
	for i := range steps {
		x := (float64(i) + 0.5) / steps
		like := 17*math.Log(x) + math.Log(1-x)
		for g := range finds {
			good := float64(finds[g] - fails[g])
			like += mathext.Lbeta(k*x+good, k*(1-x)+float64(fails[g])) - mathext.Lbeta(k*x, k*(1-x))
		}
		w := math.Exp(like)
		total += w
		for g := range want {
			want[g] += w * (k*x + float64(finds[g]-fails[g])) / (k + float64(finds[g]))
		}
	}
	for g := range want {
		assert.InDelta(t, want[g]/total, got[g], 0.004, "vehicle %d", g) // its sd of 0.09 over some 2000 independent draws: 0.002
	}
	assert.Less(t, got[0], 0.75)
	assert.Greater(t, got[1], 0.85)
}

// A vehicle's flights take its own odds, others those of all.
func TestApplyVehicleOdds(t *testing.T) {
	r := Result{Outcomes: []Outcome{{Name: "nominal", Odds: 1}, {Name: "tangled", Odds: 1, Members: []outcomeMember{{Name: "54 mm", Odds: 3}}}}}
	list := []drift.Chance{{Name: "nominal", P: 0.9}, {Name: "tangled", P: 0.1}}
	assert.InDelta(t, 0.3/1.2, r.outcomes("", list, "54 mm")[1].P, 1e-12)
	assert.Equal(t, list, r.outcomes("", list, "66 mm"))
}

// What scores worse on finds left out is withheld, and said.
func TestWithheld(t *testing.T) {
	r := Result{Withheld: true, Coverage: []Coverage{{Level: 0.5}, {Level: 0.75}, {Level: 0.9, Of: 2}},
		Scores: []Score{{Log: -12, WasLog: -11}, {Log: -11, WasLog: -11.5}}}
	r.Verdict = r.verdict()
	assert.Contains(t, r.Verdict, "maps do not use this: on finds left out it scores 0.25 a find worse than no learning does")
	r.Use()
	assert.False(t, r.Withheld)
	assert.Contains(t, r.Verdict, "maps use it all the same")
}

func TestTitles(t *testing.T) {
	p := Posterior{cases: []Case{{Flight: "a", VehicleTitle: "Siskin", PlaceTitle: "Garza"}, {Flight: "b"}, {Flight: "c"}, {Flight: "d"}, {Flight: "e"}}}
	all := []slot{{0, 0, 0, 1}, {1, 0, 0, 1}, {2, 0, 0, 1}, {3, 0, 0, 1}, {4, 0, 1, 1}}
	title := func(f Spec, g int) string { return p.memberTitle(&factor{Spec: f, slots: all}, g) }
	assert.Equal(t, "Siskin, b, c, 1 more", title(specOf(LeanAlong), 0))
	assert.Equal(t, "streamer of e", title(specOf(dragFactor("streamer")), 1))
	assert.Equal(t, "Garza", title(specOf(WindSpeed), 0))
	assert.Empty(t, title(specOf(WindSpeed), 1))
}
