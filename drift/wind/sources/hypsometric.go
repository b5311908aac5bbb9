package sources

import (
	"math"
	"sort"
)

const (
	gasConstant = 287.05287 // J/(kg K), dry air, U.S. Standard Atmosphere 1976
	gravity     = 9.80665   // m/s2, of geopotential metres
	epsilon     = 0.62198   // ratio of the molar masses of water and dry air
	celsius     = 273.15    // K at 0 degC
)

// vapourPressure returns the saturation vapour pressure in Pa over water at
// temperature t in K (Bolton 1980, Monthly Weather Review 108, equation 10).
func vapourPressure(t float64) float64 {
	c := t - celsius
	return 611.2 * math.Exp(17.67*c/(c+243.5))
}

// virtualTemperature returns the temperature in K of dry air as dense as the
// moist air; the plain temperature where dew is NaN.
func virtualTemperature(p, t, dew float64) float64 {
	if math.IsNaN(dew) {
		return t
	}
	e := vapourPressure(math.Min(dew, t))
	if e > 0.1*p { // no such air: a broken dew point
		return t
	}
	return t / (1 - e/p*(1-epsilon))
}

// fillElevations gives every sample that has a pressure but no elevation one by
// the hypsometric equation, dz = R Tv/g ln(p1/p2) with the mean virtual
// temperature of the layer, temperatures linear in ln p between the samples
// that report one and held beyond them. Reported elevations are kept and the
// column is tied to them: shifted to the nearest one, and between two the
// difference is spread in proportion to ln p. With no elevation reported at
// all the lowest level is put at pad, and known is false where that is nil
// (elevations then count from the lowest level). Where no temperature is
// reported, as by pilot balloons, the standard atmosphere's stands for it, and
// standard is true if an elevation came of it.
func fillElevations(samples []sample, pad *float64) (known, standard bool) {
	var col []*sample
	anchored := false
	for i := range samples {
		if !math.IsNaN(samples[i].elevation) {
			anchored = true
		}
		if !math.IsNaN(samples[i].pressure) {
			col = append(col, &samples[i])
		}
	}
	sort.SliceStable(col, func(i, j int) bool { return col[i].pressure > col[j].pressure })
	rel, measured := thickness(col)
	offset := make([]float64, len(col))
	prev := -1
	for i, s := range col {
		if math.IsNaN(s.elevation) {
			continue
		}
		offset[i] = s.elevation - rel[i]
		for j := prev + 1; j < i; j++ {
			offset[j] = offset[i]
			if prev >= 0 && col[prev].pressure > s.pressure {
				f := math.Log(col[prev].pressure/col[j].pressure) / math.Log(col[prev].pressure/s.pressure)
				offset[j] = offset[prev] + f*(offset[i]-offset[prev])
			}
		}
		prev = i
	}
	base := 0.0
	if pad != nil {
		base = *pad
	}
	for i, s := range col {
		standard = standard || math.IsNaN(s.elevation) && !measured
		switch {
		case !math.IsNaN(s.elevation):
		case prev >= 0 && i > prev:
			s.elevation = rel[i] + offset[prev]
		case prev >= 0:
			s.elevation = rel[i] + offset[i]
		case !anchored:
			s.elevation = rel[i] + base
		}
	}
	return anchored || pad != nil, standard
}

// thickness returns the geopotential height in metres of each sample of col,
// descending in pressure, above the first; measured is false where no
// temperature is reported and the standard atmosphere's was taken.
func thickness(col []*sample) (rel []float64, measured bool) {
	tv := make([]float64, len(col))
	var have []int
	for i, s := range col {
		tv[i] = virtualTemperature(s.pressure, s.temperature, s.dew)
		if !math.IsNaN(tv[i]) {
			have = append(have, i)
		}
	}
	measured = len(have) > 0
	for i, s := range col {
		if !measured {
			tv[i] = standardTemperature(s.pressure)
			have = append(have, i)
		}
	}
	k := 0
	for i, s := range col {
		for k < len(have) && have[k] < i {
			k++
		}
		switch {
		case k == 0:
			tv[i] = tv[have[0]]
		case k == len(have):
			tv[i] = tv[have[k-1]]
		case have[k] != i:
			a, b := have[k-1], have[k]
			if d := math.Log(col[a].pressure / col[b].pressure); d > 0 {
				f := math.Log(col[a].pressure/s.pressure) / d
				tv[i] = tv[a] + f*(tv[b]-tv[a])
			} else {
				tv[i] = tv[a]
			}
		}
	}
	rel = make([]float64, len(col))
	for i := 1; i < len(col); i++ {
		rel[i] = rel[i-1] + gasConstant/gravity*(tv[i-1]+tv[i])/2*math.Log(col[i-1].pressure/col[i].pressure)
	}
	return rel, measured
}

// standardTemperature returns the temperature in K of the U.S. Standard
// Atmosphere 1976 at a pressure in Pa, up to 20 km.
func standardTemperature(p float64) float64 {
	const exponent = 0.0065 * gasConstant / gravity
	return math.Max(216.65, 288.15*math.Pow(p/101325, exponent))
}
