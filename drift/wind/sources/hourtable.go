package sources

import (
	"fmt"
	"slices"
	"time"
)

// hourTable is a forecast typed or pasted as a table: the columns of levels by
// hand and one of times; the heights of an hour rise, the hours rise.
type hourTable struct {
	times []time.Time
	hours [][]Level
}

// add takes a row over.
func (t *hourTable) add(when time.Time, l Level) error {
	n := len(t.times)
	switch {
	case n == 0 || when.After(t.times[n-1]):
		t.times, t.hours = append(t.times, when), append(t.hours, []Level{l})
		return nil
	case when.Before(t.times[n-1]):
		return fmt.Errorf("%s is before the hour above it; put the hours in order, each hour's heights together", stamp(when))
	}
	last := t.hours[n-1]
	if l.Height <= last[len(last)-1].Height {
		return fmt.Errorf("%g m is not above the level before it; put the heights of an hour in rising order, each once",
			l.Height)
	}
	t.hours[n-1] = append(last, l)
	return nil
}

// report is the table at the launch, interpolated between hours component by
// component at the heights of both.
func (t *hourTable) report(name string, line int, opt Options) (Report, error) {
	head := &node{obj: map[string]*node{"time": {line: line}}}
	h := &hourly{name: name, node: head, times: t.times}
	r := Report{Kind: Forecast, Label: name}
	if err := h.pick(opt.When, &r); err != nil {
		return r, err
	}
	r.Source = "hourly table " + name + " for " + stamp(r.Valid)
	a, b := t.hours[h.i], t.hours[h.j]
	var heights []float64
	for _, l := range slices.Concat(a, b) {
		heights = append(heights, l.Height)
	}
	slices.Sort(heights)
	for _, z := range slices.Compact(heights) {
		p, q := interpolate(a, z), interpolate(b, z)
		u0, v0 := components(p.FromDeg, p.Speed)
		u1, v1 := components(q.FromDeg, q.Speed)
		from, speed := polar(u0+h.f*(u1-u0), v0+h.f*(v1-v0))
		r.Levels = append(r.Levels, Level{Height: z, Elevation: p.Elevation, FromDeg: from, Speed: speed})
	}
	return r, nil
}

// rowTime reads a time with its zone, or one of the launch's own zone: a full
// one, or an hour and minute of the launch's day.
func rowTime(s string, opt Options) (time.Time, error) {
	for _, layout := range []string{time.RFC3339, "2006-01-02T15:04Z07:00", "2006-01-02 15:04Z07:00"} {
		if t, err := time.Parse(layout, s); err == nil {
			return t.UTC(), nil
		}
	}
	zone := opt.When.Location()
	for _, layout := range []string{"2006-01-02T15:04:05", "2006-01-02T15:04", "2006-01-02 15:04"} {
		if t, err := time.ParseInLocation(layout, s, zone); err == nil {
			return t.UTC(), nil
		}
	}
	if t, err := time.Parse("15:04", s); err == nil && !opt.When.IsZero() {
		y, m, d := opt.When.Date()
		return time.Date(y, m, d, t.Hour(), t.Minute(), 0, 0, zone).UTC(), nil
	}
	return time.Time{}, fmt.Errorf("%.30q is no time; write one such as 2026-03-14T10:00, or 10:00 of the launch's day", s)
}
