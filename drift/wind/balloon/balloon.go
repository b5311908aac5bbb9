// Package balloon makes winds of the angles at which a pilot balloon is seen:
// by one observer where its ascent rate is known, by two, or by one who reads
// the length of a tail hung below it through a sight (World Meteorological
// Organization, Guide to Instruments and Methods of Observation, WMO-No. 8,
// part I, chapter 13, from memory). Metres, seconds, degrees; x east, y north,
// z up from the first observer. It reads no files.
package balloon

import (
	"fmt"
	"math"

	"windfall/drift/wind"
)

// Look is one look at the balloon. Azimuths are degrees true, elevations above
// the horizon.
type Look struct {
	Time               float64 // s after release
	Elevation, Azimuth float64
	Elevation2         float64 // the second observer's; NaN: there is none
	Azimuth2           float64
	Tail               float64 // degrees that the tail subtends; NaN: not read
}

// Ascent is a balloon followed.
type Ascent struct {
	Looks    []Look  // ascending in time
	Rise     float64 // m/s, known ascent rate; 0: not known
	Tail     float64 // m, length of the tail; 0: none
	Base     float64 // m to the second observer; 0: none
	BaseDeg  float64 // degrees true toward the second observer
	BaseUp   float64 // m, by how much the second observer stands higher
	AngleSD  float64 // degrees; 0: a hand-held sight's
	RiseSD   float64 // of the ascent rate, relative; 0: 10 %
	ReadTail float64 // degrees, error of the tail's angle; 0: a tenth of AngleSD
}

// Errors assumed where nothing better is known, choices of ours: a theodolite
// reads to 0.1 degrees, a sight held by hand to half a degree; a toy balloon
// filled by weight rises within 10 %.
const (
	handSight = 0.5
	riseError = 0.1
)

// Level is the wind of a layer.
type Level struct {
	wind.Level
	SD float64 // m/s, standard deviation of each component
}

// LookError is an error about one look.
type LookError struct {
	Look int // index
	Msg  string
}

func (e *LookError) Error() string { return fmt.Sprintf("look %d: %s", e.Look+1, e.Msg) }

type point [3]float64

// Levels returns the winds between one look and the next, the first from the
// release at the first observer's feet, and cautions.
func (a *Ascent) Levels() (out []Level, cautions []string, err error) {
	if a.AngleSD == 0 {
		a.AngleSD = handSight
	}
	if a.RiseSD == 0 {
		a.RiseSD = riseError
	}
	if a.ReadTail == 0 {
		a.ReadTail = a.AngleSD / 10
	}
	if len(a.Looks) == 0 {
		return nil, nil, &LookError{0, "there is none; write time, elevation and azimuth, a line a look"}
	}
	var last, lastVar point
	lastTime, low := 0.0, 0
	for i, l := range a.Looks {
		if err := a.check(i, l, lastTime); err != nil {
			return nil, nil, err
		}
		p, err := a.place(i, l)
		if err != nil {
			return nil, nil, err
		}
		if p[2] <= last[2] {
			return nil, nil, &LookError{i,
				fmt.Sprintf("the balloon sinks, from %.0f to %.0f m; check the angles, or end the table before it", last[2], p[2])}
		}
		variance := a.variance(i, l, p)
		if l.Elevation < lowest {
			low++
		}
		dt := l.Time - lastTime
		u, v := (p[0]-last[0])/dt, (p[1]-last[1])/dt
		angles := (variance[0] + lastVar[0] + variance[1] + lastVar[1]) / 2 / (dt * dt)
		rise := 0.0
		if !a.measuresHeight() { // all layers are off alike
			rise = a.RiseSD * a.RiseSD * (u*u + v*v) / 2
		}
		level := Level{SD: math.Sqrt(angles + rise)}
		level.Height = (p[2] + last[2]) / 2
		level.Speed = math.Hypot(u, v)
		level.FromDeg = math.Mod(math.Atan2(-u, -v)*180/math.Pi+360, 360)
		out = append(out, level)
		last, lastVar, lastTime = p, variance, l.Time
	}
	if low > 0 {
		cautions = append(cautions, fmt.Sprintf("%d looks below %g degrees: the distance is poorly known there", low, lowest))
	}
	return out, cautions, nil
}

// lowest is the elevation below which the distance goes with small errors of
// the angle, degrees: at 6 degrees a tenth of a degree is 1.7 % of it.
const lowest = 6.0

// measuresHeight tells whether the height is measured, not taken from the time.
func (a *Ascent) measuresHeight() bool { return a.Base > 0 || a.Tail > 0 }

func (a *Ascent) check(i int, l Look, before float64) error {
	bad := func(format string, args ...any) error { return &LookError{i, fmt.Sprintf(format, args...)} }
	switch {
	case !(l.Time > before):
		return bad("time %g s is not after %g s; write the looks in order, seconds after release", l.Time, before)
	case !(l.Elevation > 0 && l.Elevation <= 90):
		return bad("elevation %g is not above the horizon; write 0 to 90 deg", l.Elevation)
	case !(l.Azimuth >= 0 && l.Azimuth <= 360):
		return bad("azimuth %g is no bearing; write 0 to 360 deg", l.Azimuth)
	case a.Base > 0 && !(l.Azimuth2 >= 0 && l.Azimuth2 <= 360 && l.Elevation2 > 0 && l.Elevation2 <= 90):
		return bad("the second observer's angles are missing or none; write elevation_2 and azimuth_2")
	case a.Base == 0 && a.Tail > 0 && !(l.Tail > 0 && l.Tail < 45):
		return bad("the tail's angle is missing or none; write 0 to 45 deg")
	case !a.measuresHeight() && !(a.Rise > 0):
		return bad("neither a rate of ascent nor a second observer nor a tail is known; write # rise: 2.5 m/s above the " +
			"heading, or say --rise")
	}
	return nil
}

// place is where the balloon is at a look.
func (a *Ascent) place(i int, l Look) (point, error) {
	switch {
	case a.Base > 0:
		return a.crossed(i, l)
	case a.Tail > 0:
		// The tail hangs straight down: of its length the part across the line of
		// sight is seen.
		r := a.Tail * cosDeg(l.Elevation) / math.Tan(l.Tail*math.Pi/180)
		return along(l.Elevation, l.Azimuth, r), nil
	}
	h := a.Rise * l.Time
	return along(l.Elevation, l.Azimuth, h/sinDeg(l.Elevation)), nil
}

// crossed is the middle of the shortest line between both observers' lines of
// sight.
func (a *Ascent) crossed(i int, l Look) (point, error) {
	o := point{a.Base * sinDeg(a.BaseDeg), a.Base * cosDeg(a.BaseDeg), a.BaseUp}
	d, e := along(l.Elevation, l.Azimuth, 1), along(l.Elevation2, l.Azimuth2, 1)
	de, od, oe := dot(d, e), dot(o, d), dot(o, e)
	det := 1 - de*de
	if det < parallel {
		return point{}, &LookError{i,
			"both observers look the same way: the balloon is over the line between them, or an angle is wrong; leave the " +
				"look out"}
	}
	s, t := (od-de*oe)/det, (de*od-oe)/det
	if s <= 0 || t <= 0 {
		return point{}, &LookError{i, "the lines of sight do not meet before the observers; check the azimuths and the base"}
	}
	var p point
	for k := range p {
		p[k] = (s*d[k] + o[k] + t*e[k]) / 2
	}
	return p, nil
}

// parallel is the squared sine between two lines of sight below which they do
// not cross well: three degrees.
const parallel = 0.003

// variance is that of each coordinate, from the errors of all angles, by the
// slopes of the place.
func (a *Ascent) variance(i int, l Look, at point) (out point) {
	add := func(move func(*Look, float64), sd float64) {
		const step = 0.01 // degrees
		m := l
		move(&m, step)
		p, err := a.place(i, m)
		if err != nil {
			return
		}
		for k := range out {
			out[k] += math.Pow((p[k]-at[k])/step*sd, 2)
		}
	}
	add(func(l *Look, d float64) { l.Elevation -= d }, a.AngleSD)
	add(func(l *Look, d float64) { l.Azimuth += d }, a.AngleSD)
	if a.Base > 0 {
		add(func(l *Look, d float64) { l.Elevation2 -= d }, a.AngleSD)
		add(func(l *Look, d float64) { l.Azimuth2 += d }, a.AngleSD)
	} else if a.Tail > 0 {
		add(func(l *Look, d float64) { l.Tail += d }, a.ReadTail)
	}
	return out
}

// along is the point r metres off at an elevation and azimuth.
func along(elevation, azimuth, r float64) point {
	flat := r * cosDeg(elevation)
	return point{flat * sinDeg(azimuth), flat * cosDeg(azimuth), r * sinDeg(elevation)}
}

func dot(a, b point) float64   { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
func sinDeg(d float64) float64 { return math.Sin(d * math.Pi / 180) }
func cosDeg(d float64) float64 { return math.Cos(d * math.Pi / 180) }
