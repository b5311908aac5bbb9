// Package sun tells where the sun stands and when it rises, sets and leaves
// enough light to walk by, at sea-level horizons: hills and forests darken
// ground earlier. It knows nothing of clouds or of legal definitions of night.
package sun

import (
	"math"
	"time"

	"github.com/paulmach/orb"

	"windfall/geo"
)

// Horizon angles of the centre of the sun, degrees.
const (
	// RiseDeg is where the upper limb shows: 34' of refraction and 16' of the
	// sun's radius (the convention of the almanacs; NOAA's calculator uses 0.833).
	RiseDeg = -0.833
	// CivilDeg is the end of civil twilight.
	CivilDeg = -6.0
)

// Day holds the times of one local calendar day. A time is zero when the sun
// does not cross that angle; Noon is always set.
type Day struct {
	CivilDawn, Sunrise, Noon, Sunset, CivilDusk time.Time
	NoonDeg                                     float64 // the sun's height at Noon, degrees
}

// At returns the sun's height above the horizon, degrees, without refraction,
// and its azimuth, degrees true, clockwise from north, at instant t and place p.
// Low-precision formulas of Meeus, Astronomical Algorithms (1998), chapters 25
// and 28, as NOAA's solar calculator uses them: 0.01 degrees from 1950 to 2050.
func At(t time.Time, p orb.Point) (heightDeg, azimuthDeg float64) {
	decl, transit := position(t)
	hour := radians(360*dayFraction(t) + transit + p.Lon() - 180)
	lat := radians(p.Lat())
	sinH := math.Sin(lat)*math.Sin(decl) + math.Cos(lat)*math.Cos(decl)*math.Cos(hour)
	az := math.Atan2(-math.Sin(hour)*math.Cos(decl),
		math.Sin(decl)*math.Cos(lat)-math.Cos(decl)*math.Cos(hour)*math.Sin(lat))
	return degrees(math.Asin(math.Max(-1, math.Min(1, sinH)))), geo.NormDeg(degrees(az))
}

// On returns the times of the calendar day of t (in t's location) at p.
func On(t time.Time, p orb.Point) Day {
	y, m, d := t.Date()
	// Local mean noon of that date at p; the equation of time moves it.
	noon := time.Date(y, m, d, 12, 0, 0, 0, time.UTC).Add(-hours(p.Lon() / 15))
	for range 2 {
		_, transit := position(noon)
		off := math.Remainder(360*dayFraction(noon)+transit+p.Lon()-180, 360)
		noon = noon.Add(-hours(off / 15))
	}
	day := Day{Noon: noon.In(t.Location()).Round(time.Second)}
	day.NoonDeg, _ = At(noon, p)
	cross := func(angle float64, sign float64) time.Time {
		far := noon.Add(hours(sign * 12))
		hn, _ := At(noon, p)
		hf, _ := At(far, p)
		if hn < angle || hf >= angle {
			return time.Time{}
		}
		in, out := noon, far
		for out.Sub(in).Abs() > 100*time.Millisecond {
			mid := in.Add(out.Sub(in) / 2)
			if h, _ := At(mid, p); h >= angle {
				in = mid
			} else {
				out = mid
			}
		}
		return in.In(t.Location()).Round(time.Second)
	}
	day.CivilDawn, day.Sunrise = cross(CivilDeg, -1), cross(RiseDeg, -1)
	day.Sunset, day.CivilDusk = cross(RiseDeg, 1), cross(CivilDeg, 1)
	return day
}

// NextDusk returns the first end of civil twilight after t at p, in t's
// location; zero when there is none within a day, as near the poles in summer.
func NextDusk(t time.Time, p orb.Point) time.Time {
	for d := -1; d <= 1; d++ { // t's calendar day need not be p's
		if dusk := On(t.AddDate(0, 0, d), p).CivilDusk; dusk.After(t) && dusk.Sub(t) <= 24*time.Hour {
			return dusk
		}
	}
	return time.Time{}
}

// Light is what the sun gives to walk and look by.
type Light string

// The kinds of light.
const (
	Daylight Light = "daylight"
	Twilight Light = "civil twilight"
	Dark     Light = "dark"
)

// LightAt returns the light at instant t and place p.
func LightAt(t time.Time, p orb.Point) Light {
	switch h, _ := At(t, p); {
	case h >= RiseDeg:
		return Daylight
	case h >= CivilDeg:
		return Twilight
	}
	return Dark
}

// position returns the sun's declination (rad) and the equation of time
// (degrees of turn: apparent less mean) at t.
func position(t time.Time) (decl, equationDeg float64) {
	c := (float64(t.Unix())+float64(t.Nanosecond())*1e-9)/86400 + 2440587.5
	c = (c - 2451545) / 36525 // Julian centuries from J2000
	mean := 280.46646 + c*(36000.76983+c*0.0003032)
	anomaly := radians(357.52911 + c*(35999.05029-0.0001537*c))
	e := 0.016708634 - c*(0.000042037+0.0000001267*c)
	centre := math.Sin(anomaly)*(1.914602-c*(0.004817+0.000014*c)) +
		math.Sin(2*anomaly)*(0.019993-0.000101*c) + math.Sin(3*anomaly)*0.000289
	node := radians(125.04 - 1934.136*c)
	lambda := radians(mean + centre - 0.00569 - 0.00478*math.Sin(node))
	tilt := radians(23 + (26+(21.448-c*(46.815+c*(0.00059-c*0.001813)))/60)/60 + 0.00256*math.Cos(node))
	y := math.Tan(tilt / 2)
	y *= y
	l := radians(mean)
	equation := y*math.Sin(2*l) - 2*e*math.Sin(anomaly) + 4*e*y*math.Sin(anomaly)*math.Cos(2*l) -
		0.5*y*y*math.Sin(4*l) - 1.25*e*e*math.Sin(2*anomaly)
	return math.Asin(math.Sin(tilt) * math.Sin(lambda)), degrees(equation)
}

// dayFraction returns how much of its UTC day has passed at t.
func dayFraction(t time.Time) float64 {
	u := t.UTC()
	return (float64(u.Hour()*3600+u.Minute()*60+u.Second()) + float64(u.Nanosecond())*1e-9) / 86400
}

func hours(h float64) time.Duration { return time.Duration(h * float64(time.Hour)) }
func radians(d float64) float64     { return d * math.Pi / 180 }
func degrees(r float64) float64     { return r * 180 / math.Pi }
