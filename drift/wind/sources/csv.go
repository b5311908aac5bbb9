package sources

import (
	"bufio"
	"fmt"
	"math"
	"strings"

	"windfall/geo/compass"
	"windfall/geo/quantity"
)

// handColumns is what the heading of a CSV with winds by hand holds.
type handColumns struct {
	height, from, speed, time    int // column; -1: absent
	aboveSea, magnetic           bool
	heightUnit, dirUnit, spdUnit string // empty: each cell carries its own
	heads                        []string
}

// readCSV reads levels by hand: a heading with height (above ground) or
// elevation (above sea level), from and speed; units stand in the heading, "speed (kn)" or
// "speed_kn", or in each cell, "12 kn". Columns are
// divided by commas, semicolons or tabs; lines beginning with '#' are comments.
// With a column of times it is an hourly forecast.
func readCSV(name string, in *bufio.Reader, opt Options) (Report, error) {
	sc := newLines(in)
	var h *handColumns
	sep := ','
	r := Report{Kind: Levels, Label: name, Source: "levels from " + name}
	var hours hourTable
	headLine := 0
	for sc.next() {
		if blank(sc.text) {
			continue
		}
		if h == nil {
			sep = separator(sc.text)
			var err error
			if h, err = handHeading(name, sc.line, cells(sc.text, sep), &r); err != nil {
				return r, err
			}
			headLine = sc.line
			continue
		}
		l, err := h.row(name, sc.line, cells(sc.text, sep), opt)
		if err != nil {
			return r, err
		}
		if h.time >= 0 {
			when, err := rowTime(cells(sc.text, sep)[h.time], opt)
			if err == nil {
				err = hours.add(when, l)
			}
			if err != nil {
				return r, at(name, sc.line, "%v", err)
			}
			continue
		}
		if n := len(r.Levels); n > 0 && h.place(l) <= h.place(r.Levels[n-1]) {
			return r, at(name, sc.line,
				"%s %q is not above the level before it; put the levels in rising order, each height "+
					"once", h.heads[h.height], cells(sc.text, sep)[h.height])
		}
		r.Levels = append(r.Levels, l)
	}
	if sc.err != nil {
		return r, at(name, sc.line, "%v", sc.err)
	}
	if len(hours.times) > 0 {
		table, err := hours.report(name, headLine, opt)
		table.Warnings = append(r.Warnings, table.Warnings...)
		return table, err
	}
	if len(r.Levels) == 0 {
		return r, at(name, max(sc.line, 1), "no level follows the heading; add a line such as 10 m, 240 deg, 8 kn")
	}
	if r.aboveSea = h.aboveSea; r.aboveSea {
		r.setHeights(opt.Elevation)
	}
	return r, nil
}

// place is the height by which the levels must rise.
func (h *handColumns) place(l Level) float64 {
	if h.aboveSea {
		return l.Elevation
	}
	return l.Height
}

func handHeading(name string, line int, heads []string, r *Report) (*handColumns, error) {
	h := &handColumns{height: -1, from: -1, speed: -1, time: -1, heads: heads}
	set := func(col *int, unit *string, i int, c column, k quantity.Kind) error {
		if *col >= 0 {
			return at(name, line, "columns %q and %q mean the same; keep one", heads[*col], heads[i])
		}
		*col = i
		if *unit = unitName(c.unit); *unit == "" {
			return nil
		}
		if _, err := quantity.Parse("1 "+*unit, k); err != nil {
			return at(name, line, "column %q: %v", heads[i], err)
		}
		return nil
	}
	for i, s := range heads {
		c := splitHeading(s)
		var err error
		switch {
		case c.has("height", "agl", "elevation", "altitude", "msl", "amsl"):
			h.aboveSea = c.has("elevation", "altitude", "msl", "amsl")
			err = set(&h.height, &h.heightUnit, i, c, quantity.Length)
		case c.has("from", "direction", "dir"):
			if strings.EqualFold(c.unit, "mag") || c.has("mag", "magnetic") {
				h.magnetic, c.unit = true, "deg"
			}
			if strings.EqualFold(c.unit, "true") {
				c.unit = "deg"
			}
			err = set(&h.from, &h.dirUnit, i, c, quantity.Angle)
		case c.has("time", "hour"):
			h.time = i
		case c.has("speed"):
			err = set(&h.speed, &h.spdUnit, i, c, quantity.Speed)
		default:
			r.warn(fmt.Sprintf("%s:%d: column %q is not read; known are time, height or elevation, from, speed", name, line, s))
		}
		if err != nil {
			return nil, err
		}
	}
	if h.height < 0 || h.from < 0 || h.speed < 0 {
		return nil, at(name, line,
			"%q is no wind file known here: neither a report, a sounding nor a forecast, and no CSV heading such as height "+
				"(m), from (deg), speed (kn)", clip(strings.Join(heads, ",")))
	}
	return h, nil
}

func (h *handColumns) row(name string, line int, c []string, opt Options) (Level, error) {
	l := Level{Elevation: math.NaN()}
	if len(c) != len(h.heads) {
		return l, at(name, line, "%d columns where the heading has %d; give each row as many", len(c), len(h.heads))
	}
	fail := func(col int, err error) error { return at(name, line, "%s %v", h.heads[col], err) }
	z, err := cell(c[h.height], h.heightUnit, quantity.Length)
	if err != nil {
		return l, fail(h.height, err)
	}
	if l.FromDeg, err = h.bearing(c[h.from], opt); err != nil {
		return l, fail(h.from, err)
	}
	if l.Speed, err = cell(c[h.speed], h.spdUnit, quantity.Speed); err != nil {
		return l, fail(h.speed, err)
	}
	if err := checkWind(l.FromDeg, l.Speed); err != nil {
		return l, at(name, line, "%v", err)
	}
	switch {
	case z < minElevation || z > maxElevation || (z < 0 && !h.aboveSea):
		return l, at(name, line,
			"%s %q is outside what flies; write a height above ground or an elevation above sea "+
				"level", h.heads[h.height], c[h.height])
	case h.aboveSea:
		l.Elevation = z
	default:
		l.Height = z
		if opt.Elevation != nil {
			l.Elevation = *opt.Elevation + z
		}
	}
	return l, nil
}

func cell(s, unit string, k quantity.Kind) (float64, error) {
	if s == "" {
		return 0, fmt.Errorf("is empty; write a value with its unit")
	}
	if unit != "" {
		if v, err := quantity.Parse(s+" "+unit, k); err == nil {
			return v, nil
		}
	}
	return quantity.Parse(s, k)
}

// bearing reads "240 deg", "240 mag" or a number under a heading with a unit.
func (h *handColumns) bearing(s string, opt Options) (float64, error) {
	if p, ok := compass.Point(s); ok {
		return p.Deg, nil
	}
	mag, written := h.magnetic, s
	if f := strings.Fields(s); len(f) == 2 && strings.EqualFold(f[1], "mag") {
		s, mag = f[0]+" deg", true
	}
	v, err := cell(s, h.dirUnit, quantity.Angle)
	if err != nil || !mag {
		return v, err
	}
	if v < 0 || v > 360 {
		return v, fmt.Errorf("%q is no bearing; write 0 to 360 mag", written)
	}
	if opt.Declination == nil {
		return 0, fmt.Errorf("%q is magnetic; name the pad and the launch time, or write a true bearing such as 240 deg",
			written)
	}
	return turn(v + *opt.Declination), nil
}

// turn brings degrees into [0, 360).
func turn(d float64) float64 {
	d = math.Mod(d, 360)
	if d < 0 {
		d += 360
	}
	if d >= 360 {
		d = 0
	}
	return d
}
