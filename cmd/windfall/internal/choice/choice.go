// Package choice reads what a comparison is to vary: settings of the flight
// file, key=v1,v2 or key=0..10 deg, and hours. It knows neither keys nor
// forecasts: the flight file's reader and the caller judge them.
package choice

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"windfall/drift/compare"
	"windfall/geo/ink"
)

// maxValues is the most values one key may take; more are no choice.
const maxValues = 200

// ParseSets reads what each --set has; a key may stand in one alone.
func ParseSets(sets []string) ([]compare.Axis, error) {
	var axes []compare.Axis
	for _, s := range sets {
		a, err := ParseSet(s)
		if err != nil {
			return nil, err
		}
		if slices.ContainsFunc(axes, func(b compare.Axis) bool { return a.Key == b.Key }) {
			return nil, fmt.Errorf("--set %s is given twice; write its values in one, separated by commas", a.Key)
		}
		axes = append(axes, a)
	}
	return axes, nil
}

// ParseSet reads "key=v1,v2" or "key=LO..HI UNIT [step S UNIT]". Values are
// separated by commas outside brackets, braces and quotes. A range without a
// step has at most six values, at round numbers.
func ParseSet(s string) (compare.Axis, error) {
	key, list, ok := strings.Cut(s, "=")
	key = strings.TrimSpace(key)
	if !ok || key == "" {
		return compare.Axis{}, fmt.Errorf("--set %q has no key=value; write one such as --set 'motor.delay=4 s,6 s'", s)
	}
	a := compare.Axis{Key: key}
	for _, v := range split(list) {
		if v == "" {
			return a, fmt.Errorf("--set %q has an empty value; write one such as --set 'motor.delay=4 s,6 s'", s)
		}
		vs, err := expand(v)
		if err != nil {
			return a, fmt.Errorf("--set %s: %w", key, err)
		}
		a.Values = append(a.Values, vs...)
	}
	if len(a.Values) > maxValues {
		return a, fmt.Errorf("--set %s has %d values; choose at most %d", key, len(a.Values), maxValues)
	}
	seen := map[string]bool{}
	for _, v := range a.Values {
		if seen[v] {
			return a, fmt.Errorf("--set %s has %q twice; write each value once", key, v)
		}
		seen[v] = true
		if v == compare.Auto && key != "rail.toward" {
			return a, fmt.Errorf("--set %s=auto: only rail.toward=auto is searched for; "+
				"write values, or a range such as 0..10 deg", key)
		}
	}
	return a, nil
}

// split cuts at commas outside brackets, braces and quotes.
func split(s string) []string {
	var out []string
	depth, from := 0, 0
	var quote rune
	for i, c := range s {
		switch {
		case quote != 0:
			if c == quote {
				quote = 0
			}
		case c == '"' || c == '\'':
			quote = c
		case c == '{' || c == '[':
			depth++
		case c == '}' || c == ']':
			depth--
		case c == ',' && depth == 0:
			out = append(out, strings.TrimSpace(s[from:i]))
			from = i + 1
		}
	}
	return append(out, strings.TrimSpace(s[from:]))
}

const number = `([+-]?(?:\d+\.?\d*|\.\d+))`

var rangeForm = regexp.MustCompile(`^` + number + `\s*([^\d.\s][^.]*?)?\s*\.\.\s*` +
	number + `\s*(.*?)(?:\s+step\s+` + number + `\s*(.*))?$`)

// expand returns the values of a range, or the value itself.
func expand(v string) ([]string, error) {
	m := rangeForm.FindStringSubmatch(v)
	if m == nil {
		if strings.Contains(v, "..") && !strings.ContainsAny(v, `{["'/\`) {
			return nil, fmt.Errorf("%q is not a range; write one such as 0..10 deg, or 0..10 deg step 2 deg", v)
		}
		return []string{v}, nil
	}
	unit := m[4]
	if m[2] != "" && m[2] != unit || m[6] != "" && m[6] != unit {
		return nil, fmt.Errorf("%q mixes units; give both ends and the step in one unit", v)
	}
	lo, _ := strconv.ParseFloat(m[1], 64)
	hi, _ := strconv.ParseFloat(m[3], 64)
	if !(hi > lo) {
		return nil, fmt.Errorf("%q does not rise; write the smaller end first", v)
	}
	step := ink.RoundUpFine((hi - lo) / 5)
	if m[5] != "" {
		step, _ = strconv.ParseFloat(m[5], 64)
		if !(step > 0) || (hi-lo)/step > maxValues {
			return nil, fmt.Errorf("%q has a step of %s; write one above zero that gives at most %d values", v, m[5], maxValues)
		}
	}
	var out []string
	n := int(math.Floor((hi-lo)/step + 1e-9))
	for k := range n + 1 {
		out = append(out, show(lo+float64(k)*step, unit))
	}
	if last := show(hi, unit); out[n] != last {
		out = append(out, last)
	}
	return out, nil
}

func show(x float64, unit string) string {
	x = math.Round(x*1e9) / 1e9
	return strings.TrimSpace(strconv.FormatFloat(x, 'f', -1, 64) + " " + unit)
}
