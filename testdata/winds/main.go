// Command winds fits the numbers of drift/wind/spread on winds of the past and
// prints them with their count and interval: go run ./testdata/winds
// PROFILES.csv. README.md beside it says what the profiles are.
package main

import (
	"flag"
	"fmt"
	"log"
	"math"
	"os"
	"sort"

	"gonum.org/v1/gonum/optimize"

	"windfall/drift/hindcast"
	"windfall/drift/wind/spread"
)

// tops are the layers' heights that are scored, m.
var tops = []float64{110, 300, 600, 1000, 2000}

// param is one number of the model, fitted as its logarithm.
type param struct {
	name string
	at   func(m *spread.Model) *float64
}

var lone = []param{
	{"Slow", func(m *spread.Model) *float64 { return &m.Slow }},
	{"Jet", func(m *spread.Model) *float64 { return &m.Jet }},
	{"JetHeight m", func(m *spread.Model) *float64 { return &m.JetHeight }},
	{"Veer deg", func(m *spread.Model) *float64 { return &m.Veer }},
	{"VeerDay m", func(m *spread.Model) *float64 { return &m.VeerDay }},
	{"VeerNight m", func(m *spread.Model) *float64 { return &m.VeerNight }},
	{"Day.PerMetre", func(m *spread.Model) *float64 { return &m.Day.PerMetre }},
	{"Day.Fade m", func(m *spread.Model) *float64 { return &m.Day.Fade }},
	{"Night.PerMetre", func(m *spread.Model) *float64 { return &m.Night.PerMetre }},
	{"Night.Fade m", func(m *spread.Model) *float64 { return &m.Night.Fade }},
	{"Footing m", func(m *spread.Model) *float64 { return &m.Footing }},
	{"Carried", func(m *spread.Model) *float64 { return &m.Carried }},
	{"TailLone", func(m *spread.Model) *float64 { return &m.TailLone }},
	{"TailDepth m", func(m *spread.Model) *float64 { return &m.TailDepth }},
}

var aged = []param{
	{"RateLow", func(m *spread.Model) *float64 { return &m.RateLow }},
	{"Rate", func(m *spread.Model) *float64 { return &m.Rate }},
	{"RateAloft", func(m *spread.Model) *float64 { return &m.RateAloft }},
	{"TailAge", func(m *spread.Model) *float64 { return &m.TailAge }},
}

// problem is one block of numbers and the cases that tell them.
type problem struct {
	params  []param
	cases   []hindcast.Case
	weights []float64
	alike   bool // a case counts the same whether it has one layer or five
}

// newProblem weighs the cases so that those of a source's date and kind count
// as one, and a source by the square root of how many that leaves.
func newProblem(params []param, cases []hindcast.Case) *problem {
	p := &problem{params: params, cases: cases}
	key := func(c *hindcast.Case) string { return c.Truth.Source + " " + c.Group + " " + c.Kind }
	n := map[string]float64{}
	for i := range cases {
		n[key(&cases[i])]++
	}
	total := map[string]float64{}
	for i := range cases {
		w := 1 / n[key(&cases[i])]
		p.weights = append(p.weights, w)
		total[cases[i].Had.Source] += w
	}
	for i := range cases {
		p.weights[i] /= math.Sqrt(total[cases[i].Had.Source])
	}
	return p
}

// score is the mean log score of the layers, of alike cases each by as much; skip leaves a group of
// eight out.
func (p *problem) score(m *spread.Model, skip int) float64 {
	sum, n := 0.0, 0.0
	for i := range p.cases {
		c := &p.cases[i]
		if skip >= 0 && int(c.Truth.Time.Unix()/86400/8)%groups == skip {
			continue
		}
		k := 0
		for k < len(tops) && c.Truth.Top() >= 0.95*tops[k] {
			k++
		}
		w := p.weights[i]
		if p.alike {
			w /= float64(k)
		}
		for _, top := range tops[:k] {
			l := hindcast.LayerError(m, c, top)
			sum += w * l.LogScore()
			n += w
		}
	}
	return sum / n
}

const groups = 8

func (p *problem) fit(start spread.Model, skip, evaluations int) spread.Model {
	x0 := make([]float64, len(p.params))
	for i, q := range p.params {
		x0[i] = math.Log(*q.at(&start))
	}
	set := func(x []float64) spread.Model {
		m := start
		for i, q := range p.params {
			*q.at(&m) = math.Exp(x[i])
		}
		return m
	}
	f := func(x []float64) float64 {
		m := set(x)
		loss := -p.score(&m, skip)
		for i := range x { // far from where it began only for a reason
			loss += 1e-4 * (x[i] - x0[i]) * (x[i] - x0[i])
		}
		return loss
	}
	r, err := optimize.Minimize(optimize.Problem{Func: f}, x0, &optimize.Settings{FuncEvaluations: evaluations,
		Concurrent: 2}, &optimize.NelderMead{SimplexSize: 0.15})
	if r == nil {
		log.Fatal(err)
	}
	return set(r.X)
}

func main() {
	evaluations := flag.Int("evaluations", 900, "of the score in one fit")
	intervals := flag.Bool("intervals", false, "by leaving out each of eight groups of dates")
	tables := flag.Bool("table", false, "print coverage and fit nothing")
	facts := flag.Bool("errors", false, "print how wrong each kind of wind was, as CSV, and fit nothing")
	held := flag.Bool("held", false, "of the part kept out of the fit alone")
	flag.Parse()
	f, err := os.Open(flag.Arg(0))
	if err != nil {
		log.Fatal(err)
	}
	all, err := hindcast.ReadProfiles(flag.Arg(0), f)
	if err != nil {
		log.Fatal(err)
	}
	m := spread.Fitted
	if *facts {
		if err := hindcast.WriteFacts(os.Stdout, hindcast.Facts(hindcast.Pairs(all), tops)); err != nil {
			log.Fatal(err)
		}
		return
	}
	if *tables {
		table(&m, all, *held)
		return
	}
	m = run(m, "one reading, of the hour", lone, pick(all,
		func(c *hindcast.Case) bool { return c.Kind == "surface" }), *evaluations, *intervals)
	m = run(m, "winds some hours old", aged, pick(all, func(c *hindcast.Case) bool {
		return !c.Fresh() &&
			c.At == nil
	}), *evaluations, *intervals)
	fmt.Printf("%+v\n", m)
}

func pick(all []hindcast.Profile, keep func(*hindcast.Case) bool) (out []hindcast.Case) {
	for _, c := range hindcast.Pairs(all) {
		if keep(&c) && !c.Held() {
			out = append(out, c)
		}
	}
	return out
}

func run(m spread.Model, title string, params []param, cases []hindcast.Case, evaluations int,
	intervals bool) spread.Model {
	p := newProblem(params, cases)
	p.alike = cases[0].Kind != "surface"
	dates := map[string]bool{}
	for i := range cases {
		dates[cases[i].Group] = true
	}
	fmt.Printf("%s: %d cases of %d dates, score %.4f before", title, len(cases), len(dates), p.score(&m, -1))
	got := p.fit(m, -1, evaluations)
	got = p.fit(got, -1, evaluations)
	fmt.Printf(", %.4f fitted\n", p.score(&got, -1))
	var left []spread.Model
	if intervals {
		for g := range groups {
			left = append(left, p.fit(got, g, evaluations/3))
		}
	}
	for _, q := range params {
		fmt.Printf("  %-16s %10.4g", q.name, *q.at(&got))
		if intervals {
			var xs []float64
			for i := range left {
				xs = append(xs, *q.at(&left[i]))
			}
			sort.Float64s(xs)
			mean, v := 0.0, 0.0
			for _, x := range xs {
				mean += x / groups
			}
			for _, x := range xs {
				v += (x - mean) * (x - mean)
			}
			fmt.Printf("  +- %.2g", math.Sqrt(v*(groups-1)/groups))
		}
		fmt.Println()
	}
	return got
}
