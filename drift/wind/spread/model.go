package spread

import "math"

// Model holds the numbers that make a wind's error. All variances are of one
// component, in m2/s2.
type Model struct {
	// One reading near the ground, carried up by the single-level law.
	Slow      float64 // by so much less per e-fold of height above 10 m does the wind grow than the law has it
	Jet       float64 // share of the law's wind that the stable night adds at JetHeight
	JetHeight float64 // m
	Veer      float64 // degrees of turn far above the ground, clockwise in the north
	VeerDay   float64 // m, depth over which it turns when the sun mixes the air
	VeerNight float64 // m, and in a stable night
	Day       Growth  // of the error's variance with height above the reading
	Night     Growth
	Footing   float64 // m, depth near the ground that goes with the reading
	Own       float64 // m/s, error of the reading itself
	Carried   float64 // share of the default spread of speed and direction that is left beside all this

	// A wind some hours old.
	RateLow    float64 // m/s for each square root of an hour at 10 m
	Rate       float64 // at 100 m
	RateAloft  float64 // and from 600 m up
	Climate    float64 // m/s, root mean square component at 10 m, where growth ends
	ClimateUp  float64 // its exponent with height
	KmPerHour  float64 // so many km away count as one hour
	TailLone   float64 // log sd of the error's size, of one reading, at the ground
	TailDepth  float64 // m, falling to 1/e over this
	TailAge    float64 // and of what age adds
	Reach      float64 // m, errors at two heights correlate as exp(-|dz|/Reach)
	Learns     float64 // m, and with a reading near the ground as 1/(1 + (dz/Learns)^1.2)
	LeadHours  float64 // a forecast's error variance doubles in this lead
	LeadSilent float64 // hours of lead that the published errors stand for
}

// Growth is how variance grows with the distance in height, z in m:
// PerMetre z/(1 + z/Fade).
type Growth struct{ PerMetre, Fade float64 }

func (g Growth) at(z float64) float64 { return g.PerMetre * z / (1 + z/g.Fade) }

// Fitted are the numbers that testdata/winds prints, rounded; figures.txt there has
// the count and the interval of each, its README what each rests on.
var Fitted = Model{
	Slow: 0.09, Jet: 0.66, JetHeight: 910, Veer: 43, VeerDay: 730, VeerNight: 360,
	Day: Growth{0.037, 2600}, Night: Growth{0.2, 240}, Footing: 110, Own: 0.2, Carried: 0.55,
	RateLow: 1.95, Rate: 2.1, RateAloft: 1.76, Climate: 3.6, ClimateUp: 0.17, KmPerHour: 70,
	TailLone: 0.9, TailDepth: 195, TailAge: 0.34, Reach: 1400, Learns: 550, LeadHours: 48, LeadSilent: 24,
}

// surface is the height airports and this model's figures have their readings
// at, m (WMO-No. 8).
const surface = 10.0

// grows is the variance that a distance in height of gap metres from the
// nearest wind known adds, at the share day of daylight.
func (m *Model) grows(gap, day float64) float64 {
	if gap <= 0 {
		return 0
	}
	return (day*m.Day.at(gap) + (1-day)*m.Night.at(gap)) * gap / (gap + m.Footing)
}

// climate is the variance of a component over the years at z.
func (m *Model) climate(z float64) float64 {
	s := m.Climate * math.Pow(max(z, surface)/surface, m.ClimateUp)
	return s * s
}

// kept is how much of a wind at z is left after some hours, and the variance that has come in its
// place: an autoregression whose variance
// levels off at the climate's.
func (m *Model) kept(z, hours float64) (share, variance float64) {
	rate := m.rate(max(z, surface))
	c := m.climate(z)
	grown := rate * rate * hours / c
	return math.Exp(-grown / 2), c * -math.Expm1(-grown)
}

// rate is how fast a wind at z goes its own way, m/s for each square root of an
// hour: linear in the logarithm of height between 10, 100 and 600 m.
func (m *Model) rate(z float64) float64 {
	const middle, aloft = 100.0, 600.0
	if z < middle {
		return m.RateLow + (m.Rate-m.RateLow)*math.Log(z/surface)/math.Log(middle/surface)
	}
	return m.Rate + (m.RateAloft-m.Rate)*min(math.Log(z/middle)/math.Log(aloft/middle), 1)
}

// gain is the true speed over the law's at z, seen from 10 m.
func (m *Model) gain(z, day float64) float64 {
	z = max(z, surface)
	x := z / m.JetHeight
	return max(1-m.Slow*math.Log(z/surface), 0.2) + (1-day)*m.Jet*x*math.Exp(1-x)
}

// veer is the turn from the ground to z in degrees, northern hemisphere.
func (m *Model) veer(z, day float64) float64 {
	z = max(z, 0)
	return m.Veer * (day*-math.Expm1(-z/m.VeerDay) + (1-day)*-math.Expm1(-z/m.VeerNight))
}
