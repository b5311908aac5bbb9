package drift

import (
	"regexp"
	"strconv"
	"strings"
)

// propellantPerImpulse is the propellant assumed where none is given, kg per
// N s: a specific impulse near 170 s, between black powder and composite, a
// choice of ours.
const propellantPerImpulse = 0.0006

// thrustRow is a row of the curve: thrust and impulse delivered at t, and the
// slope of the thrust up to the next row.
type thrustRow struct {
	t, n, slope, impulse float64 // s, N, N/s, N s
}

// thrustCurve returns the rows, each with its line up to the next, zero
// outside. Two rows of one time make a jump; the first of them stays out, for
// the line before already ends there.
func thrustCurve(table []TimeThrust) []thrustRow {
	var rows []thrustRow
	impulse := 0.0
	for i, r := range table {
		row := thrustRow{t: r.T, n: r.N, impulse: impulse}
		if i+1 < len(table) {
			next := table[i+1]
			dt := next.T - r.T
			if dt == 0 {
				continue
			}
			row.slope = (next.N - r.N) / dt
			impulse += 0.5 * (r.N + next.N) * dt
		}
		rows = append(rows, row)
	}
	return rows
}

// Code is what a motor's designation says.
type Code struct {
	ImpulseMin, ImpulseMax float64  // N s, bounds of the class: above the first, up to the second
	Thrust                 float64  // N, average
	Delay                  *float64 // s; nil: none given, or plugged
}

var codeForm = regexp.MustCompile(`^(1/[248])?([A-Z])([0-9]+(?:\.[0-9]+)?)[A-Za-z]*(?:-([0-9]+(?:\.[0-9]+)?|[PM0])?[A-Za-z]*)?$`)

// ReadCode reads a designation in the hobby's code, such as H150-9 or 1/2A3-4T:
// letter for the class of total impulse, average thrust in N, delay in s. The
// classes double from A, above 1.25 up to 2.5 N s (NFPA 1125). ok is false for
// anything else.
func ReadCode(s string) (c Code, ok bool) {
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
