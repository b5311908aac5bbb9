package sources

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/paulmach/orb"
)

// readIGRA reads the Integrated Global Radiosonde Archive, version 2 (NOAA
// NCEI, "Format Description: Sounding Data"): fixed columns, a header line
// beginning with '#' before each sounding. It keeps one sounding in memory, so
// a station's whole record may be read.
func readIGRA(name string, in *bufio.Reader, opt Options) (Report, error) {
	sc := newLines(in)
	var best *ascent
	count := 0
	var cut error
	var cuts []string
	for sc.again || sc.next() {
		sc.again = false
		if strings.TrimSpace(sc.text) == "" {
			continue
		}
		a, levels, err := igraHeader(name, sc.line, sc.text)
		if err != nil {
			return Report{}, err
		}
		if cut, err = igraLevels(name, sc, a, levels); err != nil {
			return Report{}, err
		}
		if cut != nil {
			cuts = append(cuts, fmt.Sprintf("%v; passed over", cut))
			continue
		}
		count++
		if best == nil || better(best.started(), a.started(), opt.When) {
			best = a
		}
	}
	if sc.err != nil {
		return Report{}, at(name, sc.line, "%v", sc.err)
	}
	if best == nil {
		return Report{}, cut // every sounding was cut short
	}
	best.warnings = append(best.warnings, cuts...)
	return best.report(name, count, opt)
}

// igraLevels reads the levels of a sounding into a. cut tells where the file
// has fewer than the header announces: the sounding cannot be trusted then.
func igraLevels(name string, sc *lines, a *ascent, levels int) (cut, err error) {
	header := sc.line
	for i := range levels {
		more := sc.next()
		switch {
		case !more && sc.err != nil:
			return nil, nil // told by the caller
		case !more:
			return at(name, sc.line, "the file ends after %d of the %d levels that line %d announces; fetch it again", i,
				levels, header), nil
		case strings.HasPrefix(sc.text, "#"):
			sc.again = true
			return at(name, sc.line,
				"a new sounding begins after %d of the %d levels that line %d announces; fetch the file "+
					"again", i, levels, header), nil
		}
		text, line := sc.text, sc.line
		if len(text) < igraColumns && !sc.next() {
			return at(name, line, "the file ends in the middle of level %d of %d; fetch it again", i+1, levels), nil
		} else if len(text) < igraColumns {
			return nil, at(name, line, "the line has %d columns, a level has %d; fetch the file again", len(text), igraColumns)
		}
		s, err := igraLevel(name, line, text)
		if err != nil {
			return nil, err
		}
		a.samples = append(a.samples, s)
	}
	return nil, nil
}

const igraColumns = 51

// igraHeader reads a header line and the number of levels it announces.
func igraHeader(name string, line int, s string) (*ascent, int, error) {
	if len(s) < 36 || s[0] != '#' {
		return nil, 0, at(name, line, "%q is no header of a sounding; one begins with '#', station, date and hour", clip(s))
	}
	f := fixed{name: name, line: line, text: s}
	year, month, day := f.int("year", 14, 17), f.int("month", 19, 20), f.int("day", 22, 23)
	hour, rel, levels := f.int("hour", 25, 26), f.int("release time", 28, 31), f.int("number of levels", 33, 36)
	if f.err != nil {
		return nil, 0, f.err
	}
	if levels < 1 {
		return nil, 0, at(name, line, "number of levels %d in columns 33-36 is below 1", levels)
	}
	relHour, relMin := rel/100, rel%100
	relKnown := rel >= 0 && relHour <= 23
	if hour == 99 && relKnown {
		hour = relHour
	}
	if hour == 99 {
		hour = 0
	}
	day0 := time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC)
	if year < 1900 || month < 1 || month > 12 || day0.Day() != day || hour < 0 || hour > 23 {
		return nil, 0, at(name, line, "%q in columns 14-26 is no date and hour", s[13:26])
	}
	station := strings.TrimSpace(s[1:12])
	a := &ascent{nominal: day0.Add(time.Duration(hour) * time.Hour), at: orb.Point{math.NaN(), math.NaN()}}
	a.label = fmt.Sprintf("sounding, station %s, %s", station, stamp(a.nominal))
	if relKnown && relMin <= 59 {
		t := day0.Add(time.Duration(relHour)*time.Hour + time.Duration(relMin)*time.Minute)
		switch d := t.Sub(a.nominal); {
		case d > 12*time.Hour:
			t = t.AddDate(0, 0, -1)
		case d < -12*time.Hour:
			t = t.AddDate(0, 0, 1)
		}
		a.release = t
	}
	if len(s) >= 71 {
		lat, lon := f.int("latitude", 56, 62), f.int("longitude", 64, 71)
		if f.err != nil {
			return nil, 0, f.err
		}
		if lat >= -900000 && lat <= 900000 && lon >= -1800000 && lon <= 1800000 { // else -998888: a ship
			a.at = orb.Point{float64(lon) / 1e4, float64(lat) / 1e4}
		}
	}
	return a, levels, nil
}

// igraLevel reads a level; -9999 (missing) and -8888 (removed) become NaN.
func igraLevel(name string, line int, s string) (sample, error) {
	f := fixed{name: name, line: line, text: s}
	v := sample{line: line}
	v.pressure = f.value("pressure", 10, 15, 1)
	v.elevation = f.value("height", 17, 21, 1)
	v.temperature = f.value("temperature", 23, 27, 0.1) + celsius
	rh := f.value("relative humidity", 29, 33, 0.001)
	v.dew = v.temperature - f.value("dew point depression", 35, 39, 0.1)
	v.from = f.value("wind direction", 41, 45, 1)
	v.speed = f.value("wind speed", 47, 51, 0.1)
	if f.err != nil {
		return sample{}, f.err
	}
	if math.IsNaN(v.dew) && rh > 0 && !math.IsNaN(v.temperature) {
		v.dew = dewPoint(rh * vapourPressure(v.temperature))
	}
	return v, checkSample(name, v)
}

// dewPoint inverts vapourPressure: K from Pa.
func dewPoint(e float64) float64 {
	x := math.Log(e / 611.2)
	return 243.5*x/(17.67-x) + celsius
}

// checkSample refuses pressures and temperatures no sonde meets.
func checkSample(name string, s sample) error {
	if s.pressure <= 0 || s.pressure > 115000 {
		return at(name, s.line, "%spressure %.6g hPa is outside 0 to 1150 hPa; correct it or take the level out",
			s.where, s.pressure/100)
	}
	if s.temperature < 123 || s.temperature > 343 {
		return at(name, s.line, "%stemperature %.4g degC is outside -150 to 70 degC; correct it or take the level out",
			s.where, s.temperature-celsius)
	}
	return nil
}

// fixed reads fields of a line by columns counted from 1, both ends included.
// The first failure stays in err.
type fixed struct {
	name string
	line int
	text string
	err  error
}

func (f *fixed) int(what string, from, to int) int {
	s := strings.TrimSpace(f.text[from-1 : to])
	n, err := strconv.Atoi(s)
	if err != nil && f.err == nil {
		f.err = at(f.name, f.line,
			"%s %q in columns %d-%d is no whole number; the columns may have been moved, fetch the file "+
				"again", what, f.text[from-1:to], from, to)
	}
	return n
}

func (f *fixed) value(what string, from, to int, scale float64) float64 {
	n := f.int(what, from, to)
	if n == -9999 || n == -8888 {
		return math.NaN()
	}
	return float64(n) * scale
}

// lines reads lines with a limit on their length.
type lines struct {
	in    *bufio.Reader
	text  string
	line  int
	err   error
	again bool // the line in text is still to be read by whoever comes next
}

const maxLine = 1 << 16

func newLines(in *bufio.Reader) *lines { return &lines{in: in} }

func (l *lines) next() bool {
	if l.err != nil {
		return false
	}
	var b []byte
	for {
		part, more, err := l.in.ReadLine()
		if err == io.EOF && len(b) == 0 {
			return false
		}
		if err != nil && err != io.EOF {
			l.err = err
			return false
		}
		if b = append(b, part...); len(b) > maxLine {
			l.line++
			l.err = fmt.Errorf("the line is longer than %d characters; this is no wind file", maxLine)
			return false
		}
		if !more || err == io.EOF {
			break
		}
	}
	l.line++
	l.text = string(b)
	return true
}
