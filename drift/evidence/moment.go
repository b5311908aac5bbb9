package evidence

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"windfall/drift"
)

// Moment is when something was seen: an event, a time, an interval, or nothing
// ("last seen": any time in the air). Pointers are nil where nothing was said.
type Moment struct {
	Event  string   `json:"event,omitempty"`     // burnout, apogee, ejection, opening, landing
	At     *float64 `json:"at_s,omitempty"`      // s after ignition, or after Since
	After  *float64 `json:"after_s,omitempty"`   // s, the same way: not before
	Before *float64 `json:"before_s,omitempty"`  // s, the same way: not later
	Since  string   `json:"since,omitempty"`     // the event that times count from; "": ignition
	TimeSD float64  `json:"time_sd_s,omitempty"` // s; 0: 1
	Heard  bool     `json:"heard,omitempty"`     // the time is of the sound, heard where the observer stood
}

// When is the moment itself, for the kinds that have one.
func (m Moment) When() Moment { return m }

// events are the names a sighting may use for a moment of the flight.
// "opening" is the first device's; "opening 2" the second's, and so on.
var events = [...]string{"burnout", "apogee", "ejection", "opening", "landing"}

// knownEvent tells whether name is one a sighting may use.
func knownEvent(name string) bool {
	if slices.Contains(events[:], name) {
		return true
	}
	var n int
	_, err := fmt.Sscanf(name, "opening %d", &n)
	return err == nil && n >= 1 && n <= 9 && name == fmt.Sprintf("opening %d", n)
}

func (m Moment) timed() bool { return m.At != nil || m.ranged() }

func (m Moment) ranged() bool { return m.After != nil || m.Before != nil }

// filled returns the moment with the error of its time.
func (m Moment) filled() Moment {
	if m.TimeSD == 0 && m.timed() {
		m.TimeSD = 1
	}
	return m
}

func (m *Moment) limits() []limit {
	const say = "seconds after ignition, such as 31 s"
	return []limit{
		{"at", m.At, 0, 86400, say},
		{"after", m.After, 0, 86400, say},
		{"before", m.Before, 0, 86400, say},
		{"time-sd", &m.TimeSD, 0, 3600, "seconds, such as 2 s"},
	}
}

func (m Moment) check() error {
	for _, e := range []struct{ field, name string }{{"event", m.Event}, {"since", m.Since}} {
		if e.name != "" && !knownEvent(e.name) {
			return faulty("{"+e.field+"} %q is not known: write one of %s", e.name, strings.Join(events[:], ", "))
		}
	}
	switch {
	case m.After != nil && m.Before != nil && *m.After >= *m.Before:
		return faulty("{after} %g s is not earlier than {before} %g s: swap them", *m.After, *m.Before)
	case m.At != nil && m.ranged():
		return faulty("{at} %g s and an interval ({after}, {before}) cannot both be: give one of them", *m.At)
	case m.Since != "" && !m.timed():
		return faulty("{since} %q needs a time that counts from it: {at}, {after} or {before}", m.Since)
	}
	return nil
}

// words says the times; the event belongs to what is told.
func (m Moment) words() string {
	var b strings.Builder
	for _, t := range []struct {
		name string
		v    *float64
	}{{"at", m.At}, {"after", m.After}, {"before", m.Before}} {
		if t.v != nil {
			fmt.Fprintf(&b, " %s %.4g s", t.name, *t.v)
		}
	}
	if m.Since != "" {
		fmt.Fprintf(&b, " since %s", m.Since)
	}
	return b.String()
}

// opens tells whether the moment is one that only the flight's path tells.
func (m Moment) opens() bool {
	return strings.HasPrefix(m.Event, "opening") || strings.HasPrefix(m.Since, "opening")
}

// clock is a moment as one observer has it in the runs of a model.
type clock struct {
	Moment
	post
}

// seconds is the run's time of the event, s after Since, as the observer has it.
func (c *clock) seconds(l *drift.Landing, w *drift.Work) float64 {
	v := eventTime(c.Event, l, w) - eventTime(c.Since, l, w)
	if c.Heard {
		v += c.away(l, w) / soundMps
	}
	return v
}

// soundMps is the speed of sound, m/s, in air near 15 degC.
const soundMps = 340.0

// away is the distance in m from the observer to the vehicle at the event.
func (c *clock) away(l *drift.Landing, w *drift.Work) float64 {
	if c.Event == "landing" {
		return l.At.Sub(c.from).Norm()
	}
	m := at(w.Path, eventTime(c.Event, l, w))
	return math.Hypot(math.Hypot(m.x-c.from.X, m.y-c.from.Y), m.z-c.eye)
}

// when is the run's time of the sighting's one moment, NaN if it never came.
func (c *clock) when(l *drift.Landing, w *drift.Work) float64 {
	if c.Event != "" {
		return eventTime(c.Event, l, w)
	}
	if c.At != nil {
		return *c.At + eventTime(c.Since, l, w)
	}
	return math.NaN()
}

// span is the interval in which the run was in the air and may have been seen,
// and how long the interval is that was said, s. All are NaN where Since never came.
func (c *clock) span(l *drift.Landing, w *drift.Work) (from, to, whole float64) {
	base := eventTime(c.Since, l, w)
	if math.IsNaN(base) {
		return base, base, base
	}
	to = l.LandingS
	if c.After != nil {
		from = *c.After + base
	}
	if c.Before != nil {
		to = *c.Before + base
	}
	return from, math.Min(to, l.LandingS), to - from
}

// place fills f with the vehicle's place at the moment, or in the middle of the interval.
func (c *clock) place(l *drift.Landing, w *drift.Work, f []float64) {
	when := c.when(l, w)
	if c.Event == "" && c.At == nil {
		from, to, _ := c.span(l, w)
		when = (from + to) / 2
	}
	if math.IsNaN(when) {
		f[0], f[1], f[2] = when, when, when
		return
	}
	m := at(w.Path, when)
	f[0], f[1], f[2] = m.x, m.y, m.z
}
