package chance

import (
	"math"

	"windfall/geo"
)

// Chance is the probability of a zone or event.
type Chance struct {
	Name        string  `json:"name"`
	Kind        Kind    `json:"kind"`
	Probability float64 `json:"probability"`
	SE          float64 `json:"se"` // Monte Carlo standard error
	Outcomes    []Part  `json:"outcomes,omitempty"`
}

// Part is the share of a chance that comes with one outcome: the probability
// that the flight has this outcome and comes down in the zone. The parts of a
// chance add up to it.
type Part struct {
	Name        string  `json:"name"`
	Probability float64 `json:"probability"`
	SE          float64 `json:"se"`
}

// Cloud is landing points with their weights (nil: equal) and outcomes: Outcome
// holds for each point an index into Names. Outcome and Names may be nil.
type Cloud struct {
	At      []geo.XY
	Weights []float64
	Outcome []int
	Names   []string
}

// Of returns the chance of zone z.
func (c Cloud) Of(z Zone) Chance {
	return c.Event(z.Name, z.Kind, func(i int) bool { return z.Contains(c.At[i]) })
}

// Event returns the chance of what holds(i) tells of point i.
func (c Cloud) Event(name string, kind Kind, holds func(i int) bool) Chance {
	out := Chance{Name: name, Kind: kind}
	in := make([]bool, len(c.At))
	var sum, sum2 float64
	share := make([]float64, len(c.Names))
	for i := range in {
		w := c.weight(i)
		sum += w
		sum2 += w * w
		if !holds(i) {
			continue
		}
		in[i] = true
		out.Probability += w
		if c.Outcome != nil {
			share[c.Outcome[i]] += w
		}
	}
	if sum == 0 {
		return out
	}
	n := sum * sum / sum2
	out.Probability = math.Min(1, out.Probability/sum)
	out.SE = c.se(out.Probability, sum, n, func(i int) bool { return in[i] })
	for k, name := range c.Names {
		p := share[k] / sum
		if p > 0 {
			se := c.se(p, sum, n, func(i int) bool { return in[i] && c.Outcome[i] == k })
			out.Outcomes = append(out.Outcomes, Part{Name: name, Probability: p, SE: se})
		}
	}
	return out
}

func (c Cloud) weight(i int) float64 {
	if c.Weights == nil {
		return 1
	}
	return c.Weights[i]
}

// se returns the standard error of p: sqrt(p(1-p)/n) for equal weights, for
// others sqrt(sum w^2 (1{in}-p)^2) / sum w, that of a ratio of weighted sums
// (Owen 2013, Monte Carlo theory, methods and examples, eq. 9.9). Where all or
// none of the points are in, both would say 0; then p is taken as (k+1)/(n+2),
// Laplace's rule of succession, which gives about 1/n.
func (c Cloud) se(p, sum, n float64, in func(i int) bool) float64 {
	if p <= 0 || p >= 1 {
		p = (n*p + 1) / (n + 2)
		return math.Sqrt(p * (1 - p) / n)
	}
	if c.Weights == nil {
		return math.Sqrt(p * (1 - p) / n)
	}
	var v float64
	for i, w := range c.Weights {
		d := -p
		if in(i) {
			d = 1 - p
		}
		v += w * w * d * d
	}
	return math.Sqrt(v) / sum
}

// Difference returns the mean of a-b over paired runs of equal weight, a and b
// being whether run i was in, and its standard error. Runs that agree add no
// error: this is what common random numbers buy.
func Difference(a, b []bool) (mean, se float64) {
	n := float64(len(a))
	var up, down float64
	for i := range a {
		switch {
		case a[i] && !b[i]:
			up++
		case b[i] && !a[i]:
			down++
		}
	}
	mean = (up - down) / n
	v := (up+down)/n - mean*mean
	if up+down == 0 { // no run differed: as for a chance of none
		p := 1 / (n + 2)
		v = p * (1 - p)
	}
	return mean, math.Sqrt(v / n)
}
