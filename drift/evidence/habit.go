package evidence

import (
	"math"

	"windfall/drift"
	"windfall/geo"
)

// Habit is how a person's sightings of one kind are off, as flights that were
// found have shown. A sighting keeps its words; it is weighed as corrected.
type Habit struct {
	Bias  float64 // degrees clockwise, or s late
	Scale float64 // of the error that was said, or assumed
}

// habitual is a kind that can be corrected for a habit.
type habitual interface{ corrected(h Habit) Kind }

func (b Bearing) corrected(h Habit) Kind {
	deg := geo.NormDeg(*b.BearingDeg - h.Bias)
	b.BearingDeg, b.BearingSD = &deg, b.BearingSD*h.Scale
	return b
}

func (t Timing) corrected(h Habit) Kind {
	for _, v := range []**float64{&t.At, &t.After, &t.Before} {
		if *v != nil {
			s := math.Max(**v-h.Bias, 0)
			*v = &s
		}
	}
	t.TimeSD *= h.Scale
	return t
}

// Offs fills, by sighting, how far what was said lies from the run: degrees
// clockwise for a bearing, s late for a timing, NaN for what is neither or was not
// of one moment.
func (g *Weigher) Offs(l *drift.Landing, w *drift.Work, out []float64) {
	for i, t := range g.terms {
		out[i] = math.NaN()
		switch k := t.law.(type) {
		case *bearingLaw:
			when := k.when(l, w)
			if k.Event == "" && k.At == nil || math.IsNaN(when) {
				continue
			}
			m := moment{t: when, x: l.At.X, y: l.At.Y}
			if k.Event != "landing" {
				m = at(w.Path, when)
			}
			deg, _ := k.direction(&m)
			out[i] = wrapDeg(*k.bearing.BearingDeg - deg)
		case *timingLaw:
			if k.At != nil && k.Since == "" {
				out[i] = *k.At - k.seconds(l, w)
			}
		}
	}
}
