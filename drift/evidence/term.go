package evidence

import (
	"fmt"
	"math"

	"windfall/drift"
)

// law is a kind made ready for one model: what a run makes of it.
type law interface {
	// right is the logarithm of the chance, or chance density, of what was told
	// where it is right, under a run; NaN is none.
	right(l *drift.Landing, w *drift.Work) float64
	// mistaken is the same where it is a mistake: nothing of the flight,
	// anything that its instrument can show. -Inf: it can only be overlooked.
	mistaken() float64
	path() bool    // whether the run's path must be recorded
	features() int // how many numbers feature fills
	// feature fills f with smooth functions of the run that the sighting looks
	// at: the place at its moment (the middle of its interval), or the time.
	feature(l *drift.Landing, w *drift.Work, f []float64)
}

// noMoment is the rest of a law that looks at the landing alone.
type noMoment struct{}

func (noMoment) path() bool                                     { return false }
func (noMoment) features() int                                  { return 0 }
func (noMoment) feature(*drift.Landing, *drift.Work, []float64) {}

// term is a sighting made ready for one model.
type term struct {
	Sighting
	law
	logSure float64
	flat    float64 // law.mistaken
	wrong   float64 // log of the chance that it is a mistake and says this
}

// ready makes the term of s for a model.
func ready(s Sighting, m model) (*term, error) {
	if err := s.Ready(); err != nil {
		return nil, fmt.Errorf("sighting %s: %w", s.label(), err)
	}
	p, err := standAt(s.Kind.Where(), m)
	if err != nil {
		return nil, fmt.Errorf("sighting %s: %w", s.label(), err)
	}
	t := &term{Sighting: s, logSure: math.Log(*s.Sure)}
	kind := s.Kind
	if h, ok := kind.(habitual); ok && s.Habit != nil {
		kind = h.corrected(*s.Habit)
	}
	if t.law, err = kind.ready(m, p); err != nil {
		return nil, fmt.Errorf("sighting %s: %w", s.label(), err)
	}
	t.flat = t.law.mistaken()
	t.wrong = t.flat + math.Log1p(-*s.Sure)
	return t, nil
}

// recorded tells whether the runs' paths must be kept.
func (t *term) recorded() bool { return t.law.path() || t.Kind.When().opens() }

// overlooks tells whether the sighting is one that holds or not in a run,
// with no mistake mixed in.
func (t *term) overlooks() bool { return math.IsInf(t.flat, -1) }

// likelihood returns the logarithm of the chance (or chance density) that the
// sighting is right and says what it says, under a run. The whole likelihood
// adds that of a mistake, t.wrong, which no run changes. Of one that overlooks
// it is the whole: 0 where it holds, the doubt where it does not.
func (t *term) likelihood(l *drift.Landing, w *drift.Work) float64 {
	right := t.law.right(l, w)
	switch {
	case t.overlooks() && right == 0:
		return 0
	case t.overlooks():
		return math.Log1p(-*t.Sure)
	case math.IsNaN(right):
		return math.Inf(-1)
	}
	return t.logSure + right
}

// trust is the chance that the sighting is right under a run with that
// log-likelihood, when a mistake has chance doubt.
func (t *term) trust(right, doubt float64) float64 {
	if t.overlooks() {
		if right == 0 {
			return 1
		}
		return 0
	}
	if math.IsInf(right, -1) {
		return 0
	}
	return 1 / (1 + math.Exp(t.flat+math.Log(doubt)-right))
}

// logNormal is the logarithm of the normal density at d.
func logNormal(d, sd float64) float64 {
	return -0.5*(d/sd)*(d/sd) - math.Log(sd) - 0.5*math.Log(2*math.Pi)
}

// upper is the chance that a standard normal exceeds x.
func upper(x float64) float64 { return 0.5 * math.Erfc(x/math.Sqrt2) }

func clamp(v, lo, hi float64) float64 { return math.Max(lo, math.Min(v, hi)) }

// wrapDeg brings a difference of angles into -180..180.
func wrapDeg(d float64) float64 { return math.Remainder(d, 360) }
