package search

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"testing"
	"time"

	"windfall/geo"
	"windfall/search/detect"
)

// freeTravel is the integral of the best POS by time with free travel, s.
func freeTravel(p Problem, t *terra, agents []*agent, horizon float64, in []float64) float64 {
	const n = 40
	var sum float64
	for k := 0; k < n; k++ {
		at := (float64(k) + 0.5) / n * horizon
		var es []detect.Effort
		for i, a := range agents {
			es = append(es, detect.Effort{Length: math.Max(0, math.Min(at, a.end-in[i])-a.begin-in[i]) * a.Speed, Width: a.width})
		}
		sum += detect.Bound(p.Law, p.Map.P, p.Map.Cell*p.Map.Cell, cellClasses(p.Map, t), es) * horizon / n
	}
	return sum
}

func scenario(k int) Problem {
	r := rand.New(rand.NewPCG(7, uint64(k)))
	var bs []blob
	n := 1 + r.IntN(3)
	dist, az := 150+r.Float64()*900, r.Float64()*360
	c := geo.Polar(dist, az)
	left := 1.0
	for i := 0; i < n; i++ {
		s := 60 + 150*r.Float64()
		sh := left
		if i < n-1 {
			sh = left * (0.4 + 0.5*r.Float64())
		}
		left -= sh
		bs = append(bs, blob{c.Add(geo.Polar(r.Float64()*300*float64(min(i, 1)), r.Float64()*360)), s, s * (0.25 + 0.75*r.Float64()), r.Float64() * 180, sh})
	}
	p := Problem{Map: cloud(10, bs...), Target: Target{Length: 1.5, Width: 0.076, Colour: "lime", SeenAt: map[string]float64{"short grass": 8 + r.Float64()*25}}}
	m := 1 + r.IntN(4)
	avail := 3600 * (1 + r.Float64())
	for i := 0; i < m; i++ {
		st := geo.Polar(r.Float64()*100, r.Float64()*360)
		p.Searchers = append(p.Searchers, Searcher{Name: fmt.Sprint("w", i), Kind: Walker, Speed: 0.7 + 0.4*r.Float64(), Start: st, Available: avail})
	}
	if r.IntN(4) == 0 {
		p.Searchers[0] = Searcher{Name: "d", Kind: Drone, Speed: 5, Height: 25, FieldDeg: 70, Pixels: 3840, Sortie: 1100, Recharge: 240, Reach: 800, Available: avail}
	}
	return p
}

func TestBench(t *testing.T) {
	var lg, lf, ln, worst float64
	n := 6
	skip := map[int]bool{2: true, 4: true}
	for k := 0; k < n; k++ {
		if skip[k] {
			continue
		}
		p := scenario(k)
		t0 := time.Now()
		pl, err := Make(context.Background(), p, Options{})
		if err != nil {
			t.Fatal(err)
		}
		el := time.Since(t0)
		best, bestPOS := math.Inf(1), 0.0
		var which Pattern
		for _, pat := range []Pattern{ExpandingSquare, Parallel, nearestFirst} {
			q, err := Make(context.Background(), p, Options{Pattern: pat})
			if err != nil {
				t.Fatal(err)
			}
			if q.MeanToFind < best {
				best, which = q.MeanToFind, pat
			}
			bestPOS = math.Max(bestPOS, q.POS)
		}
		p.Law = detect.Exponential
		tr, ag, _, _ := ready(p)
		h := pl.Minutes * 60
		free := (h - freeTravel(p, tr, ag, h, make([]float64, 9))) / 60
		in := make([]float64, len(ag))
		pln := &planner{t: tr, agents: ag, plain: planningField(p.Map, 10)}
		for i, a := range ag {
			in[i] = math.Inf(1)
			got := 0.0
			for _, r := range pln.worthwhile() {
				in[i] = math.Min(in[i], r.at.Sub(a.Start).Norm()/a.Speed)
				if got += r.p; got > 0.75 {
					break
				}
			}
		}
		stp := (h - stepTravel(p, ag, h, in)) / 60
		fmt.Printf("step %.3f  plan/step %.3f  ", stp/best, pl.MeanToFind/stp)
		near := (h - freeTravel(p, tr, ag, h, in)) / 60
		ln += math.Log(near / best)
		ratio := pl.MeanToFind / best
		lg += math.Log(ratio)
		lf += math.Log(free / best)
		worst = math.Max(worst, ratio)
		legs := 0
		for _, s := range pl.Searchers {
			legs += len(s.Legs)
		}
		fmt.Printf("%2d n=%d min %.0f mean %.2f best %.2f (%s) ratio %.3f free %.3f near %.3f | pos %.3f base %.3f bound %.3f legs %d %v cells %d\n", k, len(p.Searchers), pl.Minutes, pl.MeanToFind, best, which, ratio, free/best, near/best, pl.POS, bestPOS, pl.UpperBound, legs, el.Round(time.Millisecond), len(p.Map.P))
	}
	fmt.Printf("geo %.3f free %.3f near %.3f worst %.3f\n", math.Exp(lg/float64(n)), math.Exp(lf/float64(n)), math.Exp(ln/float64(n)), worst)
}

// stepTravel is freeTravel for passes that each add 1 to the coverage.
func stepTravel(p Problem, agents []*agent, horizon float64, in []float64) float64 {
	var v []float64
	for _, m := range p.Map.P {
		for q := m; q > 1e-9; q /= math.E {
			v = append(v, q*passGain)
		}
	}
	sort.Sort(sort.Reverse(sort.Float64Slice(v)))
	cum := make([]float64, len(v)+1)
	for i, x := range v {
		cum[i+1] = cum[i] + x
	}
	const n = 400
	var sum float64
	for k := 0; k < n; k++ {
		at := (float64(k) + 0.5) / n * horizon
		e := 0.0
		for i, a := range agents {
			e += math.Max(0, math.Min(at, a.end-in[i])-a.begin-in[i]) * a.Speed * a.width[0]
		}
		c := e / p.Map.Cell / p.Map.Cell
		sum += cum[min(len(v), int(c))] * horizon / n
	}
	return sum
}
