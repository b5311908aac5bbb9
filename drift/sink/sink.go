// Package sink tells a recovery device's drag area from a drop: how long it
// takes to fall a height, and what a stop-watch's time says of the area.
//
// The fall is straight down through still air of one density, with drag
// proportional to the square of the speed. Units are SI; a factor multiplies
// the device's drag area, its natural logarithm is what is estimated.
//
// Not here: wind, which carries a drop along but hardly slows it, and the whole
// flight, which drift flies.
package sink

import (
	"fmt"
	"math"
)

// Drop is a device let go, with something hanging from it.
type Drop struct {
	Height  float64 // m fallen while the stop-watch runs
	Settled bool    // timed at its steady speed, well after the release; false: from rest
	Mass    float64 // kg in all
	Body    float64 // m2, drag area of what hangs; 0: next to none
	CdS     float64 // m2, drag area of the device, wide open
	Delay   float64 // s before anything of it opens
	Fill    float64 // s in which it then fills evenly; 0: at once, or by Way
	Way     float64 // m of fall in which it fills evenly, in place of Fill; 0: not so
	Air     float64 // kg/m3
	Gravity float64 // m/s2
}

// fillSteps is in how many pieces of constant drag a filling is cut. A test
// holds the time to a thousandth of that of a fine integration.
const fillSteps = 64

// SteadySpeed returns the speed in m/s at which drag balances weight, with the
// device's drag area times factor: sqrt(2 m g/(rho CdS)).
func (d Drop) SteadySpeed(factor float64) float64 { return d.steady(d.Body + factor*d.CdS) }

func (d Drop) steady(cds float64) float64 { return math.Sqrt(2 * d.Mass * d.Gravity / (d.Air * cds)) }

// FreeFall returns the s that the height takes without any air.
func (d Drop) FreeFall() float64 { return math.Sqrt(2 * d.Height / d.Gravity) }

// Time returns the s that the height takes with the device's drag area times
// factor, 0 or more.
func (d Drop) Time(factor float64) float64 {
	cds := factor * d.CdS
	if d.Settled {
		return d.Height / d.SteadySpeed(factor)
	}
	f := fall{drop: d, left: d.Height}
	f.forTime(d.Body, d.Delay)
	for i := range fillSteps {
		part := d.Body + cds*(float64(i)+0.5)/fillSteps
		switch {
		case d.Way > 0:
			f.forWay(part, d.Way/fillSteps)
		case d.Fill > 0:
			f.forTime(part, d.Fill/fillSteps)
		}
	}
	f.forWay(d.Body+cds, f.left)
	return f.t
}

// fall is a drop under way.
type fall struct {
	drop    Drop
	t, v    float64 // s, m/s down
	left    float64 // m still to fall
	stopped bool
}

// forTime falls with a constant drag area for at most dt s. With vT the steady
// speed, q = g dt/vT and r = v/vT, the way is vT^2/g ln(cosh q + r sinh q) and
// the speed after it vT (r + tanh q)/(1 + r tanh q).
func (f *fall) forTime(cds, dt float64) {
	if f.stopped || dt <= 0 {
		return
	}
	g := f.drop.Gravity
	way, v := f.v*dt+0.5*g*dt*dt, f.v+g*dt
	if cds > 0 {
		vt := f.drop.steady(cds)
		q, r := g*dt/vt, f.v/vt
		th := math.Tanh(q)
		// ln cosh q, without overflow
		way = vt * vt / g * (q + math.Log((1+math.Exp(-2*q))/2) + math.Log1p(r*th))
		v = vt * (r + th) / (1 + r*th)
	}
	if way >= f.left {
		f.forWay(cds, f.left)
		return
	}
	f.t, f.v, f.left = f.t+dt, v, f.left-way
}

// forWay falls with a constant drag area over at most way m: the same relations
// solved for the time, by way of e^q.
func (f *fall) forWay(cds, way float64) {
	if f.stopped || way <= 0 {
		return
	}
	if way >= f.left {
		way, f.stopped = f.left, true
	}
	f.left -= way
	g := f.drop.Gravity
	if cds == 0 {
		v := math.Sqrt(f.v*f.v + 2*g*way)
		f.t, f.v = f.t+(v-f.v)/g, v
		return
	}
	vt := f.drop.steady(cds)
	r, k := f.v/vt, g*way/(vt*vt)
	q := k + math.Log((1+math.Sqrt(max(1+(r*r-1)*math.Exp(-2*k), 0)))/(1+r))
	f.t += q * vt / g
	f.v = vt * math.Sqrt(max(1+(r*r-1)*math.Exp(-2*k), 0))
}

// Timed is what was measured, with standard deviations.
type Timed struct {
	Time, TimeSD float64 // s
	HeightSD     float64 // m
	MassSD       float64 // of the logarithm of the mass
}

// The factors between which a drop is taken for one of the device it is said to
// be of, and the largest error of the logarithm with which it tells anything:
// choices of ours. A streamer's drag in print spreads over a factor of four.
const (
	leastFactor, mostFactor = 0.1, 10.0
	mostSD                  = 0.7
)

// Error says why a time tells nothing of the device.
type Error struct {
	Took, Fastest, Slowest float64 // s: as timed, and within what a device's falls lie
	Why                    string  // "free fall", "fast", "slow" or "short"
}

func (e *Error) Error() string {
	switch e.Why {
	case "free fall":
		return fmt.Sprintf("takes %.2f s in free fall without any air: %.2f s is too fast", e.Fastest, e.Took)
	case "fast":
		return fmt.Sprintf("takes %.2f s with a tenth of the drag that the flight file gives: %.2f s is too fast",
			e.Fastest, e.Took)
	case "slow":
		return fmt.Sprintf("takes %.2f s with ten times the drag that the flight file gives: %.2f s is too slow",
			e.Slowest, e.Took)
	}
	return fmt.Sprintf("in %.2f s is too near to free fall, %.2f s, for the stop-watch to tell them apart", e.Took,
		e.Fastest)
}

// Estimate returns the natural logarithm of the factor of the device's drag
// area that explains the time, and the standard deviation of its error, from
// those of time, height and mass to first order. A time that no such device
// takes is an *Error.
func (d Drop) Estimate(m Timed) (log, sd float64, err error) {
	bad := Error{Took: m.Time, Fastest: d.Time(leastFactor), Slowest: d.Time(mostFactor)}
	slack := 2 * m.TimeSD
	switch {
	case !d.Settled && m.Time < d.FreeFall()-slack:
		bad.Why, bad.Fastest = "free fall", d.FreeFall()
	case m.Time < bad.Fastest-slack:
		bad.Why = "fast"
	case m.Time > bad.Slowest:
		bad.Why = "slow"
	case m.Time <= bad.Fastest:
		bad.Why = "short"
	}
	if bad.Why != "" {
		return 0, 0, &bad
	}
	low, high := math.Log(leastFactor), math.Log(mostFactor)
	for range 60 { // the time grows with the drag
		log = (low + high) / 2
		if d.Time(math.Exp(log)) < m.Time {
			low = log
		} else {
			high = log
		}
	}
	const step = 0.01
	slope := (d.Time(math.Exp(log+step)) - d.Time(math.Exp(log-step))) / (2 * step)
	by := func(change func(*Drop, float64)) float64 { // of the time, by a share of a quantity
		up, down := d, d
		change(&up, math.Exp(step))
		change(&down, math.Exp(-step))
		return (up.Time(math.Exp(log)) - down.Time(math.Exp(log))) / (2 * step)
	}
	height := by(func(d *Drop, x float64) { d.Height *= x }) * m.HeightSD / d.Height
	mass := by(func(d *Drop, x float64) { d.Mass *= x }) * m.MassSD
	sd = math.Hypot(m.TimeSD, math.Hypot(height, mass)) / slope
	if !(sd < mostSD) {
		bad.Why, bad.Fastest = "short", d.Time(0)
		if d.Body == 0 && !d.Settled {
			bad.Fastest = d.FreeFall()
		}
		return 0, 0, &bad
	}
	return log, sd, nil
}
