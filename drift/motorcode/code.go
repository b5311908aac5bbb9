// Package motorcode reads the designations that hobby motors are sold under.
//
// Units: N, N s and seconds. Not here: makers' own codes and thrust curves.
package motorcode

import (
	"regexp"
	"strconv"
	"strings"
)

// Code is what a motor's designation says.
type Code struct {
	ImpulseMin, ImpulseMax float64  // N s, bounds of the class: above the first, up to the second
	Thrust                 float64  // N, average
	Delay                  *float64 // s; nil: none given, or plugged
}

var codeForm = regexp.MustCompile(`^(1/[248])?([A-Z])([0-9]+(?:\.[0-9]+)?)[A-Za-z]*(?:-([0-9]+(?:\.[0-9]+)?|[PM0])?[A-Za-z]*)?$`)

// Read reads a designation in the hobby's code, such as H150-9 or 1/2A3-4T:
// letter for the class of total impulse, average thrust in N, delay in s. The
// classes double from A, above 1.25 up to 2.5 N s (NFPA 1125). ok is false for
// anything else.
func Read(s string) (c Code, ok bool) {
	m := codeForm.FindStringSubmatch(strings.TrimSpace(s))
	if m == nil {
		return c, false
	}
	c.ImpulseMax = 2.5 * float64(uint64(1)<<(m[2][0]-'A'))
	c.ImpulseMin = c.ImpulseMax / 2
	if m[1] != "" {
		if m[2] != "A" {
			return c, false
		}
		c.ImpulseMax /= float64(m[1][2] - '0')
		c.ImpulseMin = c.ImpulseMax / 2
		if m[1] == "1/8" {
			c.ImpulseMin = 0
		}
	}
	c.Thrust, _ = strconv.ParseFloat(m[3], 64)
	if d, err := strconv.ParseFloat(m[4], 64); err == nil {
		c.Delay = &d
	}
	return c, c.Thrust > 0
}
