package drift

import (
	"fmt"
	"math"
	"slices"
)

// highest is where the model's air ends, m above the pad.
const highest = 70000.0

// belowPad is how far the air and, where there is terrain, the wind reach
// below the pad, m.
const belowPad = 1000.0

// tabulate makes the tables, finds the drag where an apogee is given, and flies
// the nominal flight.
func (m *Model) tabulate() error {
	m.mainChoice = 0
	for i, c := range m.flight.Wind {
		if weightOf(c) > weightOf(m.flight.Wind[m.mainChoice]) {
			m.mainChoice = i
		}
	}
	top, apogee := m.vacuumTop(), m.vacuumTop()
	m.buildTables(top, apogee)
	if v := m.flight.Vehicle; len(v.Drag) == 0 && v.Apogee != nil {
		if err := m.findDrag(*v.Apogee); err != nil {
			return err
		}
	}
	w := &Work{nominal: true, exact: true}
	zero := make([]float64, len(m.coords))
	flown := m.Fly(Input{Outcome: 0, Z: zero}, w)
	if !w.left && w.fall.mass == 0 {
		peak := 0.0
		for _, r := range m.curve {
			peak = max(peak, r.n)
		}
		return &FieldError{"motor.thrust", fmt.Sprintf("%.4g N at most", peak),
			fmt.Sprintf("does not lift %.4g kg off the rail; give a stronger motor or a lighter rocket", m.flight.Vehicle.Mass)}
	}
	apogee = flown.ApogeeM
	// As high as a run may come: everything that lifts at four sigma.
	set := func(i int, v float64) {
		if i >= 0 {
			zero[i] = v
		}
	}
	set(m.impulse, 4)
	set(m.class, 4)
	set(m.dragAt, -4)
	set(m.massAt0, -4)
	w.exact = false
	high := m.Fly(Input{Outcome: 0, Z: zero}, w)
	top = min(max(1.1*max(apogee, high.ApogeeM), 1.05*m.flight.Rail.Length)+50, top+100)
	m.buildTables(top, apogee)
	m.fly0()
	return nil
}

// vacuumTop bounds the height a run may reach: no drag, a strong motor.
func (m *Model) vacuumTop() float64 {
	last := m.curve[len(m.curve)-1]
	impulse, burnt := last.impulse, m.flight.Vehicle.Mass-m.propellant
	if m.code != nil {
		impulse = m.code.ImpulseMax
	}
	v := impulse * (1 + 5*m.spread.impulse) / (burnt * max(1-5*m.spread.mass, 0.2))
	return min(v*v/(2*9.7)+v*last.t+200, highest)
}

func (m *Model) buildTables(top, apogee float64) {
	bottom := 0.0
	if m.flight.Terrain != nil {
		bottom = -belowPad
	}
	m.airBottom = -belowPad
	m.airRows = m.air.tabulate(m.airBottom, top+500)
	r := windRange{bottom: bottom, top: top, apogee: apogee, step: 0.16, own: m.spread.own}
	m.table = newWindTable(m.flight.Wind, r)
	r.step = 0.02
	m.fine = newWindTable(m.flight.Wind, r)
	m.layOutShape()
}

// findDrag sets the constant drag coefficient with which the nominal flight
// without recovery tops out at target m, to 1 mm.
func (m *Model) findDrag(target float64) error {
	w := &Work{nominal: true, bare: true, exact: true}
	in := Input{Outcome: 0, Z: make([]float64, len(m.coords))}
	apogee := func(cd float64) float64 {
		m.drag = []MachCd{{0, cd}}
		return m.Fly(in, w).ApogeeM
	}
	const least, most = 1e-6, 100
	high, low := apogee(least), apogee(most)
	if !(target < high && target > low) {
		return &FieldError{"vehicle.apogee", fmt.Sprintf("%g m", target),
			fmt.Sprintf("cannot be reached with any drag; this motor takes %.4g kg to between %.4g and %.4g m",
				m.flight.Vehicle.Mass, low, high)}
	}
	// Regula falsi (Illinois) in 1/(1 + Cd), in which the apogee is nearly even.
	cdOf := func(x float64) float64 { return 1/x - 1 }
	a, fa := 1/(1+float64(most)), low-target
	b, fb := 1/(1+least), high-target
	for range 200 {
		x := (a*fb - b*fa) / (fb - fa)
		fx := apogee(cdOf(x)) - target
		if math.Abs(fx) < 1e-3 {
			break
		}
		if (fx > 0) == (fb > 0) {
			b, fb = x, fx
			fa *= 0.5
		} else {
			a, fa = x, fx
			fb *= 0.5
		}
	}
	m.assume("drag coefficient %.3f found from the apogee", m.drag[0].Cd)
	return nil
}

// NominalOutcome returns the index of the outcome as designed, or 0 where the
// flight file leaves it out.
func (m *Model) NominalOutcome() int {
	return max(slices.Index(m.kinds, asDesigned), 0)
}
