package evidence

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Contradiction is the error of sightings that no run explains: under every
// run of any weight half of them or more would have to be mistakes.
type Contradiction struct {
	Sightings []Sighting // all that were given
	A, B      *Sighting  // the two that disagree; B is nil where A disagrees with the flight itself
	Better    *Sighting  // the one of them that the flight and the rest agree with; nil: neither
	Explained float64    // posterior chance that more than half of the sightings are right
}

func (c *Contradiction) Error() string {
	switch {
	case c.A == nil:
		return fmt.Sprintf("no simulated flight explains the %d sighting(s): check them with windfall log, and the "+
			"flight file", len(c.Sightings))
	case c.B == nil:
		return fmt.Sprintf("no simulated flight explains sighting %s: check it, and the flight file; withdraw it, or "+
			"say --divided to see the map all the same", c.A.label())
	case c.Better != nil:
		other := c.A
		if c.Better == c.A {
			other = c.B
		}
		return fmt.Sprintf("sightings %s and %s disagree: no simulated flight explains both; the flight and the rest "+
			"fit %s better; withdraw %s or amend it, or say --divided to see the map all the "+
			"same", c.A.label(), c.B.label(), c.Better.short(), other.short())
	}
	return fmt.Sprintf("sightings %s and %s disagree: no simulated flight explains both; withdraw one or amend it, "+
		"or say --divided to see the map with either", c.A.label(), c.B.label())
}

func (s *Sighting) short() string {
	if s.ID != 0 {
		return fmt.Sprint(s.ID)
	}
	return "(" + strings.TrimSpace(s.String()) + ")"
}

const (
	leastDoubt = 1e-3 // even a sighting said to be sure is doubted this much when it comes to naming a contradiction
	explained  = 0.01 // below this chance that most sightings are right, nothing explains them
)

// contradiction looks for one in a sample of the posterior; nil: none.
func (s *sampler) contradiction(d *weighted) *Contradiction {
	terms := s.terms
	n := len(terms)
	single, both := make([]float64, n), make([]float64, n*n)
	chance := 0.0
	trust, count := make([]float64, n), make([]float64, n+1)
	for j, w := range d.w {
		if w == 0 {
			continue
		}
		for i, t := range terms {
			trust[i] = t.trust(d.batch[j].right[i], math.Max(1-*t.Sure, leastDoubt))
		}
		for a := range n {
			single[a] += w * trust[a]
			for b := range a {
				both[a*n+b] += w * trust[a] * trust[b]
			}
		}
		chance += w * mostly(trust, count)
	}
	if chance >= explained {
		return nil
	}
	c := &Contradiction{Explained: chance}
	for _, t := range terms {
		c.Sightings = append(c.Sightings, t.Sighting)
	}
	if n == 1 {
		c.A = &c.Sightings[0]
		return c
	}
	c.name(single, both)
	return c
}

// name picks the pair least likely to be right together; of equals, the one
// with the most believed member.
func (c *Contradiction) name(single, both []float64) {
	n := len(single)
	best := math.Inf(1)
	var ia, ib int
	for a := range n {
		for b := range a {
			v := both[a*n+b] - 1e-3*(single[a]+single[b])
			if v < best {
				best, ia, ib = v, b, a
			}
		}
	}
	if c.Sightings[ib].ID < c.Sightings[ia].ID {
		ia, ib = ib, ia
	}
	c.A, c.B = &c.Sightings[ia], &c.Sightings[ib]
	switch {
	case single[ia] < explained && single[ib] < explained:
		c.B = nil
		if single[ib] < single[ia] {
			c.A = &c.Sightings[ib]
		}
	case single[ia] > 0.9:
		c.Better = c.A
	case single[ib] > 0.9:
		c.Better = c.B
	}
}

// mostly is the chance that more than half of independent events of chances p
// happen; count has room for one more than p.
func mostly(p, count []float64) float64 {
	for i := range count {
		count[i] = 0
	}
	count[0] = 1
	for i, v := range p {
		for k := i + 1; k > 0; k-- {
			count[k] = count[k]*(1-v) + count[k-1]*v
		}
		count[0] *= 1 - v
	}
	sum := 0.0
	for k := len(p)/2 + 1; k <= len(p); k++ {
		sum += count[k]
	}
	return sum
}

// doubted asks for the contradiction again with no sighting surer than 0.95:
// sightings that allow no mistake leave a sample that fits none of them, which
// names nothing.
func (s *sampler) doubted(ctx context.Context, before batch, first *Contradiction) (*Contradiction, error) {
	changed := false
	var milder []*term
	for _, t := range s.terms {
		seen := t.Sighting
		if *seen.Sure > 0.95 && !t.overlooks() {
			v := 0.95
			seen.Sure, changed = &v, true
		}
		u, err := ready(seen, s.m)
		if err != nil {
			return nil, err
		}
		milder = append(milder, u)
	}
	if !changed {
		return first, nil
	}
	mild := newSampler(s.m, milder, Options{Seed: s.seed, Workers: s.workers})
	mild.done = s.done
	again := slices.Clone(before)
	for j := range again {
		r := &again[j]
		r.right = slices.Clone(r.right)
		for i := range r.right {
			r.right[i] += milder[i].logSure - s.terms[i].logSure
		}
		r.weigh(mild.wrong)
	}
	d, err := mild.sample(ctx, again, tuned.againWanted, tuned.againMost, nil)
	if err != nil || d == nil || d.eff == 0 {
		return first, err
	}
	c := mild.contradiction(d)
	if c == nil { // a mild doubt reconciles them: name the least believed
		return first, nil
	}
	c.Sightings = first.Sightings
	return c, nil
}
