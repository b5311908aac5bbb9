package drift

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"

	"windfall/drift/trigger"
	"windfall/drift/wind"
)

// Coord names one of the independent standard-normal inputs of a run.
type Coord struct {
	Name  string
	Group string // the input it belongs to, as a flier would say it
}

// Input is one run: which outcome, and the standard normals that every random
// quantity is a function of, in the order of Coords. Zero Z is the nominal.
type Input struct {
	Outcome int
	Z       []float64

	random *random
}

// layout says where each quantity's normal stands in Z; -1: it does not vary.
type layout struct {
	coords []Coord

	leanAlong, leanAcross, impulse, class, delay, dragAt, yaw, massAt0 int
	windSpeed, windTurn, windSize, windChoice, tangle                  int
	cds, opening, filling, shed                                        []int
	shapeFrom                                                          int
}

// Coords returns the inputs of a run.
func (m *Model) Coords() []Coord { return m.coords }

// layOut lists the inputs, those that matter most first: the first ones get
// the low-discrepancy points.
func (m *Model) layOut() {
	l := &m.layout
	add := func(vary bool, name, group string) int {
		if !vary {
			return -1
		}
		l.coords = append(l.coords, Coord{name, group})
		return len(l.coords) - 1
	}
	s := &m.spread
	l.windSpeed = add(s.speed > 0, "wind speed", "wind speed")
	l.windTurn = add(s.turn > 0, "wind direction", "wind direction")
	l.windSize = add(s.shape > 0 && m.heavyTailed(), "wind error size", "wind error size")
	l.leanAlong = add(s.lean > 0, "rail lean along", "rail lean")
	l.leanAcross = add(s.lean > 0, "rail lean across", "rail lean")
	l.class = add(m.code != nil, "impulse in class", "motor impulse")
	l.impulse = add(s.impulse > 0, "motor impulse", "motor impulse")
	l.delay = add(s.delay > 0 && m.delay > 0, "ejection delay", "ejection delay")
	l.dragAt = add(s.drag > 0, "body drag", "body drag")
	l.yaw = add(s.yaw > 0 && m.wavelength > 0, "yaw wavelength", "yaw wavelength")
	l.massAt0 = add(s.mass > 0, "lift-off mass", "lift-off mass")
	l.windChoice = add(len(m.flight.Wind) > 1, "wind choice", "wind choice")
	l.cds, l.opening, l.filling = nil, nil, nil
	tangles := false
	for i, d := range m.devices {
		n := name(d.Device, i)
		for j, e := range m.devices {
			if i != j && name(e.Device, j) == n {
				n = fmt.Sprintf("%s %d", n, i+1)
				break
			}
		}
		l.cds = append(l.cds, add(d.wide > 0, n+" drag area", n+" drag area"))
		l.opening = append(l.opening, add(s.opening > 0 && d.OpeningDelay > 0, n+" opening delay", n+" opening"))
		fills := d.fill > 0 || d.FillTime != nil && *d.FillTime > 0
		l.filling = append(l.filling, add(s.opening > 0 && fills, n+" fill time", n+" opening"))
	}
	for _, k := range m.kinds {
		tangles = tangles || k == tangled && len(m.devices) > 0
	}
	l.tangle = add(tangles, "tangled share", "tangled share")
	for _, p := range m.parts {
		l.shed = append(l.shed, add(p.Sheds[0] != p.Sheds[1], p.Name+" shedding time", p.Name+" shedding time"))
	}
	l.shapeFrom = len(l.coords)
}

// layOutShape adds the coordinates of the wind's shape, once its heights are known.
func (m *Model) layOutShape() {
	m.coords = m.coords[:m.shapeFrom]
	if m.spread.shape == 0 {
		return
	}
	for _, b := range m.table.bridges[0] {
		for _, way := range []string{"east", "north"} {
			m.coords = append(m.coords, Coord{fmt.Sprintf("wind shape %s at %.0f m", way, m.table.shapeAt[b.node]),
				"wind shape"})
		}
	}
}

// normalCDF and normalQuantile turn a normal into an even number and back.
func normalCDF(z float64) float64      { return 0.5 * math.Erfc(-z/math.Sqrt2) }
func normalQuantile(p float64) float64 { return mathext.NormalQuantile(p) }

// truncated returns sd times a normal cut off beyond +-bound, from the plain
// normal z.
func truncated(z, sd, bound float64) float64 {
	if bound > 8*sd {
		return sd * z
	}
	low := normalCDF(-bound / sd)
	return sd * normalQuantile(low+(1-2*low)*normalCDF(z))
}

// run holds a run's quantities, made from its Input.
type run struct {
	kind         outcome
	rail         [3]float64 // unit vector
	mass         float64    // kg at lift-off
	propellant   float64    // kg
	burnt        float64    // kg after burnout
	thrust       float64    // factor
	curve        []thrustRow
	breaks       []float64
	burnout      float64 // s
	ejection     float64 // s; NaN: none
	drag         float64 // factor
	wavenumber   float64 // 1/m, 2 pi / wavelength; 0: level 1
	ownCurve     [2]thrustRow
	ownBreaks    [2]float64
	devices      []deviceRun
	shedQuantile []float64 // of each part, 0 to 1
}

// deviceRun is a device in this run.
type deviceRun struct {
	trigger  trigger.Trigger
	cds      float64 // m2
	opening  float64 // s
	fillTime float64 // s; below 0: by fill distance
	fill     float64 // m, fill distance times the run's factor
	off      bool    // never deploys

	from, full float64 // s, of the filling
	state      deviceState
}

type deviceState uint8

const (
	packed deviceState = iota
	waiting
	filling
	open
)

// resolve fills the run from the input.
func (w *Work) resolve(m *Model, in Input) {
	r, s, l, f := &w.run, &m.spread, &m.layout, &m.flight
	z := func(i int) float64 {
		if i < 0 {
			return 0
		}
		return in.Z[i]
	}
	r.kind = m.kinds[in.Outcome]
	if w.nominal {
		r.kind = asDesigned
	}
	if w.bare {
		r.kind = noRecovery
	}
	along := f.Rail.LeanDeg + f.Learned.LeanAlong.Value(s.lean, z(l.leanAlong))
	across := f.Learned.LeanAcross.Value(s.lean, z(l.leanAcross))
	r.rail = railDirection(along, across, f.Rail.TowardDeg)
	r.mass = f.Vehicle.Mass * (1 + s.mass*z(l.massAt0))
	r.thrust = max(1+s.impulse*z(l.impulse), 0)
	r.drag = math.Exp(s.drag * z(l.dragAt))
	r.propellant, r.curve, r.breaks = m.propellant, m.curve, m.breaks
	if m.code != nil {
		w.drawClass(m, normalCDF(z(l.class)))
	}
	r.mass = max(r.mass, 1.02*r.propellant, 0.1*f.Vehicle.Mass) // far beyond any draw of a sane spread
	r.burnt = r.mass - r.propellant
	r.burnout = r.curve[len(r.curve)-1].t
	r.ejection = math.NaN()
	if !math.IsNaN(m.delay) {
		d := m.delay
		if d > 0 && s.delay > 0 {
			d *= 1 + truncated(z(l.delay), s.delay, max(delayBound, delayBoundSeconds/d))
		}
		r.ejection = r.burnout + max(d, 0)
	}
	r.wavenumber = 0
	if m.wavelength > 0 {
		length := m.wavelength * math.Exp(f.Learned.YawWavelength.Value(s.yaw, z(l.yaw)))
		if length > leastWavelength {
			r.wavenumber = 2 * math.Pi / length
		}
	}
	w.resolveDevices(m, z)
	r.shedQuantile = r.shedQuantile[:0]
	for i := range m.parts {
		r.shedQuantile = append(r.shedQuantile, normalCDF(z(l.shed[i])))
	}
	w.resolveWind(m, in, z)
}

// resolveWind draws the run's wind.
func (w *Work) resolveWind(m *Model, in Input, z func(int) float64) {
	s, l, learned := &m.spread, &m.layout, &m.flight.Learned
	choice := 0
	if l.windChoice >= 0 {
		u := normalCDF(in.Z[l.windChoice])
		for choice+1 < len(m.table.choices) && u > m.table.choices[choice] {
			choice++
		}
	}
	if w.nominal {
		choice = m.mainChoice
	}
	carried := w.table.carried[choice]
	scale := math.Exp(learned.WindSpeed.Value(s.speed*carried, z(l.windSpeed)))
	turn := learned.WindDirection.Value(s.turn*carried, z(l.windTurn)) * math.Pi / 180
	shape := s.shape
	if k := learned.WindShape.Scale; k != 0 {
		shape *= k
	}
	w.setWind(windDraw{choice: choice, scale: scale, turn: turn, shape: shape, size: z(l.windSize), z: in.Z[l.shapeFrom:]})
}

// heavyTailed tells whether a wind's error varies in size from run to run.
func (m *Model) heavyTailed() bool {
	return m.spread.own && slices.ContainsFunc(m.flight.Wind, func(c wind.Choice) bool {
		s := c.Profile.Spread
		return s != nil && slices.ContainsFunc(s.Rows, func(r wind.SpreadRow) bool { return r.Tail > 0 })
	})
}

// railDirection returns the unit vector of a rail leaning along degrees toward
// an azimuth and across degrees to its right.
func railDirection(along, across, toward float64) [3]float64 {
	const deg = math.Pi / 180
	sa, ca := math.Sincos(along * deg)
	sx, cx := math.Sincos(across * deg)
	st, ct := math.Sincos(toward * deg)
	return [3]float64{cx*sa*st + sx*ct, cx*sa*ct - sx*st, cx * ca}
}

// drawClass gives the run a constant thrust for the impulse at share u of the
// motor's class.
func (w *Work) drawClass(m *Model, u float64) {
	r := &w.run
	total := m.code.ImpulseMin + u*(m.code.ImpulseMax-m.code.ImpulseMin)
	burn := total / m.code.Thrust
	r.ownCurve = [2]thrustRow{{t: 0, n: m.code.Thrust}, {t: burn, n: m.code.Thrust, impulse: total}}
	r.ownBreaks = [2]float64{0, burn}
	r.curve, r.breaks = r.ownCurve[:], r.ownBreaks[:]
	if m.perImpulse {
		r.propellant = propellantPerImpulse * total
	}
}

func (w *Work) resolveDevices(m *Model, z func(int) float64) {
	r, s, l := &w.run, &m.spread, &m.layout
	r.devices = r.devices[:0]
	for i := range m.devices {
		d := &m.devices[i]
		var learned Adjust
		if i < len(m.flight.Learned.Devices) {
			learned = m.flight.Learned.Devices[i]
		}
		fill := math.Exp(s.opening * z(l.filling[i]))
		v := deviceRun{
			trigger:  d.Trigger,
			cds:      d.cds * math.Exp(learned.Value(d.wide, z(l.cds[i]))),
			opening:  d.OpeningDelay * math.Exp(s.opening*z(l.opening[i])),
			fillTime: -1,
			fill:     d.fill * fill,
			off:      r.kind == noRecovery,
		}
		if d.FillTime != nil {
			v.fillTime = *d.FillTime * fill
		} else if d.fill == 0 {
			v.fillTime = 0
		}
		if i == 0 {
			switch r.kind {
			case lateOpening:
				v.opening *= lateFactor
			case tangled:
				v.cds *= 0.1 + 0.3*normalCDF(z(l.tangle))
			case earlyOpening:
				v.trigger = trigger.Trigger{Kind: trigger.Burnout}
			}
		}
		if i == len(m.devices)-1 && r.kind == mainAtApogee {
			v.trigger = trigger.Trigger{Kind: trigger.Apogee}
		}
		r.devices = append(r.devices, v)
	}
}
