package choice

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// Hours reads the times to compare: "all", or a list of times and ranges such
// as "9..17" (or 9-17) or "10:30,13" on the day of when and in its zone, or in full as
// "2026-04-18T09:00+02:00..2026-04-18T17:00+02:00". Ranges go by the hour; one
// that ends before it begins goes on after midnight. have are the hours of the
// forecast: all means those, and nothing outside them is taken.
func Hours(s string, when time.Time, have []time.Time) ([]time.Time, error) {
	if len(have) == 0 {
		return nil, fmt.Errorf("--hours needs a forecast: " +
			"name one under wind: in the flight file, or fetch one with 'windfall wind'")
	}
	if when.IsZero() {
		when = have[0]
	}
	if strings.TrimSpace(s) == "all" {
		var out []time.Time
		for _, t := range have {
			out = append(out, t.In(when.Location()))
		}
		return out, nil
	}
	var out []time.Time
	for part := range strings.SplitSeq(s, ",") {
		from, to, isRange := strings.Cut(part, "..")
		if m := dashed.FindStringSubmatch(strings.TrimSpace(part)); m != nil {
			from, to, isRange = m[1], m[2], true
		}
		a, err := clock(from, when)
		if err != nil {
			return nil, err
		}
		if !isRange {
			out = append(out, a)
			continue
		}
		b, err := clock(to, when)
		if err != nil {
			return nil, err
		}
		if b.Before(a) {
			b = b.AddDate(0, 0, 1)
		}
		if b.Before(a) || b.Sub(a) > 16*24*time.Hour {
			return nil, fmt.Errorf("--hours %q does not rise or is longer than 16 days; write such as 9..17", part)
		}
		for t := a; !t.After(b); t = t.Add(time.Hour) {
			out = append(out, t)
		}
	}
	first, last := have[0], have[len(have)-1]
	seen := map[int64]bool{}
	for _, t := range out {
		if t.Before(first) || t.After(last) {
			return nil, fmt.Errorf("--hours: %s is outside the forecast, which covers %s to %s; "+
				"choose hours within it or fetch a newer one", t.Format(time.RFC3339),
				first.In(t.Location()).Format(time.RFC3339), last.In(t.Location()).Format(time.RFC3339))
		}
		if seen[t.Unix()] {
			return nil, fmt.Errorf("--hours has %s twice; write each hour once", t.Format("15:04"))
		}
		seen[t.Unix()] = true
	}
	return out, nil
}

// dashed is a range as many write it; a full time has dashes of its own.
var dashed = regexp.MustCompile(`^(\d{1,2}(?::?\d{2})?)\s*[-\x{2013}]\s*(\d{1,2}(?::?\d{2})?)$`)

var clockForm = regexp.MustCompile(`^(\d{1,2})(?::?(\d{2}))?$`)

// clock reads 9, 09:00, 0900 on when's day, or a full time with its zone.
func clock(s string, when time.Time) (time.Time, error) {
	s = strings.TrimSpace(s)
	if m := clockForm.FindStringSubmatch(s); m != nil {
		h, _ := strconv.Atoi(m[1])
		min, _ := strconv.Atoi(m[2])
		if h < 24 && min < 60 {
			y, mo, d := when.Date()
			return time.Date(y, mo, d, h, min, 0, 0, when.Location()), nil
		}
	}
	for _, layout := range []string{time.RFC3339, "2006-01-02T15:04Z07:00"} {
		if t, err := time.Parse(layout, s); err == nil {
			return t.In(when.Location()), nil
		}
	}
	return time.Time{}, fmt.Errorf("--hours %q is not a time; "+
		"write such as 9..17, 10:30, 2026-04-18T09:00+02:00 or all", s)
}
