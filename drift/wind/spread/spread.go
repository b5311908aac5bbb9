package spread

import (
	"math"

	"windfall/drift/wind"
)

// Source is what is known of how a wind came about.
type Source struct {
	Name string  // what it is, for people: "sounding"
	Age  float64 // hours from the wind to the launch; negative, after it, counts the same
	Away float64 // m from the pad
	Sun  float64 // degrees above the horizon at the launch; NaN: not known
	Veer bool    // the flier gave the turn with height
}

// day is the share of daylight; half where it is not known.
func (s Source) day() float64 {
	if math.IsNaN(s.Sun) {
		return 0.5
	}
	return Daylight(s.Sun)
}

// Daylight is the share of daylight for a sun so many degrees above the
// horizon: none at 6 below (the end of civil twilight), all at 6 above.
func Daylight(sunDeg float64) float64 { return min(max((sunDeg+6)/12, 0), 1) }

// heights are where an error is tabled, m.
var heights = []float64{0, 5, 10, 20, 35, 50, 75, 100, 150, 200, 300, 400, 500, 600, 800, 1000, 1250, 1500, 2000, 2500,
	3000, 4000, 5000, 7000, 9000, 12000, 16000}

// hours is the age that time and distance together count as.
func (m *Model) hours(s Source) float64 {
	return math.Abs(s.Age) + s.Away/1000/m.KmPerHour
}

// fresh is the age in hours below which a wind is one of the hour; a sounding
// rises for as long as freshAscent.
const (
	fresh       = 0.25
	freshAscent = 1.0
)

// ofTheHour tells whether a profile of that age counts as of the hour.
func (s Source) ofTheHour(hours float64) bool {
	return hours <= fresh || s.Name == soundingName && hours <= freshAscent
}

// Of returns the spread of a profile by its source; nil: the default.
func (m *Model) Of(p wind.Profile, s Source) *wind.Spread {
	if len(p.Levels) == 1 {
		return m.lone(p, s)
	}
	return m.profile(p, s)
}

// lone is the spread of one reading.
func (m *Model) lone(p wind.Profile, s Source) *wind.Spread {
	l := p.Levels[0]
	h := m.hours(s)
	out := &wind.Spread{Kind: wind.Surface, Says: loneSays(l, h, s), Reach: m.Reach, Carried: m.Carried, Hours: h}
	share, aged := 1.0, 0.0
	if h > 0 {
		share, aged = m.kept(surface, h)
		share = math.Sqrt(share) // what the reading stands for aloft outlives it
	}
	for _, z := range heights {
		u, v := p.At(z)
		gap := math.Abs(z - l.Height)
		local := min(m.grows(gap, s.day()), 0.95*m.climate(z))
		g := complex(m.loneGain(p, z, local, s.day()), 0) * clockwise(m.loneTurn(p, z, s))
		was := complex(u, v)
		mean := was * g * complex(share, 0)
		total := m.Own*m.Own + restless(p, z) + local + aged
		r := m.row(out, z, was, mean, total)
		tail := m.TailLone * math.Exp(-gap/m.TailDepth)
		r.Tail = math.Sqrt(((total-aged)*tail*tail + aged*m.TailAge*m.TailAge) / total)
		out.Rows = append(out.Rows, r)
	}
	return out
}

// loneGain is the true speed at z over what the single-level law makes of the
// reading. A reading high up is regressed toward the climate of z instead: what
// the law would scale down from it is not known.
func (m *Model) loneGain(p wind.Profile, z, variance, day float64) float64 {
	h := p.Levels[0].Height
	if h <= surfaceTop {
		return m.gain(z, day) / m.gain(h, day)
	}
	law := p.Law(z)
	if law < 1e-6 {
		return 1
	}
	c := m.climate(z)
	return math.Sqrt(max(c-variance, 0)/m.climate(h)) / law
}

// surfaceTop is how high a reading may be to count as one near the ground, m.
const surfaceTop = 60.0

// loneTurn is how much further clockwise than the law has it the wind turns
// from the reading to z, degrees.
func (m *Model) loneTurn(p wind.Profile, z float64, s Source) float64 {
	if s.Veer {
		return 0
	}
	h := p.Levels[0].Height
	t := m.veer(z, s.day()) - m.veer(h, s.day())
	if p.South {
		t = -t
	}
	return t - p.LawTurn(z)
}

// profile is the spread of a profile: that of its age, and of what lies above
// its top.
func (m *Model) profile(p wind.Profile, s Source) *wind.Spread {
	top := p.Levels[len(p.Levels)-1].Height
	h := m.hours(s)
	out := &wind.Spread{Kind: wind.Old, Says: oldSays(h, s), Carried: 1}
	if s.ofTheHour(h) {
		h, out.Kind, out.Says, out.From, out.Reach = 0, wind.Fresh, freshSays(top, s), beyond*top+beyondMore, m.Reach
	}
	out.Hours = h
	for _, z := range heights {
		u, v := p.At(z)
		base := p.ShapeSD(z)
		share, tail, total := 1.0, 0.0, base*base+m.grows(z-top, s.day())
		if h > 0 {
			var aged float64
			share, aged = m.kept(z, h)
			total += aged
			w := aged / total
			tail = m.TailAge * math.Sqrt(w)
			if z == weighedAt { // the default's field is shorter
				out.Reach = wind.ShapeScale + w*(m.Reach-wind.ShapeScale)
			}
		}
		out.Rows = append(out.Rows, wind.SpreadRow{Height: z, U: (share - 1) * u, V: (share - 1) * v,
			SD: math.Sqrt(total), Tail: tail})
	}
	return out
}

// A flight that goes above the top of a profile of the hour by no more than
// this counts as within it: the top level's wind is held up there.
const (
	beyond     = 1.25
	beyondMore = 50.0 // m
)

// weighedAt is the height at which the parts of an error are weighed where one
// number stands for all heights, m.
const weighedAt = 100.0

// restless is the variance that gusts or a swinging direction add to the
// default of the shape.
func restless(p wind.Profile, z float64) float64 {
	var usual wind.Profile
	s, u := p.ShapeSD(z), usual.ShapeSD(z)
	return max(s*s-u*u, 0)
}

// Lead is by how much the variance of a forecast's error exceeds the published
// one at a lead of so many hours.
func (m *Model) Lead(hours float64) float64 {
	return 1 + max(hours-m.LeadSilent, 0)/m.LeadHours
}

// Carried is the variance that the default spread of speed and direction gives
// a component of a wind of u, v m/s.
func Carried(u, v float64) float64 { return carried(complex(u, v)) }

// carried is the variance that the default spread of speed and direction gives
// a component of this wind.
func carried(w complex128) float64 {
	const turn = wind.DirectionSpread * math.Pi / 180
	return (real(w)*real(w) + imag(w)*imag(w)) * (wind.SpeedSpread*wind.SpeedSpread + turn*turn) / 2
}

// least is the least standard deviation of a field, m/s: no wind is known
// better at a height.
const least = 0.2

// row makes a row whose field, with what is left of the spread of speed and
// direction, comes to the total variance. was is the wind given, mean the
// runs'.
func (m *Model) row(s *wind.Spread, z float64, was, mean complex128, total float64) wind.SpreadRow {
	miss := mean - was
	return wind.SpreadRow{Height: z, U: real(miss), V: imag(miss),
		SD: math.Sqrt(max(total-s.Carried*s.Carried*carried(mean), least*least))}
}

// clockwise turns a wind by degrees seen from above.
func clockwise(deg float64) complex128 {
	s, c := math.Sincos(deg * math.Pi / 180)
	return complex(c, -s)
}
