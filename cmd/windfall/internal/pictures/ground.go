package pictures

import (
	"windfall/cmd/windfall/internal/situation"
	"windfall/drift"
	"windfall/geo"
	"windfall/geo/photo"
)

// SiteOf is what cameras of a flight stand over.
func SiteOf(in situation.Input) photo.Site {
	f := in.Flight
	return photo.Site{Frame: in.Model.Frame(), PadUp: f.Site.Elevation, When: f.When, Ground: groundOf(f)}
}

// groundOf gives the height of the ground above the pad from a flight's
// terrain: the pad's own where it has none, or knows none there.
func groundOf(f drift.Flight) photo.Ground {
	if f.Terrain == nil {
		return nil
	}
	pad, ok := f.Terrain.Elevation(geo.XY{})
	if !ok {
		pad = f.Site.Elevation
	}
	return func(q geo.XY) float64 {
		if e, ok := f.Terrain.Elevation(q); ok {
			return e - pad
		}
		return 0
	}
}
