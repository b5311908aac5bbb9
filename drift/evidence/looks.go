package evidence

import (
	"math"

	"windfall/drift"
)

// What Looked may be.
const (
	looksOpen = "open" // a canopy or streamer was seen out and working
	looksFast = "fast" // it was seen coming down fast
)

const (
	fastMps     = 18.0 // m/s, half of all people call this fast: a choice of ours
	fastSpread  = 0.35 // of the logarithm of the speed
	openSeen    = 0.95 // chance that an open canopy is called so
	openTangled = 0.30 // the same of a tangled one
	openFalse   = 0.03 // the same with nothing out
)

// Looks is how it came down: under an open canopy, or fast.
type Looks struct {
	Observer
	Moment        // nothing said: at the landing
	Looked string `json:"looked,omitempty"` // open or fast
}

// Name is how messages call it.
func (Looks) Name() string { return "looks" }

// Entry is the kind of its logbook entries.
func (Looks) Entry() string { return "sighting" }

func (k Looks) filled() (Kind, float64) {
	k.Moment = k.Moment.filled()
	return k, 0.95
}

func (Looks) limits() []limit { return nil }

func (k Looks) check() error {
	if k.Looked != looksOpen && k.Looked != looksFast {
		return faulty("{looked} %q is not known: write open or fast", k.Looked)
	}
	if k.ranged() {
		return faulty("{looked} %s needs one moment or none: give {at} or {event} in place of {after} and {before}", k.Looked)
	}
	return nil
}

func (k Looks) words(float64) string { return "looked " + k.Looked }

func (k Looks) ready(m model, p post) (law, error) {
	law := &looksLaw{clock: clock{k.Moment, p}, looked: k.Looked, tangled: -1, nothing: -1}
	for i, o := range m.Outcomes() {
		switch o.Name {
		case "tangled":
			law.tangled = i
		case "no recovery":
			law.nothing = i
		}
	}
	return law, nil
}

// looksLaw is the chance that a right observer would say open, or fast. A
// mistaken one says either as often.
type looksLaw struct {
	clock
	looked  string
	tangled int // index of that outcome, -1
	nothing int // index of "no recovery", -1
}

func (k *looksLaw) mistaken() float64 { return math.Log(0.5) }

func (k *looksLaw) path() bool { return true }

func (k *looksLaw) features() int { return 0 }

func (k *looksLaw) feature(*drift.Landing, *drift.Work, []float64) {}

func (k *looksLaw) right(l *drift.Landing, w *drift.Work) float64 {
	when := k.when(l, w)
	if k.Event == "" && k.At == nil {
		when = l.LandingS
	}
	if k.looked == looksFast {
		return math.Log(fast(when, l, w))
	}
	first := eventTime("opening", l, w)
	switch {
	case l.Outcome == k.nothing || !(first <= when):
		return math.Log(openFalse)
	case l.Outcome == k.tangled:
		return math.Log(openTangled)
	}
	return math.Log(openSeen)
}

// fast is the chance that the speed of the fall at a time is called fast.
func fast(when float64, l *drift.Landing, w *drift.Work) float64 {
	v := l.LandingMps
	if when < l.LandingS {
		m := at(w.Path, when)
		v = math.Max(-m.vz, 0.01)
	}
	return openFalse + (1-2*openFalse)*upper(-math.Log(v/fastMps)/fastSpread)
}
