package evidence

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"windfall/geo"
)

// A person who says 4 degrees too much and is twice as sure as they may be: the
// sighting is weighed as 4 degrees less with twice the error, its words stay.
func TestHabitCorrects(t *testing.T) {
	deg, at := 2.0, 31.0
	s := Sighting{Kind: Bearing{Observer: Observer{From: &geo.Place{Lat: 41.9, Lon: -4.9}}, BearingDeg: &deg}, Habit: &Habit{4, 2}}
	assert.NoError(t, s.Ready())
	b := s.Kind.(Bearing).corrected(*s.Habit).(Bearing)
	assert.InDelta(t, 358, *b.BearingDeg, 1e-9)
	assert.InDelta(t, 6, b.BearingSD, 1e-9)
	assert.Contains(t, s.String(), "bearing 2 deg")
	k := Timing{Moment: Moment{Event: "landing", At: &at, TimeSD: 1}}.corrected(Habit{0.5, 1.5}).(Timing)
	assert.InDelta(t, 30.5, *k.At, 1e-9)
	assert.InDelta(t, 1.5, k.TimeSD, 1e-9)
	assert.InDelta(t, 31, at, 1e-9, "what was logged is not touched")
}
