package evidence

import "windfall/drift"

// Weigher weighs single runs of a model by sightings, each as Locate does:
// whoever else asks what was seen, such as learning, asks the same.
type Weigher struct {
	terms []*term
	seen  []Sighting
}

// NewWeigher makes sightings ready for a model. One that cannot be is an error
// that names it.
func NewWeigher(m *drift.Model, seen []Sighting) (*Weigher, error) {
	terms, err := readyAll(m, seen)
	if err != nil {
		return nil, err
	}
	g := &Weigher{terms: terms}
	for _, t := range terms {
		g.seen = append(g.seen, t.Sighting)
	}
	return g, nil
}

// Sightings are those weighed, in an order that does not depend on that of
// logging, their defaults filled.
func (g *Weigher) Sightings() []Sighting { return g.seen }

// Records tells whether the Work that flies must record.
func (g *Weigher) Records() bool {
	for _, t := range g.terms {
		if t.recorded() {
			return true
		}
	}
	return false
}

// Weigh fills, by sighting, the logarithm of its chance or chance density under
// a run, mistakes included, and the chance that it is a mistake given the run.
func (g *Weigher) Weigh(l *drift.Landing, w *drift.Work, log, mistake []float64) {
	for i, t := range g.terms {
		right := t.likelihood(l, w)
		log[i] = logAdd(right, t.wrong)
		mistake[i] = 1 - t.trust(right, 1-*t.Sure)
	}
}
