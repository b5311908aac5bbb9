package drift

import (
	"fmt"
	"math"

	"windfall/drift/motorcode"
)

// prepareMotor makes the thrust curve from the table, from impulse and burn
// time, or from the designation.
func (m *Model) prepareMotor() error {
	f := m.flight.Motor
	code, coded := motorcode.Read(f.Designation)
	m.delay = math.NaN()
	if f.Delay != nil {
		m.delay = *f.Delay
		if err := fieldError(m.delay >= 0, "motor.delay", m.delay, "s lies before burnout; write zero or more"); err != nil {
			return err
		}
	}
	table := f.Thrust
	switch {
	case len(table) > 0:
		if err := checkThrust(table); err != nil {
			return err
		}
	case f.Impulse != nil && f.Burn != nil:
		if err := first(
			fieldError(*f.Impulse > 0, "motor.impulse", *f.Impulse, "N s moves nothing; write one such as 160 N s"),
			fieldError(*f.Burn > 0, "motor.burn", *f.Burn, "s is no burn time; write one such as 1.8 s"),
		); err != nil {
			return err
		}
		table = constantThrust(*f.Impulse / *f.Burn, *f.Burn)
	case !coded:
		return &FieldError{"motor.designation", f.Designation,
			"is not in the hobby's code and says no thrust; give thrust, or impulse and burn, or a designation such as H150-9"}
	case f.Impulse != nil:
		if err := fieldError(*f.Impulse > 0, "motor.impulse", *f.Impulse,
			"N s moves nothing; write one such as 160 N s"); err != nil {
			return err
		}
		table = constantThrust(code.Thrust, *f.Impulse/code.Thrust)
		m.assume("burn time from the designation's average thrust: %.2f s", *f.Impulse/code.Thrust)
	case f.Burn != nil:
		if err := fieldError(*f.Burn > 0, "motor.burn", *f.Burn, "s is no burn time; write one such as 1.8 s"); err != nil {
			return err
		}
		table = constantThrust(code.Thrust, *f.Burn)
		m.assume("impulse from the designation's average thrust and the burn time: %.4g N s", code.Thrust**f.Burn)
	default:
		m.code = &code
		mid := 0.5 * (code.ImpulseMin + code.ImpulseMax)
		table = constantThrust(code.Thrust, mid/code.Thrust)
		m.assume("impulse drawn evenly from %.4g to %.4g N s, the class of %s, at the designation's average thrust of "+
			"%g N", code.ImpulseMin, code.ImpulseMax, f.Designation, code.Thrust)
		m.caution("only the motor's designation is given: its total impulse may be anything from %.4g to %.4g N s, and "+
			"the map is that wide; give impulse and burn, or thrust", code.ImpulseMin, code.ImpulseMax)
	}
	if f.Delay == nil && coded && code.Delay != nil {
		m.delay = *code.Delay
		m.assume("delay from the designation: %g s", m.delay)
	}
	m.curve = thrustCurve(table)
	m.breaks = thrustBreaks(m.curve)
	return m.preparePropellant(m.curve[len(m.curve)-1].impulse)
}

// preparePropellant takes the mass of propellant from the flight, or from the
// total impulse.
func (m *Model) preparePropellant(total float64) error {
	if p := m.flight.Motor.Propellant; p != nil {
		m.propellant = *p
		return fieldError(m.propellant >= 0, "motor.propellant", m.propellant, "kg is no mass; write one such as 145 g")
	}
	m.perImpulse = true
	m.propellant = propellantPerImpulse * total
	mass := fmt.Sprintf("%.3g g", 1000*m.propellant)
	if m.propellant >= 0.9995 {
		mass = fmt.Sprintf("%.3g kg", m.propellant)
	}
	m.assume("propellant taken as 0.6 g for each N s: %s", mass)
	return nil
}

func constantThrust(n, burn float64) []TimeThrust { return []TimeThrust{{0, n}, {burn, n}} }

func checkThrust(table []TimeThrust) error {
	top := 0.0
	for i, r := range table {
		path := fmt.Sprintf("motor.thrust[%d]", i)
		if err := first(
			fieldError(r.T >= 0, path+".time_s", r.T, "lies before ignition; write zero or more"),
			fieldError(i == 0 || r.T >= table[max(i-1, 0)].T, path+".time_s", r.T,
				"lies before the row above it; put the rows in order of time"),
			fieldError(r.N >= 0, path+".thrust_n", r.N, "is negative; write zero or more newtons"),
		); err != nil {
			return err
		}
		top = max(top, r.N)
	}
	if len(table) < 2 || top == 0 || table[0].T == table[len(table)-1].T {
		return &FieldError{"motor.thrust", fmt.Sprintf("%d rows", len(table)),
			"gives no thrust; write at least two rows of time_s,thrust_n"}
	}
	return nil
}

// thrustBreaks returns the times at which a step should end: first and last
// row, each jump, and each row where the slope changes by more than a tenth of
// what would take the mean thrust to zero within the burn.
func thrustBreaks(rows []thrustRow) []float64 {
	n := len(rows)
	burn := rows[n-1].t - rows[0].t
	limit := 0.1 * rows[n-1].impulse / (burn * burn)
	out := []float64{rows[0].t}
	for i := 1; i+1 < n; i++ {
		before := &rows[i-1]
		jump := rows[i].n - before.n - before.slope*(rows[i].t-before.t)
		if math.Abs(rows[i].slope-before.slope) > limit || math.Abs(jump) > 1e-9*rows[i].n {
			out = append(out, rows[i].t)
		}
	}
	return append(out, rows[n-1].t)
}
