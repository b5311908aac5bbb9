package evidence

import (
	"fmt"
	"math"

	"windfall/drift"
)

// Height is how high something happened.
type Height struct {
	Observer
	Moment
	HeightM  *float64 `json:"height_m,omitempty"`    // m above the pad
	HeightSD float64  `json:"height_sd_m,omitempty"` // m; 0: 3 % of the height, at least 5 m
}

// Name is how messages call it.
func (Height) Name() string { return "height" }

// Entry is the kind of its logbook entries.
func (Height) Entry() string { return "height" }

// filled leaves the error of the time at 0: an altimeter knows its own.
func (h Height) filled() (Kind, float64) {
	if h.HeightM != nil && h.HeightSD == 0 {
		h.HeightSD = math.Max(5, 0.03**h.HeightM)
	}
	return h, 0.95
}

func (h Height) limits() []limit {
	return []limit{
		{"height", h.HeightM, 0, 50e3, "metres above the pad, up to 50 km"},
		{"height-sd", &h.HeightSD, 0, 10e3, "metres, such as 10 m"},
	}
}

func (h Height) check() error {
	if h.HeightM == nil {
		return faulty("a height needs {height}, metres above the pad")
	}
	if h.Event == "" && h.At == nil {
		return faulty("a height needs a moment: {event} or {at}")
	}
	if h.ranged() {
		return faulty("a height needs one moment: give {at} or {event} in place of {after} and {before}")
	}
	return nil
}

func (h Height) words(float64) string {
	v := math.NaN()
	if h.HeightM != nil {
		v = *h.HeightM
	}
	if h.Event != "" {
		return fmt.Sprintf("height %.4g m at %s", v, h.Event)
	}
	return fmt.Sprintf("height %.4g m", v)
}

func (h Height) ready(_ model, p post) (law, error) { return &heightLaw{clock{h.Moment, p}, h}, nil }

// heightLaw is normal about the run's height at the event or time. A mistaken
// one is anywhere between 0 and twice the stated one (at least 100 m).
type heightLaw struct {
	clock
	height Height
}

func (h *heightLaw) mistaken() float64 { return -math.Log(math.Max(2**h.height.HeightM, 100)) }

func (h *heightLaw) path() bool { return h.Event != "apogee" }

func (h *heightLaw) features() int {
	if h.path() {
		return 3
	}
	return 0
}

func (h *heightLaw) feature(l *drift.Landing, w *drift.Work, f []float64) {
	if h.path() {
		h.place(l, w, f)
	}
}

func (h *heightLaw) right(l *drift.Landing, w *drift.Work) float64 {
	z, sd := l.ApogeeM, h.height.HeightSD
	if h.path() {
		m := at(w.Path, h.when(l, w))
		if math.IsNaN(m.t) {
			m.z = math.NaN()
		}
		z, sd = m.z, math.Hypot(sd, m.vz*h.TimeSD)
	}
	return logNormal(z-*h.height.HeightM, sd)
}

func (h *heightLaw) widen(e *extremes, l *drift.Landing, w *drift.Work) {
	if !e.clock(&h.clock, l, w) {
		return
	}
	e.highest = math.Max(e.highest, at(w.Path, math.Min(h.when(l, w), l.LandingS)).z)
	if h.Event == "apogee" {
		e.highest = math.Max(e.highest, l.ApogeeM)
	}
}

func (h *heightLaw) judge(e *extremes) (caution string, err error) {
	if err := h.clock.judge(e); err != nil {
		return "", err
	}
	if s := &h.height; *s.HeightM > e.highest+checkSDs*s.HeightSD {
		return "", outOfReach("height %.4g m: the highest simulated flight is at %.4g m then: check it (is it feet?)",
			*s.HeightM, e.highest)
	}
	return "", nil
}
