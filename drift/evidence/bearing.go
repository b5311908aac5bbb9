package evidence

import (
	"math"

	"windfall/drift"
)

// bearing: normal in the bearing, and in the elevation angle where one is
// given, both from one observer who is right or mistaken as a whole. At an
// event the place is the run's at that event. At a stated time the place moves
// with the error of the time, which widens the normal along the way the
// vehicle goes (first order). In an interval, or when nothing is said ("last
// seen"), every time in the air is as likely as another and the likelihood is
// the mean over them. A mistaken bearing is any of 360 degrees, a mistaken
// elevation any of 90.
func (t *term) bearing(l *drift.Landing, w *drift.Work) float64 {
	switch {
	case t.Event == "landing" && !t.path:
		m := moment{t: l.LandingS, x: l.At.X, y: l.At.Y}
		return t.seen(&m, 0, 0) + t.stated(l, w)
	case t.Event != "":
		m := at(w.Path, eventTime(t.Event, l, w))
		if math.IsNaN(m.t) {
			return math.Inf(-1)
		}
		return t.seen(&m, 0, 0) + t.stated(l, w)
	case t.At != nil:
		when := *t.At + eventTime(t.Since, l, w)
		if math.IsNaN(when) {
			return math.Inf(-1)
		}
		m := at(w.Path, when)
		// It was in the air at that time, give or take the error of the time.
		aloft := upper((when - l.LandingS) / t.TimeSD)
		return t.seen(&m, t.TimeSD, 0) + math.Log(aloft)
	}
	return t.sometime(l, w)
}

// stated is the likelihood of a time said together with an event.
func (t *term) stated(l *drift.Landing, w *drift.Work) float64 {
	if t.At == nil {
		return 0
	}
	return logNormal(eventTime(t.Event, l, w)-*t.At, t.TimeSD)
}

// sometime is the mean of the likelihood over the times of an interval. The
// interval is cut into pieces; within one the vehicle's way counts as a normal
// with the same variance as a uniform, length^2/12.
func (t *term) sometime(l *drift.Landing, w *drift.Work) float64 {
	from, to := 0.0, l.LandingS
	base := eventTime(t.Since, l, w)
	if math.IsNaN(base) {
		return math.Inf(-1)
	}
	if t.After != nil {
		from = *t.After + base
	}
	if t.Before != nil {
		to = *t.Before + base
	}
	whole := to - from
	to = math.Min(to, l.LandingS)
	if !(to > from) {
		return math.Inf(-1)
	}
	step := (to - from) / pieces
	top, sum := math.Inf(-1), 0.0
	for i := range pieces {
		m := at(w.Path, from+(float64(i)+0.5)*step)
		switch v := t.seen(&m, 0, step); {
		case v > top:
			sum = sum*math.Exp(top-v) + 1
			top = v
		case v > top-40:
			sum += math.Exp(v - top)
		}
	}
	return top + math.Log(sum*step/whole)
}

// seen is the logarithm of the normal density of the bearing, and elevation,
// for a vehicle at m. timeSD is the error of the time and step the length of a
// piece of unknown time, both in s.
func (t *term) seen(m *moment, timeSD, step float64) float64 {
	dx, dy, dz := m.x-t.from.X, m.y-t.from.Y, m.z-t.eye
	e, n := dx*t.cos-dy*t.sin, dx*t.sin+dy*t.cos
	r2 := e*e + n*n
	if r2 < 1e-6 {
		r2 = 1e-6
	}
	r := math.Sqrt(r2)
	db := wrapDeg(math.Atan2(e, n)*180/math.Pi - *t.BearingDeg)
	out := t.within(r)
	blur := timeSD*timeSD + step*step/12
	if t.ElevDeg == nil && blur == 0 {
		return out + logNormal(db, t.BearingSD)
	}
	ve, vn := m.vx*t.cos-m.vy*t.sin, m.vx*t.sin+m.vy*t.cos
	const deg = 180 / math.Pi
	rate := clamp(deg*(ve*n-vn*e)/r2, -90, 90) // degrees a second
	vb := t.BearingSD*t.BearingSD + rate*rate*blur
	if t.ElevDeg == nil {
		return out + logNormal(db, math.Sqrt(vb))
	}
	de := deg*math.Atan2(dz, r) - *t.ElevDeg
	out2 := r * r
	rise := clamp(deg*(m.vz*r-dz*(ve*e+vn*n)/r)/(out2+dz*dz), -90, 90)
	ve2 := t.ElevSD*t.ElevSD + rise*rise*blur
	c := rate * rise * blur
	det := vb*ve2 - c*c
	q := (ve2*db*db - 2*c*db*de + vb*de*de) / det
	return out - q/2 - math.Log(det)/2 - math.Log(2*math.Pi)
}

// within is the logarithm of the chance that a person who stands r metres away
// says farther than, or nearer than, what was said.
func (t *term) within(r float64) float64 {
	p := 1.0
	if t.FartherThan != nil {
		p = upper((*t.FartherThan - r) / (rangeShare**t.FartherThan + 1))
	}
	if t.NearerThan != nil {
		p *= upper((r - *t.NearerThan) / (rangeShare**t.NearerThan + 1))
	}
	return math.Log(p)
}

// wrapDeg brings a difference of angles into -180..180.
func wrapDeg(d float64) float64 { return math.Remainder(d, 360) }
