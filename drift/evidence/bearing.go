package evidence

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/floats"

	"windfall/drift"
)

const (
	rangeShare = 0.15 // standard deviation of a person's distance, of the distance
	pieces     = 32   // of an interval of unknown time
)

// Bearing is a direction from a place, with or without an elevation angle.
type Bearing struct {
	Observer
	BearingDeg  *float64 `json:"bearing_deg,omitempty"`      // degrees true, where it was seen
	ElevDeg     *float64 `json:"elevation_deg,omitempty"`    // degrees above the horizontal
	BearingSD   float64  `json:"bearing_sd_deg,omitempty"`   // degrees; 0: 3, by radio 8
	ElevSD      float64  `json:"elevation_sd_deg,omitempty"` // degrees; 0: 3
	FartherThan *float64 `json:"farther_than_m,omitempty"`   // m from the observer, at least
	NearerThan  *float64 `json:"nearer_than_m,omitempty"`    // m from the observer, at most
	Radio       bool     `json:"radio,omitempty"`            // by a directional receiver
	Moment
}

// Name is how messages call it.
func (Bearing) Name() string { return "bearing" }

// Entry is the kind of its logbook entries.
func (Bearing) Entry() string { return "sighting" }

func (b Bearing) filled() (Kind, float64) {
	sure, sd := 0.95, 3.0
	if b.Radio {
		sure, sd = 0.85, 8
	}
	if b.BearingDeg != nil && *b.BearingDeg == 360 {
		zero := 0.0
		b.BearingDeg = &zero
	}
	if b.BearingDeg != nil && b.BearingSD == 0 {
		b.BearingSD = sd
	}
	if b.ElevDeg != nil && b.ElevSD == 0 {
		b.ElevSD = 3
	}
	b.Moment = b.Moment.filled()
	return b, sure
}

func (b Bearing) limits() []limit {
	const far, sd = "metres from the observer, up to 60 km", "degrees up to 90, such as 3 deg"
	return []limit{
		{"bearing", b.BearingDeg, 0, 360, "degrees clockwise from true north, 0 to 360"},
		{"elevation", b.ElevDeg, -30, 90, "degrees above the horizontal, at most 90, straight up"},
		{"farther-than", b.FartherThan, 0, farthest, far},
		{"nearer-than", b.NearerThan, 0, farthest, far},
		{"bearing-sd", &b.BearingSD, 0, 90, sd},
		{"elevation-sd", &b.ElevSD, 0, 90, sd},
	}
}

func (b Bearing) check() error {
	switch {
	case b.FartherThan != nil && b.NearerThan != nil && *b.FartherThan >= *b.NearerThan:
		return faulty("{farther-than} %g m is not less than {nearer-than} %g m: swap them", *b.FartherThan, *b.NearerThan)
	case b.From == nil || b.BearingDeg == nil:
		return faulty("a bearing needs {from} (a place) and {bearing} (degrees)")
	case b.Since != "" && b.Event != "":
		return faulty("{since} %q with {event} %q: log the time between them as a timing of its own", b.Since, b.Event)
	}
	return nil
}

func (b Bearing) words(float64) string {
	var s strings.Builder
	deg := math.NaN()
	if b.BearingDeg != nil {
		deg = *b.BearingDeg
	}
	how := ""
	if b.Radio {
		how = " by radio"
	}
	fmt.Fprintf(&s, "bearing %.4g deg%s", deg, how)
	if b.ElevDeg != nil {
		fmt.Fprintf(&s, ", %.3g deg up", *b.ElevDeg)
	}
	if b.From != nil {
		fmt.Fprintf(&s, " from %.5f,%.5f", b.From.Lat, b.From.Lon)
	}
	if b.Event != "" {
		fmt.Fprintf(&s, " at %s", b.Event)
	} else if !b.timed() {
		s.WriteString(", last seen in the air")
	}
	return s.String()
}

func (b Bearing) ready(_ model, p post) (law, error) {
	return &bearingLaw{clock{b.Moment, p}, b}, nil
}

// bearingLaw is normal in the bearing, and in the elevation angle where one is
// given, both from one observer who is right or mistaken as a whole. At an
// event the place is the run's at that event. At a stated time the place moves
// with the error of the time, which widens the normal along the way the
// vehicle goes (first order). In an interval, or when nothing is said ("last
// seen"), every time in the air is as likely as another and the likelihood is
// the mean over them. A mistaken bearing is any of 360 degrees, a mistaken
// elevation any of 90.
type bearingLaw struct {
	clock
	bearing Bearing
}

func (b *bearingLaw) mistaken() float64 {
	v := -math.Log(360)
	if b.bearing.ElevDeg != nil {
		v -= math.Log(90)
	}
	if b.Event != "" && b.At != nil {
		v -= math.Log(math.Max(2**b.At, 60))
	}
	return v
}

func (b *bearingLaw) path() bool { return b.Event != "landing" || b.bearing.ElevDeg != nil }

func (b *bearingLaw) features() int {
	if b.path() {
		return 3
	}
	return 0
}

func (b *bearingLaw) feature(l *drift.Landing, w *drift.Work, f []float64) {
	if b.path() {
		b.place(l, w, f)
	}
}

func (b *bearingLaw) right(l *drift.Landing, w *drift.Work) float64 {
	switch {
	case b.Event == "landing" && !b.path():
		m := moment{t: l.LandingS, x: l.At.X, y: l.At.Y}
		return b.seen(&m, 0, 0) + b.stated(l, w)
	case b.Event != "":
		m := at(w.Path, eventTime(b.Event, l, w))
		if math.IsNaN(m.t) {
			return math.Inf(-1)
		}
		return b.seen(&m, 0, 0) + b.stated(l, w)
	case b.At != nil:
		when := *b.At + eventTime(b.Since, l, w)
		if math.IsNaN(when) {
			return math.Inf(-1)
		}
		m := at(w.Path, when)
		// It was in the air at that time, give or take the error of the time.
		aloft := upper((when - l.LandingS) / b.TimeSD)
		return b.seen(&m, b.TimeSD, 0) + math.Log(aloft)
	}
	return b.sometime(l, w)
}

// stated is the likelihood of a time said together with an event.
func (b *bearingLaw) stated(l *drift.Landing, w *drift.Work) float64 {
	if b.At == nil {
		return 0
	}
	return logNormal(eventTime(b.Event, l, w)-*b.At, b.TimeSD)
}

// sometime is the mean of the likelihood over the times of an interval. The
// interval is cut into pieces; within one the vehicle's way counts as a normal
// with the same variance as a uniform, length^2/12.
func (b *bearingLaw) sometime(l *drift.Landing, w *drift.Work) float64 {
	from, to, whole := b.span(l, w)
	if !(to > from) {
		return math.Inf(-1)
	}
	step := (to - from) / pieces
	var logs [pieces]float64
	for i := range logs {
		m := at(w.Path, from+(float64(i)+0.5)*step)
		logs[i] = b.seen(&m, 0, step)
	}
	return floats.LogSumExp(logs[:]) + math.Log(step/whole)
}

// seen is the logarithm of the normal density of the bearing, and elevation,
// for a vehicle at m. timeSD is the error of the time and step the length of a
// piece of unknown time, both in s.
func (b *bearingLaw) seen(m *moment, timeSD, step float64) float64 {
	e, n, dz := b.offset(m)
	r2 := math.Max(e*e+n*n, 1e-6)
	r := math.Sqrt(r2)
	db := wrapDeg(math.Atan2(e, n)*180/math.Pi - *b.bearing.BearingDeg)
	out := b.within(r)
	blur := timeSD*timeSD + step*step/12
	if b.bearing.ElevDeg == nil && blur == 0 {
		return out + logNormal(db, b.bearing.BearingSD)
	}
	ve, vn := m.vx*b.cos-m.vy*b.sin, m.vx*b.sin+m.vy*b.cos
	const deg = 180 / math.Pi
	rate := clamp(deg*(ve*n-vn*e)/r2, -90, 90) // degrees a second
	vb := b.bearing.BearingSD*b.bearing.BearingSD + rate*rate*blur
	if b.bearing.ElevDeg == nil {
		return out + logNormal(db, math.Sqrt(vb))
	}
	de := deg*math.Atan2(dz, r) - *b.bearing.ElevDeg
	out2 := r * r
	rise := clamp(deg*(m.vz*r-dz*(ve*e+vn*n)/r)/(out2+dz*dz), -90, 90)
	ve2 := b.bearing.ElevSD*b.bearing.ElevSD + rise*rise*blur
	c := rate * rise * blur
	det := vb*ve2 - c*c
	q := (ve2*db*db - 2*c*db*de + vb*de*de) / det
	return out - q/2 - math.Log(det)/2 - math.Log(2*math.Pi)
}

// within is the logarithm of the chance that a person who stands r metres away
// says farther than, or nearer than, what was said.
func (b *bearingLaw) within(r float64) float64 {
	p := 1.0
	if f := b.bearing.FartherThan; f != nil {
		p = upper((*f - r) / (rangeShare**f + 1))
	}
	if f := b.bearing.NearerThan; f != nil {
		p *= upper((r - *f) / (rangeShare**f + 1))
	}
	return math.Log(p)
}

func (b *bearingLaw) widen(e *extremes, l *drift.Landing, w *drift.Work) {
	if !e.clock(&b.clock, l, w) {
		return
	}
	for i := range w.Path {
		p := &w.Path[i]
		bearing, elevation := b.direction(&moment{x: p.X, y: p.Y, z: p.Z})
		e.steepest = math.Max(e.steepest, elevation)
		e.closest = math.Min(e.closest, math.Abs(wrapDeg(bearing-*b.bearing.BearingDeg)))
	}
}

func (b *bearingLaw) judge(e *extremes) (caution string, err error) {
	if err := b.clock.judge(e); err != nil {
		return "", err
	}
	s := &b.bearing
	switch {
	case s.ElevDeg != nil && *s.ElevDeg > e.steepest+checkSDs*s.ElevSD:
		return "", outOfReach("elevation %.3g deg: from there no simulated flight stands higher than %.3g deg: check "+
			"the angle and the place", *s.ElevDeg, e.steepest)
	case e.closest > checkSDs*s.BearingSD:
		return fmt.Sprintf("bearing %.4g deg from there points %.0f deg aside of every simulated flight; it will count "+
			"as a mistake unless other sightings agree with it", *s.BearingDeg, e.closest), nil
	}
	return "", nil
}
