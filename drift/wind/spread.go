package wind

import "math"

// SD is the standard deviation of each wind component at one height.
type SD struct {
	Height float64 // m above the pad
	SD     float64 // m/s
}

// Defaults of the spread from run to run, all choices of ours; docs/wind.md
// sets them beside published forecast errors.
const (
	ShapeSurface    = 0.5   // m/s at the ground
	ShapePerMetre   = 0.001 // m/s more for each metre of height
	ShapeTop        = 2.5   // m/s, where it stops growing
	ShapeScale      = 400.0 // m: errors at two heights correlate as exp(-|dz|/ShapeScale)
	SpeedSpread     = 0.15  // log-normal, of the whole profile's speed
	DirectionSpread = 10.0  // degrees, normal, of the whole profile's direction
	DefaultVeer     = 15.0  // degrees of turn from 60 m to 600 m, where one level alone is known
)

// ShapeSD returns the standard deviation s(z) in m/s of the wind's random shape
// at z metres above the pad, each component alike: the default
// 0.5 m/s + 1 m/s per km up to 2.5 m/s, or Shape, linear between its heights
// and level outside them. Errors at z and z' have the covariance
// s(z) s(z') exp(-|z-z'|/400 m).
func (p Profile) ShapeSD(z float64) float64 {
	n := len(p.Shape)
	if n == 0 {
		return math.Min(ShapeSurface+ShapePerMetre*math.Max(z, 0), ShapeTop)
	}
	if z <= p.Shape[0].Height {
		return p.Shape[0].SD
	}
	for i := 1; i < n; i++ {
		a, b := p.Shape[i-1], p.Shape[i]
		if z <= b.Height {
			return a.SD + (b.SD-a.SD)*(z-a.Height)/(b.Height-a.Height)
		}
	}
	return p.Shape[n-1].SD
}

// TotalSD returns the standard deviation in m/s of one wind component at z
// metres above the pad where the mean speed is speed (m/s): the shape's, and
// those of the speed's relative and the direction's spread (degrees), averaged
// over the two components and to first order in both.
func (p Profile) TotalSD(z, speed, speedSpread, directionSpreadDeg float64) float64 {
	turn := directionSpreadDeg * math.Pi / 180
	s := p.ShapeSD(z)
	return math.Sqrt(s*s + speed*speed*(speedSpread*speedSpread+turn*turn)/2)
}
