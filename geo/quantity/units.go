package quantity

import "math"

type unit struct {
	kind   Kind
	factor float64 // SI = value*factor + offset
	offset float64
}

// Exact by definition (international yard and pound 1959, nautical mile 1929),
// but for inHg: conventional mmHg, 133.322387415 Pa (ISO 80000-4, from
// memory), x 25.4.
const (
	inch  = 0.0254           // m
	foot  = 0.3048           // m
	mile  = 1609.344         // m
	naut  = 1852.0           // m
	pound = 0.45359237       // kg
	lbf   = 4.4482216152605  // N
	inHg  = 3386.388640341   // Pa
	fZero = 459.67 * 5.0 / 9 // K at 0 degF
)

var units = map[string]unit{
	"m": {Length, 1, 0}, "metre": {Length, 1, 0}, "metres": {Length, 1, 0}, "meter": {Length, 1, 0},
	"meters": {Length, 1, 0},
	"mm":     {Length, 1e-3, 0}, "cm": {Length, 1e-2, 0}, "km": {Length, 1e3, 0},
	"in": {Length, inch, 0}, "inch": {Length, inch, 0}, "inches": {Length, inch, 0}, `"`: {Length, inch, 0},
	"ft": {Length, foot, 0}, "foot": {Length, foot, 0}, "feet": {Length, foot, 0}, "'": {Length, foot, 0},
	"yd": {Length, 3 * foot, 0}, "yard": {Length, 3 * foot, 0}, "yards": {Length, 3 * foot, 0},
	"mi": {Length, mile, 0}, "mile": {Length, mile, 0}, "miles": {Length, mile, 0},
	"nmi": {Length, naut, 0}, "NM": {Length, naut, 0},

	"kg": {Mass, 1, 0}, "g": {Mass, 1e-3, 0}, "mg": {Mass, 1e-6, 0}, "t": {Mass, 1e3, 0},
	"lb": {Mass, pound, 0}, "lbs": {Mass, pound, 0}, "oz": {Mass, pound / 16, 0},

	"s": {Time, 1, 0}, "sec": {Time, 1, 0}, "second": {Time, 1, 0}, "seconds": {Time, 1, 0}, "ms": {Time, 1e-3, 0},
	"min": {Time, 60, 0}, "minute": {Time, 60, 0}, "minutes": {Time, 60, 0},
	"h": {Time, 3600, 0}, "hr": {Time, 3600, 0}, "hour": {Time, 3600, 0}, "hours": {Time, 3600, 0},

	"m/s": {Speed, 1, 0}, "mps": {Speed, 1, 0}, "m/min": {Speed, 1.0 / 60, 0},
	"km/h": {Speed, 1 / 3.6, 0}, "kmh": {Speed, 1 / 3.6, 0}, "kph": {Speed, 1 / 3.6, 0},
	"kn": {Speed, naut / 3600, 0}, "kt": {Speed, naut / 3600, 0}, "kts": {Speed, naut / 3600, 0},
	"knot": {Speed, naut / 3600, 0}, "knots": {Speed, naut / 3600, 0},
	"mph": {Speed, mile / 3600, 0}, "mi/h": {Speed, mile / 3600, 0},
	"ft/s": {Speed, foot, 0}, "fps": {Speed, foot, 0}, "ft/min": {Speed, foot / 60, 0},

	"deg": {Angle, 1, 0}, "degree": {Angle, 1, 0}, "degrees": {Angle, 1, 0}, "°": {Angle, 1, 0},
	"rad": {Angle, 180 / math.Pi, 0}, "mrad": {Angle, 0.18 / math.Pi, 0},

	"N": {Force, 1, 0}, "kN": {Force, 1e3, 0}, "lbf": {Force, lbf, 0}, "kgf": {Force, 9.80665, 0},
	"N s": {Impulse, 1, 0}, "kN s": {Impulse, 1e3, 0}, "lbf s": {Impulse, lbf, 0},

	"Pa": {Pressure, 1, 0}, "hPa": {Pressure, 100, 0}, "kPa": {Pressure, 1e3, 0},
	"mbar": {Pressure, 100, 0}, "mb": {Pressure, 100, 0}, "bar": {Pressure, 1e5, 0},
	"inHg": {Pressure, inHg, 0}, "mmHg": {Pressure, inHg / 25.4, 0}, "atm": {Pressure, 101325, 0},
	"psi": {Pressure, lbf / (inch * inch), 0},

	"K": {Temperature, 1, 0}, "degC": {Temperature, 1, 273.15}, "°C": {Temperature, 1, 273.15},
	"C":    {Temperature, 1, 273.15},
	"degF": {Temperature, 5.0 / 9, fZero}, "°F": {Temperature, 5.0 / 9, fZero}, "F": {Temperature, 5.0 / 9, fZero},

	"m2": {Area, 1, 0}, "dm2": {Area, 1e-2, 0}, "cm2": {Area, 1e-4, 0}, "mm2": {Area, 1e-6, 0},
	"in2": {Area, inch * inch, 0}, "ft2": {Area, foot * foot, 0}, "yd2": {Area, 9 * foot * foot, 0},
	"km2": {Area, 1e6, 0}, "ha": {Area, 1e4, 0},

	"%": {Ratio, 0.01, 0}, "percent": {Ratio, 0.01, 0},
}
