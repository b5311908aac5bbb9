package drift

import "windfall/geo"

// MainWind returns the mean wind z metres above the pad of the likeliest wind
// choice, that of the nominal flight: its speed in m/s and the bearing in
// degrees that it comes from.
func (m *Model) MainWind(z float64) (speed, fromDeg float64) {
	u, v := m.flight.Wind[m.mainChoice].Profile.At(z)
	from := geo.XY{X: -u, Y: -v}
	return from.Norm(), from.BearingDeg()
}
