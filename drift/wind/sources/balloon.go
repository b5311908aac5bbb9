package sources

import (
	"bufio"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"windfall/drift/wind"
	"windfall/drift/wind/balloon"
	"windfall/geo/quantity"
)

// isBalloonHeading tells a table of a balloon's angles from one of winds.
func isBalloonHeading(s string) bool {
	seen := map[string]bool{}
	for _, c := range cells(s, separator(s)) {
		for _, w := range splitHeading(c).words {
			seen[w] = true
		}
	}
	return seen["time"] && seen["elevation"] && seen["azimuth"]
}

// firstRow returns the first line that is neither blank nor a comment.
func firstRow(s string) string {
	for line := range strings.Lines(s) {
		if !blank(line) {
			return strings.TrimRight(line, "\r\n")
		}
	}
	return ""
}

// balloonFile is a table of angles being read. Lines before its heading say
// what they were taken with:
//
//	# rise: 2.5 m/s                  known rate of ascent
//	# started: 2026-03-14T09:40:00+01:00
//	# tail: 5 m                      its length; a column tail has its angle
//	# base: 300 m toward 140 deg     the second observer; columns elevation_2, azimuth_2
//	# angles: 0.1 deg                error of an angle
type balloonFile struct {
	name   string
	opt    Options
	ascent balloon.Ascent
	lines  []int // of the looks
	report Report

	time, elevation, azimuth, elevation2, azimuth2, tail int // columns; -1: absent
	magnetic                                             bool
}

// readBalloon reads times and angles of a pilot balloon.
func readBalloon(name string, in *bufio.Reader, opt Options) (Report, error) {
	sc := newLines(in)
	f := &balloonFile{name: name, opt: opt, report: Report{Kind: Levels, Label: name, Source: "pilot balloon, " + name}}
	f.ascent.Rise = opt.Rise
	headed, sep := false, ','
	for sc.next() {
		text := strings.TrimSpace(sc.text)
		switch {
		case text == "":
		case text[0] == '#':
			if err := f.note(strings.TrimSpace(text[1:])); err != nil {
				return f.report, at(name, sc.line, "%v", err)
			}
		case !headed:
			sep, headed = separator(text), true
			if err := f.heading(cells(text, sep)); err != nil {
				return f.report, at(name, sc.line, "%v", err)
			}
		default:
			if err := f.look(cells(text, sep)); err != nil {
				return f.report, at(name, sc.line, "%v", err)
			}
			f.lines = append(f.lines, sc.line)
		}
	}
	if sc.err != nil {
		return f.report, at(name, sc.line, "%v", sc.err)
	}
	return f.report, f.levels()
}

// note reads a line "key: value" of the head; other comments are passed over.
func (f *balloonFile) note(s string) (err error) {
	key, value, ok := strings.Cut(s, ":")
	if !ok {
		return nil
	}
	value = strings.TrimSpace(value)
	read := func(to *float64, k quantity.Kind) {
		if *to, err = quantity.Parse(value, k); err != nil {
			err = fmt.Errorf("%s: %w", key, err)
		} else if !(*to > 0) {
			err = fmt.Errorf("%s: %q is not above zero", key, value)
		}
	}
	switch strings.TrimSpace(key) {
	case "rise":
		read(&f.ascent.Rise, quantity.Speed)
	case "tail":
		read(&f.ascent.Tail, quantity.Length)
	case "angles":
		read(&f.ascent.AngleSD, quantity.Angle)
	case "base":
		far, toward, found := strings.Cut(value, " toward ")
		if !found {
			return fmt.Errorf("base: %q has no direction; write such as 300 m toward 140 deg", value)
		}
		if f.ascent.BaseDeg, err = f.bearing(toward, "deg"); err == nil {
			value = far
			read(&f.ascent.Base, quantity.Length)
		}
	case "started":
		if f.report.Valid, err = time.Parse(time.RFC3339, value); err != nil {
			err = fmt.Errorf("started: %q is not a time with its zone; write one such as 2026-03-14T09:40:00+01:00", value)
		}
	}
	return err
}

func (f *balloonFile) heading(heads []string) error {
	f.time, f.elevation, f.azimuth, f.elevation2, f.azimuth2, f.tail = -1, -1, -1, -1, -1, -1
	for i, s := range heads {
		c := splitHeading(s)
		second := c.has("2", "second")
		switch {
		case c.has("time"):
			f.time = i
		case c.has("elevation") && second:
			f.elevation2 = i
		case c.has("azimuth") && second:
			f.azimuth2 = i
		case c.has("elevation"):
			f.elevation = i
		case c.has("azimuth"):
			f.azimuth = i
			f.magnetic = strings.EqualFold(c.unit, "mag") || c.has("mag", "magnetic")
		case c.has("tail"):
			f.tail = i
		default:
			f.report.warn(fmt.Sprintf("%s: column %q is not read; known are time, elevation, azimuth, elevation_2, "+
				"azimuth_2, tail", f.name, s))
		}
	}
	if f.time < 0 || f.elevation < 0 || f.azimuth < 0 {
		return errors.New("time, elevation and azimuth are wanted, such as: time (s),elevation (deg),azimuth (deg)")
	}
	return nil
}

func (f *balloonFile) look(c []string) (err error) {
	get := func(col int, unit string, k quantity.Kind, what string) float64 {
		if col < 0 || err != nil {
			return math.NaN()
		}
		if col >= len(c) {
			err = fmt.Errorf("%s is missing", what)
			return math.NaN()
		}
		var v float64
		if v, err = cell(c[col], unit, k); err != nil {
			err = fmt.Errorf("%s %w", what, err)
		}
		return v
	}
	turned := func(col int, what string) float64 {
		if col < 0 || col >= len(c) || err != nil {
			return get(col, "deg", quantity.Angle, what)
		}
		unit := "deg"
		if f.magnetic {
			unit = "mag"
		}
		var v float64
		if v, err = f.bearing(c[col], unit); err != nil {
			err = fmt.Errorf("%s %w", what, err)
		}
		return v
	}
	l := balloon.Look{
		Time: get(f.time, "s", quantity.Time, "time"), Elevation: get(f.elevation, "deg", quantity.Angle, "elevation"),
		Azimuth: turned(f.azimuth, "azimuth"), Elevation2: get(f.elevation2, "deg", quantity.Angle, "elevation_2"),
		Azimuth2: turned(f.azimuth2, "azimuth_2"), Tail: get(f.tail, "deg", quantity.Angle, "tail"),
	}
	f.ascent.Looks = append(f.ascent.Looks, l)
	return err
}

// bearing reads a bearing, true or magnetic.
func (f *balloonFile) bearing(s, unit string) (float64, error) {
	h := handColumns{dirUnit: "deg", magnetic: unit == "mag"}
	return h.bearing(s, f.opt)
}

// levels makes the report's levels and their errors.
func (f *balloonFile) levels() error {
	ls, cautions, err := f.ascent.Levels()
	var le *balloon.LookError
	if errors.As(err, &le) {
		line := 1
		if le.Look < len(f.lines) {
			line = f.lines[le.Look]
		}
		return at(f.name, line, "%s", le.Msg)
	}
	if err != nil {
		return err
	}
	for _, c := range cautions {
		f.report.warn(f.name + ": " + c)
	}
	for i, l := range ls {
		if err := checkWind(l.FromDeg, l.Speed); err != nil {
			return at(f.name, f.lines[i], "%v; check the angles and the times", err)
		}
		level := Level{Height: l.Height, Elevation: math.NaN(), FromDeg: l.FromDeg, Speed: l.Speed}
		if f.opt.Elevation != nil {
			level.Elevation = *f.opt.Elevation + l.Height
		}
		f.report.Levels = append(f.report.Levels, level)
		f.report.errors = append(f.report.errors, wind.SD{Height: l.Height, SD: l.SD})
	}
	f.report.age(f.name, f.report.Valid, f.opt.When)
	return nil
}
