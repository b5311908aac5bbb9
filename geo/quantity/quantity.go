// Package quantity reads dimensional values as people write them, a number
// with its unit, into SI. It is the one parser for files and flags. A bare
// number is an error that names the likely units. It does no arithmetic and
// knows no compound values such as "5 ft 3 in".
package quantity

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Kind is a physical dimension.
type Kind uint8

// The kinds, with the unit that Parse returns.
const (
	Length      Kind = iota // m
	Mass                    // kg
	Time                    // s
	Speed                   // m/s
	Angle                   // degrees: the one kind that is not SI
	Force                   // N
	Impulse                 // N s
	Pressure                // Pa
	Temperature             // K
	Area                    // m2
	Ratio                   // 1; "10 %" is 0.1
)

type kindInfo struct {
	name  string   // with its article, for messages
	usual []string // units to propose, likeliest first
}

var kinds = [...]kindInfo{
	Length:      {"a length", []string{"m", "mm", "ft", "in"}},
	Mass:        {"a mass", []string{"kg", "g", "lb", "oz"}},
	Time:        {"a time", []string{"s", "min", "h"}},
	Speed:       {"a speed", []string{"m/s", "kn", "mph", "km/h"}},
	Angle:       {"an angle", []string{"deg"}},
	Force:       {"a force", []string{"N", "lbf"}},
	Impulse:     {"an impulse", []string{"N s", "lbf s"}},
	Pressure:    {"a pressure", []string{"hPa", "inHg"}},
	Temperature: {"a temperature", []string{"degC", "degF", "K"}},
	Area:        {"an area", []string{"m2", "cm2", "in2"}},
	Ratio:       {"a share", []string{"%"}},
}

// Parse returns the SI value of s (degrees for Angle, kelvin for Temperature),
// which must be a finite number followed by a unit of kind k. A Ratio may be a
// bare number. Errors quote s and say what to write instead.
func Parse(s string, k Kind) (float64, error) {
	num, name, err := split(s)
	if err != nil {
		return 0, fmt.Errorf("%q %w; write a number with its unit, such as %s", s, err, Likely("5", k))
	}
	if name == "" {
		if k == Ratio {
			return num, nil
		}
		return 0, fmt.Errorf("%q has no unit; write one, such as %s", s, Likely(strings.TrimSpace(s), k))
	}
	u, ok := units[canonical(name)]
	if !ok {
		return 0, fmt.Errorf("%q has an unknown unit %q; write %s", s, name, Likely(short(num), k))
	}
	if u.kind != k {
		return 0, fmt.Errorf("%q is %s, not %s; write %s", s, kinds[u.kind].name, kinds[k].name, Likely(short(num), k))
	}
	v := num*u.factor + u.offset
	if math.IsInf(v, 0) {
		return 0, fmt.Errorf("%q is too large", s)
	}
	if k == Temperature && v < 0 {
		return 0, fmt.Errorf("%q is below absolute zero", s)
	}
	return v, nil
}

// Likely returns num with the kind's usual units, for a message: "5 m or 5 ft".
func Likely(num string, k Kind) string {
	var parts []string
	for _, u := range kinds[k].usual {
		parts = append(parts, num+" "+u)
	}
	if len(parts) == 1 {
		return parts[0]
	}
	return strings.Join(parts[:len(parts)-1], ", ") + " or " + parts[len(parts)-1]
}

func short(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

var errNotNumber = errors.New("is not a number with a unit")

// split separates the leading number from the unit's name.
func split(s string) (num float64, name string, err error) {
	t := strings.TrimSpace(s)
	end := 0
	for end < len(t) && (t[end] >= '0' && t[end] <= '9' || strings.IndexByte("+-.", t[end]) >= 0 || isExponent(t, end)) {
		end++
	}
	num, err = strconv.ParseFloat(t[:end], 64)
	if err != nil || math.IsNaN(num) || math.IsInf(num, 0) {
		return 0, "", errNotNumber
	}
	return num, strings.TrimSpace(t[end:]), nil
}

// isExponent says whether the letter at i is the e of 1.5e3, with a digit on
// each side, rather than the start of a unit.
func isExponent(t string, i int) bool {
	if (t[i] != 'e' && t[i] != 'E') || i == 0 || t[i-1] < '0' || t[i-1] > '9' {
		return false
	}
	j := i + 1
	if j < len(t) && (t[j] == '+' || t[j] == '-') {
		j++
	}
	return j < len(t) && t[j] >= '0' && t[j] <= '9'
}

var folds = strings.NewReplacer("²", "2", "^2", "2", "·", " ", "*", " ", "⋅", " ", "º", "°")

// canonical folds the spellings of products and powers: "N·s", "N*s" and "Ns"
// are "N s"; "cm^2", "cm²" and "sq cm" are "cm2".
func canonical(name string) string {
	n := strings.Join(strings.Fields(folds.Replace(name)), " ")
	if rest, ok := strings.CutPrefix(n, "sq "); ok {
		n = rest + "2"
	}
	switch n {
	case "Ns", "N-s":
		return "N s"
	case "kNs":
		return "kN s"
	case "lbfs", "lbf-s":
		return "lbf s"
	case "deg C", "deg F", "° C", "° F":
		return strings.Replace(n, " ", "", 1)
	}
	return n
}
