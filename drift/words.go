package drift

import (
	"fmt"
	"math"
	"strings"
)

// InWords says what a value of one of the inputs means, z standard deviations
// from its middle: "8 % more wind than given". It is "" for inputs that have no
// plain meaning of their own, such as the wind's shape, and for values that
// hardly differ.
func (m *Model) InWords(coord string, z float64) string {
	s := m.spread
	factor := func(sd float64, what string) string {
		change := 100 * math.Expm1(sd*z)
		if math.Abs(change) < 1 {
			return ""
		}
		more := "more"
		if change < 0 {
			more = "less"
		}
		return fmt.Sprintf("%.0f %% %s %s", math.Abs(change), more, what)
	}
	switch {
	case coord == "wind speed":
		return factor(s.speed*m.carried(), "wind than given")
	case coord == "wind direction":
		turn := s.turn * m.carried() * z
		if math.Abs(turn) < 1 {
			return ""
		}
		way := "clockwise"
		if turn < 0 {
			way = "anticlockwise"
		}
		return fmt.Sprintf("wind from %.0f deg further %s", math.Abs(turn), way)
	case coord == "motor impulse":
		return factor(s.impulse, "impulse")
	case coord == "body drag":
		return factor(s.drag, "drag of the body")
	case strings.HasSuffix(coord, " drag area"):
		for i, at := range m.cds {
			if at >= 0 && m.coords[at].Name == coord {
				return factor(m.devices[i].wide, "drag of the "+strings.TrimSuffix(coord, " drag area"))
			}
		}
	}
	return ""
}

// carried is the share of the spread of the whole wind that the likeliest wind
// leaves.
func (m *Model) carried() float64 {
	if own := m.flight.MainSpread(); own != nil && len(own.Rows) > 0 {
		return own.Carried
	}
	return 1
}
