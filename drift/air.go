package drift

import "math"

// U.S. Standard Atmosphere, 1976 (NOAA/NASA/USAF, NOAA-S/T 76-1562), its
// defining constants up to the second stratospheric layer.
const (
	rAir        = 287.05287 // J/(kg K), 8314.32 / 28.9644
	gammaAir    = 1.4       // ratio of specific heats
	gStandard   = 9.80665   // m/s2
	earthR      = 6356766.0 // m, radius of its geopotential height
	seaPressure = 101325.0  // Pa
	rho0        = 1.225     // kg/m3 at sea level
)

// airLayer is a layer of constant lapse rate above base m geopotential.
type airLayer struct{ base, temp, lapse float64 } // m, K, K/m

var airLayers = [...]airLayer{
	{0, 288.15, -0.0065}, // it goes on below sea level
	{11000, 216.65, 0},
	{20000, 216.65, 0.001},
	{32000, 228.65, 0.0028},
}

// geopotential returns the geopotential height (m) of an elevation (m).
func geopotential(elevation float64) float64 {
	return earthR * elevation / (earthR + elevation)
}

func layerAt(h float64) int {
	i := len(airLayers) - 1
	for i > 0 && h < airLayers[i].base {
		i--
	}
	return i
}

// standardTemperature returns K at h m geopotential.
func standardTemperature(h float64) float64 {
	l := airLayers[layerAt(h)]
	return l.temp + l.lapse*(h-l.base)
}

// logPressureRatio returns ln(p(h1)/p(h0)) for hydrostatic air whose
// temperature is the standard one plus shift (K), heights in m geopotential.
func logPressureRatio(h0, h1, shift float64) float64 {
	if h1 < h0 {
		return -logPressureRatio(h1, h0, shift)
	}
	sum := 0.0
	for h0 < h1 {
		i := layerAt(h0)
		top := h1
		if i+1 < len(airLayers) {
			top = min(top, airLayers[i+1].base)
		}
		l := airLayers[i]
		t0 := l.temp + l.lapse*(h0-l.base) + shift
		if l.lapse == 0 {
			sum -= gStandard / rAir * (top - h0) / t0
		} else {
			sum -= gStandard / (rAir * l.lapse) * math.Log1p(l.lapse*(top-h0)/t0)
		}
		h0 = top
	}
	return sum
}

// air is the atmosphere over the pad.
type air struct {
	padElevation float64 // m
	shift        float64 // K, observed minus standard temperature at the pad
	padPressure  float64 // Pa
}

func newAir(s Site) air {
	a := air{padElevation: s.Elevation}
	h := geopotential(s.Elevation)
	if s.Temperature != nil {
		a.shift = *s.Temperature - standardTemperature(h)
	}
	switch {
	case s.Station != nil:
		a.padPressure = *s.Station
	case s.QNH != nil:
		a.padPressure = *s.QNH * math.Exp(logPressureRatio(0, h, 0))
	default:
		a.padPressure = seaPressure * math.Exp(logPressureRatio(0, h, 0))
	}
	return a
}

// at returns temperature (K), pressure (Pa), density (kg/m3) and speed of sound
// (m/s) at z m above the pad.
func (a air) at(z float64) (t, p, rho, sound float64) {
	h := geopotential(a.padElevation + z)
	t = max(standardTemperature(h)+a.shift, 50) // the floor keeps absurd input finite
	p = a.padPressure * math.Exp(logPressureRatio(geopotential(a.padElevation), h, a.shift))
	return t, p, p / (rAir * t), math.Sqrt(gammaAir * rAir * t)
}

// airNode is a row of the table: density, its slope to the next row, and the
// inverse of the speed of sound with its slope.
type airNode struct{ rho, dRho, inv, dInv float64 }

// airStep is the table's spacing in m. Straight lines between rows err by
// step^2/8 (1/6.3 km)^2 = 1.3e-6 of the density, by 2e-5 in the one step across
// the tropopause.
const airStep = 20.0

// tabulate fills rows from bottom (m above the pad) to at least top.
func (a air) tabulate(bottom, top float64) []airNode {
	n := int((top-bottom)/airStep) + 2
	rows := make([]airNode, n)
	for i := range rows {
		_, _, rho, s := a.at(bottom + float64(i)*airStep)
		rows[i].rho, rows[i].inv = rho, 1/s
	}
	for i := 0; i+1 < n; i++ {
		rows[i].dRho = (rows[i+1].rho - rows[i].rho) / airStep
		rows[i].dInv = (rows[i+1].inv - rows[i].inv) / airStep
	}
	return rows
}

// Gravity: WGS 84 normal gravity at the ellipsoid (Somigliana's formula; NIMA
// TR8350.2, 3rd edition, table 3.4) and its free-air decrease.
const (
	gEquator      = 9.7803253359     // m/s2
	gSomigliana   = 0.00193185265241 // k
	eSquared      = 0.00669437999013 // first eccentricity squared
	gravityRadius = 6371000.0        // m, g(z) = g0 (1 - 2 elevation/radius)
)

func normalGravity(latDeg float64) float64 {
	s := math.Sin(latDeg * math.Pi / 180)
	return gEquator * (1 + gSomigliana*s*s) / math.Sqrt(1-eSquared*s*s)
}
