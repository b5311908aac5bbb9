package flightfile

import (
	"math"

	"windfall/search"
)

const (
	firstYear = 1950 // before any hobby rocket
	lastYear  = 2100

	maxDevices   = 12
	maxParts     = 40
	maxSearchers = 24 // a plan's memory and time grow with them
	maxLevels    = 5000
	maxWinds     = 200
	maxImpulse   = 170_000.0 // N s, as motor.impulse: the end of class Q
	gravity      = 9.80665   // m/s2
	seaLevel     = 1.225     // kg/m3
)

// plausible holds values against each other: what cannot be is an error, what
// hardly is gets asked about. A slip of unit shows here where each value alone
// could be right.
func (f *File) plausible(d *decoder) {
	if d.err != nil {
		return
	}
	f.body(d)
	f.thrust(d)
	f.sinkRates(d)
	f.lighterParts(d)
	f.speeds(d)
}

// body asks about a vehicle out of all proportion. Hobby rockets are 5 to 60
// diameters long and, motor included, 50 to 2000 kg/m3 in the mean (common
// practice, no source).
func (f *File) body(d *decoder) {
	v, n := f.Flight.Vehicle, f.root.get("vehicle")
	if v.Length == 0 {
		return
	}
	if r := v.Length / v.Diameter; r < 3 || r > 80 {
		d.ask(n.get("length"), "%q is %.3g times the diameter %q; check both", n.get("length").text, r,
			n.get("diameter").text)
	}
	if rho := v.Mass / (math.Pi / 4 * v.Diameter * v.Diameter * v.Length); rho < 20 || rho > 4000 {
		d.ask(n.get("mass"), "%q is %s for a body of %s by %s (%.2g kg/m3); check all three", n.get("mass").text,
			[]string{"little", "much"}[btoi(rho > 4000)], n.get("length").text, n.get("diameter").text, rho)
	}
}

// thrust holds the motor against the propellant and the weight it lifts.
func (f *File) thrust(d *decoder) {
	m, n := f.Flight.Motor, f.root.get("motor")
	impulse, peak := 0.0, 0.0
	for i, r := range m.Thrust {
		peak = max(peak, r.N)
		if i > 0 {
			impulse += (r.T - m.Thrust[i-1].T) * (r.N + m.Thrust[i-1].N) / 2
		}
	}
	if impulse > maxImpulse {
		d.fail(n.get("thrust"), "%q adds up to %.3g N s, beyond %.3g N s; check time_s and thrust_n",
			n.get("thrust").text, impulse, maxImpulse)
	}
	if m.Impulse != nil {
		impulse = *m.Impulse
		if m.Burn != nil {
			peak = impulse / *m.Burn
		}
	}
	if ratio := peak / (f.Flight.Vehicle.Mass * gravity); ratio > 300 {
		d.ask(n, "pushes with %.0f times the weight; check the motor and vehicle.mass", ratio)
	}
	if m.Propellant == nil || impulse == 0 {
		return
	}
	// No chemical propellant gives 500 s; composite gives about 200, black
	// powder 80 (common practice, no source).
	p := n.get("propellant")
	if isp := impulse / (*m.Propellant * gravity); isp > 600 {
		d.fail(p, "%q cannot give %.3g N s; about %.2g g would", p.text, impulse, 0.6*impulse)
	} else if isp > 320 || isp < 30 {
		d.ask(p, "%q is %s for %.3g N s; about %.2g g is common", p.text, []string{"little", "much"}[btoi(isp < 30)],
			impulse, 0.6*impulse)
	}
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// sinkRates asks about devices that would hardly let the vehicle sink, or
// hardly hold it.
func (f *File) sinkRates(d *decoder) {
	for i, v := range f.Flight.Recovery {
		if v.CdS <= 0 {
			continue
		}
		rate := math.Sqrt(2 * f.Flight.Vehicle.Mass * gravity / (seaLevel * v.CdS))
		if rate < 1 || rate > 60 {
			d.ask(f.entry("recovery", i), "would let %s sink at %.2g m/s; check its size and vehicle.mass",
				f.root.get("vehicle").get("mass").text, rate)
		}
	}
}

// lighterParts refuses a part as heavy as what it falls off.
func (f *File) lighterParts(d *decoder) {
	for i, p := range f.Flight.Parts {
		if n := f.entry("parts", i); p.Mass >= f.Flight.Vehicle.Mass {
			d.fail(n.get("mass"), "%q is no less than the whole vehicle (%s); check both", n.get("mass").text,
				f.root.get("vehicle").get("mass").text)
		}
	}
}

// speeds asks about walkers that run and storms at the pad.
func (f *File) speeds(d *decoder) {
	for i, s := range f.Searchers {
		if s.Kind == search.Walker && s.Speed > 3 {
			n := f.entry("searchers", i).get("speed")
			d.ask(n, "%q is faster than anybody searches on foot; check the unit", n.text)
		}
	}
	for _, c := range f.Flight.Wind {
		for _, l := range c.Profile.Levels {
			if l.Height <= 20 && l.Speed > 25 {
				d.ask(f.root.get("wind"), "blows with %.0f m/s at %.3g m above the ground, a storm; check the unit", l.Speed,
					l.Height)
				return
			}
		}
	}
}

// entry is an entry of a list, or the mapping that stands for a list of one.
func (f *File) entry(key string, i int) *node {
	n := f.root.get(key)
	if n.kind == list {
		return n.items[i]
	}
	return n
}

// atMost refuses a list that is longer than anything made for it.
func (d *decoder) atMost(n *node, most int, what string) bool {
	if len(n.items) > most {
		d.fail(n, "lists %d %s; at most %d are taken", len(n.items), what, most)
		return false
	}
	return true
}
