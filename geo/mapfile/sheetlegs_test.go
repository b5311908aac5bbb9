package mapfile

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"windfall/geo"
)

// legsAlong are search legs of 50 m on the given bearings, end to end.
func legsAlong(bearings ...float64) (out []Leg) {
	at := geo.XY{}
	for i, deg := range bearings {
		to := at.Add(geo.Polar(50, deg))
		out = append(out, Leg{N: i + 1, Kind: "search", From: at, To: to})
		at = to
	}
	return out
}

// One straight line is one row; a bend is not, however gently it goes on.
func TestRowsAreStraight(t *testing.T) {
	assert.Len(t, lines(legsAlong(10, 10, 10.4, 10)), 1)
	assert.Len(t, lines(legsAlong(10, 100, 190)), 3)
	assert.Len(t, lines(legsAlong(359.8, 0.2)), 1, "across north")
	var bend []float64
	for i := range 20 {
		bend = append(bend, 0.9*float64(i)) // 17 degrees in all
	}
	assert.Greater(t, len(lines(legsAlong(bend...))), 8)
}
