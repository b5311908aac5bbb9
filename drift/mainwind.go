package drift

import (
	"windfall/drift/wind"
	"windfall/geo"
)

// MainWind returns the mean wind z metres above the pad of the likeliest wind
// choice, that of the nominal flight: its speed in m/s and the bearing in
// degrees that it comes from.
func (m *Model) MainWind(z float64) (speed, fromDeg float64) {
	u, v := m.flight.Wind[m.mainChoice].Profile.At(z)
	from := geo.XY{X: -u, Y: -v}
	return from.Norm(), from.BearingDeg()
}

// MainSpread returns the spread of the likeliest wind by its kind; nil where
// the flight gives its own, or the default holds.
func (f *Flight) MainSpread() *wind.Spread {
	s := f.Spread
	if s.WindSpeed != nil || s.WindDirectionDeg != nil || s.WindShape != nil || len(f.Wind) == 0 {
		return nil
	}
	best := f.Wind[0]
	for _, c := range f.Wind {
		if weightOf(c) > weightOf(best) {
			best = c
		}
	}
	if own := best.Profile.Spread; own != nil && own.From == 0 {
		return own
	}
	return nil
}
