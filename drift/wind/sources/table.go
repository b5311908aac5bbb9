package sources

import (
	"strings"
	"unicode"

	"windfall/geo/quantity"
)

// column is a heading of a CSV file split into its words and its unit.
type column struct {
	words []string // lower case
	unit  string   // as written; empty: none
}

// splitHeading reads "wind speed (kn)", "wind_speed_kn", "geopotential
// height_m", "speed [m/s]" and the like. A last word is a unit only where
// quantity knows it as one.
func splitHeading(s string) column {
	s = strings.TrimSpace(strings.Trim(strings.TrimSpace(s), `"`))
	var c column
	if i := strings.IndexAny(s, "(["); i >= 0 {
		if j := strings.IndexAny(s[i:], ")]"); j > 0 {
			c.unit = strings.TrimSpace(s[i+1 : i+j])
			s = s[:i] + " " + s[i+j+1:]
		}
	}
	fields := strings.FieldsFunc(s, func(r rune) bool { return r == '_' || r == ' ' || r == ',' })
	if n := len(fields); c.unit == "" && n > 1 && isUnit(fields[n-1]) {
		c.unit = fields[n-1]
		fields = fields[:n-1]
	}
	for _, f := range fields {
		c.words = append(c.words, strings.ToLower(f))
	}
	return c
}

func isUnit(s string) bool {
	for _, k := range []quantity.Kind{quantity.Length, quantity.Speed, quantity.Angle, quantity.Pressure,
		quantity.Temperature} {
		if _, err := quantity.Parse("1 "+unitName(s), k); err == nil {
			return true
		}
	}
	return strings.EqualFold(s, "mag") || strings.EqualFold(s, "true")
}

// unitName maps spellings of units found in weather files to those of quantity.
func unitName(s string) string {
	switch strings.ToLower(s) {
	case "degree", "degrees", "deg":
		return "deg"
	case "m/s", "ms-1", "m s-1", "mps":
		return "m/s"
	case "mp/h":
		return "mph"
	case "c":
		return "degC"
	}
	return s
}

// has tells whether the heading holds the word.
func (c column) has(words ...string) bool {
	for _, w := range words {
		for _, x := range c.words {
			if x == w {
				return true
			}
		}
	}
	return false
}

// separator finds what divides the columns of a heading line.
func separator(s string) rune {
	for _, r := range []rune{';', '\t', ','} {
		if strings.ContainsRune(s, r) {
			return r
		}
	}
	return ','
}

// cells splits a line and trims each cell; quotes around a cell are dropped.
func cells(s string, sep rune) []string {
	var out []string
	quoted := false
	start := 0
	add := func(x string) {
		x = strings.TrimSpace(x)
		if len(x) >= 2 && x[0] == '"' && x[len(x)-1] == '"' {
			x = strings.TrimSpace(x[1 : len(x)-1])
		}
		out = append(out, x)
	}
	for i, r := range s {
		switch {
		case r == '"':
			quoted = !quoted
		case r == sep && !quoted:
			add(s[start:i])
			start = i + len(string(r))
		}
	}
	add(s[start:])
	return out
}

// blank tells whether a line is empty or a comment.
func blank(s string) bool {
	s = strings.TrimFunc(s, unicode.IsSpace)
	return s == "" || s[0] == '#'
}
