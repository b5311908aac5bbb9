package sources

import (
	"bufio"
	"fmt"
	"math"
	"regexp"
	"strings"
	"time"
)

var (
	reportStart    = regexp.MustCompile(`^(METAR|SPECI|TAF)\b`)
	reportNoKey    = regexp.MustCompile(`^[A-Z][A-Z0-9]{3} \d{6}Z\b`)
	bulletinHeader = regexp.MustCompile(`^[A-Z]{4}\d{2} [A-Z]{4} \d{6}( [A-Z]{3})?$|^\d{3}$`)
	dateLine       = regexp.MustCompile(`^(\d{4})[/-](\d{2})[/-](\d{2}) (\d{2}):(\d{2})$`)
)

// looksLikeReport tells aerodrome reports by their first lines.
func looksLikeReport(text string) bool {
	for i, l := range strings.SplitN(text, "\n", 6) {
		l = strings.Join(strings.Fields(l), " ")
		if reportStart.MatchString(l) || reportNoKey.MatchString(l) || (i == 0 && bulletinHeader.MatchString(l)) {
			return true
		}
	}
	return false
}

// rawReport is the text of a report, from its keyword to its end.
type rawReport struct {
	line int
	text string
	date time.Time // from a line with the date above it; zero: none
}

// splitReports cuts a file into reports: one begins with its keyword or with
// station and time, runs over lines and ends with '=' or where the next begins.
func splitReports(sc *lines) []rawReport {
	var out []rawReport
	open := false
	var date time.Time
	for sc.next() {
		l := strings.Join(strings.Fields(sc.text), " ")
		if g := dateLine.FindString(l); g != "" {
			date, _ = time.Parse("2006-01-02 15:04", strings.ReplaceAll(g, "/", "-"))
			open = false
			continue
		}
		if l == "" || l[0] == '#' || bulletinHeader.MatchString(l) {
			open = false
			continue
		}
		for _, part := range strings.SplitAfter(l, "=") {
			part = strings.TrimSpace(part)
			if part == "" {
				continue
			}
			starts := reportStart.MatchString(part) || reportNoKey.MatchString(part)
			last := len(out) - 1
			switch {
			case part == "=":
			case open && (!starts || isKeyword(out[last].text)):
				out[last].text += " " + part
			default:
				out = append(out, rawReport{sc.line, part, date})
				date = time.Time{}
			}
			open = !strings.HasSuffix(part, "=")
		}
	}
	return out
}

func isKeyword(s string) bool {
	return s == "METAR" || s == "SPECI" || s == "METAR COR" || s == "SPECI COR"
}

// readMETAR takes the newest report at or before the launch, else the first
// after it; reports without wind, NIL ones and forecasts (TAF) are passed over.
func readMETAR(name string, in *bufio.Reader, opt Options) (Report, error) {
	sc := newLines(in)
	raws := splitReports(sc)
	if sc.err != nil {
		return Report{}, at(name, sc.line, "%v", sc.err)
	}
	var warnings []string
	var bad error
	var best *metar
	var bestTime, ref time.Time
	count := 0
	for _, raw := range raws {
		if strings.HasPrefix(raw.text, "TAF") {
			warnings = append(warnings, fmt.Sprintf("%s:%d: an aerodrome forecast (TAF) is not read as wind", name, raw.line))
			continue
		}
		m, err := decodeMETAR(raw.text)
		if err != nil {
			err = at(name, raw.line, "%v", err)
			if bad == nil {
				bad = err
			}
			warnings = append(warnings, err.Error()+"; report left out")
			continue
		}
		if m.nil_ || math.IsNaN(m.speed) || (math.IsNaN(m.from) && !m.variable) {
			warnings = append(warnings, fmt.Sprintf("%s:%d: the report of %s %02d%02d%02dZ has no wind; passed over", name,
				raw.line, m.station, m.day, m.hour, m.minute))
			continue
		}
		for _, w := range m.warnings {
			warnings = append(warnings, fmt.Sprintf("%s:%d: %s", name, raw.line, w))
		}
		count++
		t := m.when(opt.When, raw.date, &ref)
		if best == nil || better(bestTime, t, opt.When) {
			best, bestTime = &m, t
		}
	}
	if best == nil {
		if bad != nil {
			return Report{}, bad
		}
		return Report{}, at(name, 1, "no report has a wind; give another source")
	}
	if opt.When.IsZero() && ref.Year() == noYear {
		bestTime = time.Time{}
		warnings = append(warnings,
			fmt.Sprintf("%s: a report has day and hour but no month; name the launch time to date it", name))
	}
	if count > 1 {
		warnings = append(warnings, fmt.Sprintf("%s: %d reports with wind; taken: %s %02d%02d%02dZ", name, count,
			best.station, best.day, best.hour, best.minute))
	}
	r := best.report(name, bestTime, opt)
	r.Warnings = append(warnings, r.Warnings...)
	r.age(name, bestTime, opt.When)
	return r, nil
}

// noYear dates reports in order where nothing tells their year.
const noYear = 1

// when dates a report, which carries no month: as near as may be to the date
// line above it, to the launch, or to the first report of the file, ref.
func (m *metar) when(launch, date time.Time, ref *time.Time) time.Time {
	near := date
	if near.IsZero() {
		near = launch
	}
	if near.IsZero() {
		near = *ref
	}
	if near.IsZero() { // January has 31 days
		near = time.Date(noYear, time.January, m.day, 12, 0, 0, 0, time.UTC)
	}
	if ref.IsZero() {
		*ref = near
	}
	near = near.UTC()
	var best time.Time
	for k := -1; k <= 1; k++ {
		t := time.Date(near.Year(), near.Month()+time.Month(k), m.day, m.hour, m.minute, 0, 0, time.UTC)
		if t.Day() != m.day {
			continue
		}
		if best.IsZero() || t.Sub(near).Abs() < best.Sub(near).Abs() {
			best = t
		}
	}
	return best
}

// anemometer is the height above ground at which airports measure wind
// (WMO-No. 8, Guide to Instruments and Methods of Observation).
const anemometer = 10.0 // m

func (m *metar) report(name string, t time.Time, opt Options) Report {
	kind := "METAR"
	if m.special {
		kind = "SPECI"
	}
	r := Report{Kind: Airport, Label: name, Valid: t, Sector: m.sector,
		Source: fmt.Sprintf("%s, station %s, day %02d %02d:%02d UTC", kind, m.station, m.day, m.hour, m.minute)}
	l := Level{Height: anemometer, Elevation: math.NaN(), FromDeg: m.from, Speed: m.speed}
	if opt.Elevation != nil {
		l.Elevation = *opt.Elevation + anemometer
	}
	if m.speed == 0 {
		l.FromDeg = 0
	}
	r.Levels = []Level{l}
	if math.IsNaN(l.FromDeg) {
		r.warn(name + ": the direction is variable (VRB): alone it is drawn evenly round the compass, beside a forecast " +
			"it counts as calm within its speed")
	}
	if m.atLeast {
		r.warn(fmt.Sprintf("%s: the wind is faster than can be coded; taken: %.0f m/s, the least it can be", name, m.speed))
	}
	r.Gust = number(m.gust)
	r.Temperature = number(m.temperature + celsius)
	r.QNH = number(m.qnh * 100)
	return r
}

// number returns nil for NaN.
func number(v float64) *float64 {
	if math.IsNaN(v) {
		return nil
	}
	return &v
}
