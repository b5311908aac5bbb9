package sources

import (
	"fmt"
	"math"
	"time"

	"github.com/paulmach/orb"
)

// readArchiveJSON reads soundings in the JSON of the Iowa State archive:
// profiles, each with station, valid and a profile of levels with pres (hPa),
// hght (m), tmpc, dwpc (degC), drct (degrees), sknt (knots), null or NaN where
// not reported.
func readArchiveJSON(name string, doc *node, opt Options) (Report, error) {
	profiles := doc.get("profiles")
	if profiles == nil || profiles.arr == nil {
		return Report{}, at(name, doc.line, "profiles is %s; a list of soundings belongs there", profiles.show())
	}
	if len(profiles.arr) == 0 {
		return Report{}, at(name, doc.line,
			"profiles is an empty list: the archive has no sounding for that hour; ask for another")
	}
	var best *ascent
	for i, p := range profiles.arr {
		a, err := jsonAscent(name, fmt.Sprintf("profiles[%d]", i), p)
		if err != nil {
			return Report{}, err
		}
		if best == nil || better(best.started(), a.started(), opt.When) {
			best = a
		}
	}
	return best.report(name, len(profiles.arr), opt)
}

func jsonAscent(name, where string, p *node) (*ascent, error) {
	a := &ascent{at: orb.Point{math.NaN(), math.NaN()}}
	valid := p.get("valid")
	if valid == nil {
		return nil, at(name, p.line, "%s has no valid time; write one such as \"2026-03-14T12:00:00Z\"", where)
	}
	var err error
	if a.nominal, err = parseTime(valid.text()); err != nil {
		return nil, at(name, valid.line, "%s.valid %s is no time; write one such as \"2026-03-14T12:00:00Z\"", where,
			valid.show())
	}
	a.label = fmt.Sprintf("sounding, station %s, %s", p.get("station").text(), stamp(a.nominal))
	list := p.get("profile")
	if list == nil || list.arr == nil {
		return nil, at(name, p.line, "%s.profile is %s; a list of levels belongs there", where, list.show())
	}
	for i, l := range list.arr {
		s, err := jsonSample(name, fmt.Sprintf("%s.profile[%d]", where, i), l)
		if err != nil {
			return nil, err
		}
		a.samples = append(a.samples, s)
	}
	return a, nil
}

func jsonSample(name, where string, l *node) (sample, error) {
	s := sample{line: l.line, where: where + ": "}
	if l.obj == nil {
		return s, at(name, l.line, "%s is %s; an object with pres, hght, drct and sknt belongs there", where, l.show())
	}
	for _, f := range []struct {
		key         string
		into        *float64
		factor, add float64
	}{
		{"pres", &s.pressure, 100, 0}, {"hght", &s.elevation, 1, 0},
		{"tmpc", &s.temperature, 1, celsius}, {"dwpc", &s.dew, 1, celsius},
		{"drct", &s.from, 1, 0}, {"sknt", &s.speed, knot, 0},
	} {
		v, ok := l.get(f.key).number()
		if !ok {
			return s, at(name, l.get(f.key).line, "%s.%s %s is no number; correct it or write null", where, f.key,
				l.get(f.key).show())
		}
		*f.into = v*f.factor + f.add
	}
	return s, checkSample(name, s)
}

// parseTime reads the times found in weather files; a time without a zone is
// UTC.
func parseTime(s string) (time.Time, error) {
	for _, layout := range []string{time.RFC3339, "2006-01-02T15:04:05", "2006-01-02T15:04", "2006-01-02T15:04Z07:00",
		"2006-01-02 15:04:05", "2006-01-02 15:04"} {
		if t, err := time.Parse(layout, s); err == nil {
			return t.UTC(), nil
		}
	}
	return time.Time{}, fmt.Errorf("%q is no time", s)
}
