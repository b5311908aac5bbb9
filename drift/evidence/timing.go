package evidence

import (
	"math"

	"windfall/drift"
)

// Timing is when something happened.
type Timing struct {
	Observer // who heard it from where
	Moment
}

// Name is how messages call it.
func (Timing) Name() string { return "timing" }

// Entry is the kind of its logbook entries.
func (Timing) Entry() string { return "timing" }

func (t Timing) filled() (Kind, float64) {
	t.Moment = t.Moment.filled()
	return t, 0.95
}

func (Timing) limits() []limit { return nil }

func (t Timing) check() error {
	if t.Event == "" || !t.timed() {
		return faulty("a timing needs an event and a time: {event} with {at}, {after} or {before}")
	}
	if t.Event == t.Since {
		return faulty("{since} %q is the event itself: give the earlier of the two", t.Since)
	}
	return nil
}

func (t Timing) words(float64) string {
	if t.Heard {
		return t.Event + " heard"
	}
	return t.Event
}

func (t Timing) ready(_ model, p post) (law, error) { return &timingLaw{clock{t.Moment, p}}, nil }

// timingLaw is normal about the run's time for a stated one; for an interval
// the chance that the run's time, blurred by TimeSD, lies in it. A mistaken
// time is anywhere between 0 and twice the stated one (at least 60 s).
type timingLaw struct{ clock }

func (t *timingLaw) mistaken() float64 {
	if t.At != nil {
		return -math.Log(math.Max(2**t.At, 60))
	}
	return math.Log(0.5)
}

func (t *timingLaw) path() bool { return t.Heard && t.Event != "landing" }

func (t *timingLaw) features() int { return 1 }

func (t *timingLaw) feature(l *drift.Landing, w *drift.Work, f []float64) { f[0] = t.seconds(l, w) }

func (t *timingLaw) right(l *drift.Landing, w *drift.Work) float64 {
	v := t.seconds(l, w)
	if t.At != nil {
		return logNormal(v-*t.At, t.TimeSD)
	}
	if math.IsNaN(v) { // it has not come: later than any time
		v = math.Inf(1)
	}
	p := 1.0
	if t.After != nil {
		p = upper((*t.After - v) / t.TimeSD)
	}
	if t.Before != nil {
		p *= upper((v - *t.Before) / t.TimeSD)
	}
	return math.Log(p)
}

func (t *timingLaw) widen(e *extremes, l *drift.Landing, w *drift.Work) { e.clock(&t.clock, l, w) }

func (t *timingLaw) judge(e *extremes) (caution string, err error) {
	if err := t.clock.judge(e); err != nil {
		return "", err
	}
	slack := checkSDs * t.TimeSD
	switch {
	case t.After != nil && *t.After > e.latest+slack:
		return "", outOfReach("%s after %.4g s: in simulated flights it comes by %.4g s: check the time", t.Event,
			*t.After, e.latest)
	case t.Before != nil && *t.Before < e.earliest-slack:
		return "", outOfReach("%s before %.4g s: in simulated flights it comes from %.4g s on: check the time", t.Event,
			*t.Before, e.earliest)
	}
	return "", nil
}
