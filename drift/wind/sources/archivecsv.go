package sources

import (
	"bufio"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"windfall/geo/quantity"
)

// The columns of the archive's CSV (University of Wyoming: "time, longitude,
// latitude, pressure_hPa, geopotential height_m, temperature_C, ..., wind
// direction_degree, wind speed_m/s"), found by their words, in any order.
const (
	colTime = iota
	colLon
	colLat
	colPressure
	colHeight
	colTemperature
	colDew
	colFrom
	colSpeed
	colCount
)

var archiveKinds = [colCount]quantity.Kind{
	colPressure: quantity.Pressure, colHeight: quantity.Length, colTemperature: quantity.Temperature,
	colDew: quantity.Temperature, colFrom: quantity.Angle, colSpeed: quantity.Speed,
}

// archiveColumn names the column of a heading, -1 for one that is not needed.
func archiveColumn(c column) int {
	switch {
	case c.has("time", "date"):
		return colTime
	case c.has("longitude", "lon"):
		return colLon
	case c.has("latitude", "lat"):
		return colLat
	case c.has("dew") && c.has("temperature"), c.has("dewpoint"):
		return colDew
	case c.has("ice"), c.has("humidity"), c.has("ratio"):
		return -1
	case c.has("pressure"):
		return colPressure
	case c.has("height"):
		return colHeight
	case c.has("temperature"):
		return colTemperature
	case c.has("direction"):
		return colFrom
	case c.has("speed"):
		return colSpeed
	}
	return -1
}

// isArchiveHeading tells the archive's CSV from one written by hand.
func isArchiveHeading(s string) bool {
	s = strings.ToLower(s)
	return strings.Contains(s, "pressure") && strings.Contains(s, "height") && strings.Contains(s, "speed")
}

// newAscent is the pause between two rows' times that begins another sounding;
// a balloon is up for some two hours, with a row each second.
const newAscent = 3 * time.Hour

// readArchiveCSV reads soundings in the archive's CSV.
func readArchiveCSV(name string, in *bufio.Reader, opt Options) (Report, error) {
	sc := newLines(in)
	var t archiveTable
	var best, cur *ascent
	count := 0
	done := func() {
		if cur != nil && (best == nil || better(best.started(), cur.started(), opt.When)) {
			best = cur
		}
	}
	var last time.Time
	for sc.next() {
		if blank(sc.text) {
			continue
		}
		if t.heads == nil {
			if err := t.heading(name, sc.line, sc.text); err != nil {
				return Report{}, err
			}
			continue
		}
		when, place, s, err := t.row(name, sc.line, sc.text)
		if err != nil {
			return Report{}, err
		}
		if when.IsZero() {
			when = last
		}
		if cur == nil || when.Sub(last).Abs() > newAscent {
			done()
			cur = &ascent{nominal: when, release: when, at: place, label: "sounding, released " + stamp(when)}
			count++
		}
		last = when
		cur.samples = append(cur.samples, s)
	}
	if sc.err != nil {
		return Report{}, at(name, sc.line, "%v", sc.err)
	}
	if done(); best == nil {
		return Report{}, at(name, max(sc.line, 1), "no level follows the heading; fetch the file again")
	}
	return best.report(name, count, opt)
}

// archiveTable is the heading of an archive's CSV.
type archiveTable struct {
	heads []string
	units []string
	index [colCount]int // column of each quantity, -1: absent
}

func (t *archiveTable) heading(name string, line int, s string) error {
	for i := range t.index {
		t.index[i] = -1
	}
	t.heads = cells(s, ',')
	for i, h := range t.heads {
		c := splitHeading(h)
		t.units = append(t.units, unitName(c.unit))
		k := archiveColumn(c)
		if k < 0 {
			continue
		}
		if t.index[k] >= 0 {
			return at(name, line, "columns %q and %q mean the same; keep one", t.heads[t.index[k]], h)
		}
		t.index[k] = i
		if k >= colPressure {
			if _, err := quantity.Parse("1 "+t.units[i], archiveKinds[k]); err != nil {
				return at(name, line, "column %q: %v", h, err)
			}
		}
	}
	for _, need := range []struct {
		col  int
		what string
	}{{colPressure, "pressure_hPa"}, {colHeight, "geopotential height_m"}, {colFrom,
		"wind direction_degree"}, {colSpeed, "wind speed_m/s"}} {
		if t.index[need.col] < 0 {
			return at(name, line, "no column for %q; fetch the file again", need.what)
		}
	}
	return nil
}

func (t *archiveTable) row(name string, line int, s string) (time.Time, orb.Point, sample, error) {
	c := cells(s, ',')
	place := orb.Point{math.NaN(), math.NaN()}
	if len(c) != len(t.heads) {
		return time.Time{}, place, sample{}, at(name, line,
			"%d columns where the heading has %d; the file seems cut short, fetch it again", len(c), len(t.heads))
	}
	var when time.Time
	if i := t.index[colTime]; i >= 0 && !isMissing(c[i]) {
		var err error
		if when, err = time.Parse("2006-01-02 15:04:05", c[i]); err != nil {
			return when, place, sample{}, at(name, line, "%s %q is no time; write one such as 2026-03-14 11:02:00",
				t.heads[i], c[i])
		}
	}
	var v [colCount]float64
	for k := range v {
		v[k] = math.NaN()
		i := t.index[k]
		if i < 0 || k == colTime || isMissing(c[i]) {
			continue
		}
		var err error
		if k < colPressure {
			v[k], err = strconv.ParseFloat(c[i], 64)
			if err == nil && (math.IsNaN(v[k]) || math.Abs(v[k]) > 360) {
				err = fmt.Errorf("out of range")
			}
		} else {
			v[k], err = quantity.Parse(c[i]+" "+t.units[i], archiveKinds[k])
		}
		if err != nil {
			return when, place, sample{}, at(name, line, "%s %q is no number; correct it or leave it empty", t.heads[i], c[i])
		}
	}
	place = orb.Point{v[colLon], v[colLat]}
	smp := sample{line: line, pressure: v[colPressure], elevation: v[colHeight], temperature: v[colTemperature],
		dew: v[colDew], from: v[colFrom], speed: v[colSpeed]}
	return when, place, smp, checkSample(name, smp)
}

// isMissing tells the ways in which tables leave a value out.
func isMissing(s string) bool {
	switch strings.ToLower(s) {
	case "", "nan", "null", "none", "na", "n/a", "-", "-9999", "-9999.0", "-8888", "m", "////", "//":
		return true
	}
	return false
}
