package drift

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestInWords(t *testing.T) {
	m := &Model{}
	m.spread.speed, m.spread.turn, m.spread.impulse, m.spread.drag = 0.15, 10, 0.03, 0.1
	m.devices, m.coords, m.cds = []device{{wide: 0.15}}, []Coord{{Name: "streamer drag area"}}, []int{0}
	for _, c := range []struct {
		coord string
		z     float64
		want  string
	}{
		{"wind speed", 0.5, "8 % more wind than given"}, // exp(0.075) = 1.078
		{"wind speed", -1, "14 % less wind than given"}, // exp(-0.15) = 0.861
		{"wind direction", 0.5, "wind from 5 deg further clockwise"},
		{"wind direction", -0.7, "wind from 7 deg further anticlockwise"},
		{"motor impulse", 1, "3 % more impulse"}, {"body drag", -2, "18 % less drag of the body"},
		{"streamer drag area", 1, "16 % more drag of the streamer"},
		{"wind speed", 0.01, ""}, {"wind shape east at 100 m", 2, ""}, {"rail lean along", 2, ""},
	} {
		assert.Equal(t, c.want, m.InWords(c.coord, c.z), c.coord)
	}
}
