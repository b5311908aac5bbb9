package drift

import (
	"errors"
	"fmt"
	"math"

	"windfall/drift/trigger"
	"windfall/drift/wind"
	"windfall/geo"
)

// Prepare checks a flight, fills its gaps and returns the model ready to fly.
// An error about a value of the flight file is a *FieldError.
func Prepare(f Flight) (*Model, error) {
	m := &Model{flight: f, frame: geo.Frame{Origin: f.Site.Pad}}
	steps := []func() error{m.prepareSite, m.prepareRail, m.prepareSpread, m.prepareMotor, m.prepareVehicle,
		m.prepareRecovery, m.prepareOutcomes, m.prepareParts, m.prepareWind}
	for _, step := range steps {
		if err := step(); err != nil {
			return nil, err
		}
	}
	m.layOut()
	if err := m.tabulate(); err != nil {
		return nil, err
	}
	m.inspect()
	return m, nil
}

func (m *Model) assume(format string, a ...any) {
	m.assumptions = append(m.assumptions, fmt.Sprintf(format, a...))
}

func (m *Model) caution(format string, a ...any) {
	m.cautions = append(m.cautions, fmt.Sprintf(format, a...))
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// fieldError reports v at path unless ok.
func fieldError(ok bool, path string, v float64, msg string) error {
	if ok && finite(v) {
		return nil
	}
	return &FieldError{path, fmt.Sprintf("%g", v), msg}
}

func (m *Model) prepareSite() error {
	s := m.flight.Site
	lon, lat := s.Pad.Lon(), s.Pad.Lat()
	if !finite(lon) || !finite(lat) || math.Abs(lat) > 90 || math.Abs(lon) > 360 {
		return &FieldError{"site.pad", fmt.Sprintf("%g, %g", lat, lon),
			"is not a place; write latitude, longitude such as 39.0512, -5.5831"}
	}
	if err := fieldError(s.Elevation > -500 && s.Elevation < 9000, "site.elevation", s.Elevation,
		"m is no elevation of a launch site; write one from -500 m to 9000 m"); err != nil {
		return err
	}
	if t := s.Temperature; t != nil {
		if err := fieldError(*t > 180 && *t < 340, "site.temperature", *t,
			"K is no air temperature; write one such as 11 degC"); err != nil {
			return err
		}
	}
	for name, p := range map[string]*float64{"pressure": s.QNH, "station_pressure": s.Station} {
		if p == nil {
			continue
		}
		if err := fieldError(*p > 20000 && *p < 110000, "site."+name, *p,
			"Pa is no air pressure; write one such as 1013 hPa"); err != nil {
			return err
		}
	}
	m.air = newAir(s)
	m.g0 = normalGravity(lat)
	if s.Temperature == nil {
		t, _, _, _ := m.air.at(0)
		m.assume("temperature at the pad taken from the standard atmosphere: %.1f degC", t-273.15)
	}
	if s.QNH == nil && s.Station == nil {
		m.assume("pressure taken from the standard atmosphere: 1013.25 hPa at sea level")
	}
	return nil
}

func (m *Model) prepareRail() error {
	r := m.flight.Rail
	return first(
		fieldError(r.Length > 0 && r.Length < 100, "rail.length", r.Length,
			"m is no rail; write the guided length, such as 1.8 m"),
		fieldError(r.LeanDeg >= 0 && r.LeanDeg <= 60, "rail.lean", r.LeanDeg,
			"deg from vertical is no rail to launch from; write 0 to 60 deg"),
		fieldError(true, "rail.toward", r.TowardDeg, "is not a direction; write degrees true, such as 250 deg"))
}

// first returns the first error that is not nil.
func first(errs ...error) error {
	for _, e := range errs {
		if e != nil {
			return e
		}
	}
	return nil
}

func (m *Model) prepareSpread() error {
	in := m.flight.Spread
	m.spread = defaultSpreads
	m.spread.own = in.WindSpeed == nil && in.WindDirectionDeg == nil && in.WindShape == nil
	for _, s := range []struct {
		name string
		from *float64
		to   *float64
		max  float64
	}{
		{"lean", in.LeanDeg, &m.spread.lean, 30}, {"impulse", in.Impulse, &m.spread.impulse, 0.3},
		{"delay", in.Delay, &m.spread.delay, 1}, {"drag", in.Drag, &m.spread.drag, 1},
		{"yaw_wavelength", in.YawWavelength, &m.spread.yaw, 1}, {"mass", in.Mass, &m.spread.mass, 0.2},
		{"drag_area", in.DeviceCdS, new(float64), 1}, {"opening_delay", in.OpeningDelay, &m.spread.opening, 2},
		{"wind_speed", in.WindSpeed, &m.spread.speed, 1}, {"wind_direction", in.WindDirectionDeg, &m.spread.turn, 180},
		{"wind_shape", in.WindShape, &m.spread.shape, 10},
	} {
		if s.from == nil {
			continue
		}
		if err := fieldError(*s.from >= 0 && *s.from <= s.max, "spread."+s.name, *s.from,
			fmt.Sprintf("is no standard deviation; write one from 0 to %g", s.max)); err != nil {
			return err
		}
		*s.to = *s.from
	}
	return nil
}

func (m *Model) prepareVehicle() error {
	v := m.flight.Vehicle
	if err := first(
		fieldError(v.Mass > 0, "vehicle.mass", v.Mass,
			"kg is no mass; write what stands on the rail, motor included, such as 1.85 kg"),
		fieldError(v.Mass > m.propellant, "vehicle.mass", v.Mass,
			fmt.Sprintf("kg does not hold the propellant alone (%.4g kg); write the mass on the rail, motor included",
				m.propellant)),
		fieldError(v.Diameter > 0 && v.Diameter < 10, "vehicle.diameter", v.Diameter,
			"m is no body diameter; write one such as 76 mm"),
		fieldError(v.Length >= 0 && v.Length < 100, "vehicle.length", v.Length,
			"m is no length; write one such as 1.65 m, or leave it out"),
	); err != nil {
		return err
	}
	m.area = diskArea(v.Diameter)
	m.sideCdS = tumblingCd * v.Length * v.Diameter
	m.damping = defaultDamping
	if v.YawDamping != nil {
		m.damping = *v.YawDamping
		if err := fieldError(m.damping >= 0 && m.damping <= 5, "vehicle.yaw_damping", m.damping,
			"is no damping ratio; write a plain number such as 0.1"); err != nil {
			return err
		}
	}
	switch {
	case v.YawWavelength != nil:
		m.wavelength = *v.YawWavelength
		if err := fieldError(m.wavelength >= 0, "vehicle.yaw_wavelength", m.wavelength,
			"m is no wavelength; write one such as 40 m, or 0 m for a rocket that points into the wind at once"); err != nil {
			return err
		}
	case v.Length > 0:
		inertia := v.Mass * v.Length * v.Length / 12
		m.wavelength = 2 * math.Pi * math.Sqrt(2*inertia/(rho0*m.area*normalForceSlope*v.Diameter*staticMargin))
		m.assume("yaw wavelength estimated from the length: %.0f m", m.wavelength)
	default:
		m.assume("neither length nor yaw wavelength given: the rocket points into the wind at once, weathercocking at " +
			"its strongest")
	}
	return m.prepareDrag()
}

func (m *Model) prepareDrag() error {
	v := m.flight.Vehicle
	for i, r := range v.Drag {
		path := "vehicle.drag"
		if len(v.Drag) > 1 {
			path = fmt.Sprintf("vehicle.drag[%d]", i)
		}
		if err := fieldError(r.Cd > 0 && r.Cd < 100, path, r.Cd,
			"is no drag coefficient; write one above zero, such as 0.58"); err != nil {
			return err
		}
		if err := fieldError(r.Mach >= 0 || len(v.Drag) == 1, path+".mach", r.Mach,
			"is no Mach number; write zero or more"); err != nil {
			return err
		}
		if i > 0 && r.Mach <= v.Drag[i-1].Mach {
			return &FieldError{path + ".mach", fmt.Sprintf("%g", r.Mach),
				"is not above the row before it; put the rows in order of Mach number"}
		}
	}
	switch {
	case len(v.Drag) > 0:
		m.drag = append([]MachCd(nil), v.Drag...)
	case v.Apogee != nil:
		m.drag = []MachCd{{0, defaultCd}} // found in tabulate
	default:
		m.drag = []MachCd{{0, defaultCd}}
		if m.flight.Spread.Drag == nil {
			m.spread.drag = defaultCdSpread
		}
		m.assume("neither drag nor apogee given: drag coefficient %g with a spread of %.0f %%", defaultCd, 100*m.spread.drag)
	}
	return nil
}

func (m *Model) prepareRecovery() error {
	burnt := m.flight.Vehicle.Mass - m.propellant
	for i, d := range m.flight.Recovery {
		path := fmt.Sprintf("recovery[%d]", i)
		r := device{Device: d, cds: d.CdS, wide: m.flight.DragSpread(i)}
		if d.DescentRate != nil {
			if err := fieldError(*d.DescentRate > 0, path+".descent_rate", *d.DescentRate,
				"m/s is no rate of descent; write one such as 5.5 m/s"); err != nil {
				return err
			}
			r.cds = 2 * burnt * gStandard / (rho0 * *d.DescentRate * *d.DescentRate)
		}
		if err := first(
			fieldError(r.cds > 0, path+".drag_area", r.cds, "m2 is no drag area; give size and drag, drag_area or descent_rate"),
			fieldError(d.OpeningDelay >= 0, path+".opening_delay", d.OpeningDelay,
				"s lies before the trigger; write zero or more"),
			fieldError(d.Diameter >= 0, path+".diameter", d.Diameter, "m is no diameter; write one such as 0.9 m"),
		); err != nil {
			return err
		}
		if d.FillTime != nil {
			if err := fieldError(*d.FillTime >= 0, path+".fill_time", *d.FillTime,
				"s lies before the opening; write zero or more"); err != nil {
				return err
			}
		} else if d.Canopy {
			size := d.Diameter
			if size == 0 {
				size = math.Sqrt(4 * r.cds / (canopyCd * math.Pi))
				m.assume("%s without a diameter: %.2f m taken from its drag area at a drag coefficient of %g", name(d, i),
					size, canopyCd)
			}
			r.fill = fillDiameters * size
		}
		if err := m.checkTrigger(path+".trigger", d.Trigger); err != nil {
			return err
		}
		m.devices = append(m.devices, r)
	}
	if len(m.devices) == 0 {
		m.assume("no recovery device: every flight falls nose first")
	}
	return nil
}

// name returns what to call device i.
func name(d Device, i int) string {
	if d.Kind == "" {
		return fmt.Sprintf("device %d", i+1)
	}
	return d.Kind
}

func (m *Model) checkTrigger(path string, t trigger.Trigger) error {
	switch t.Kind {
	case trigger.Ejection:
		if math.IsNaN(m.delay) {
			return &FieldError{path, "ejection",
				"never fires: motor.delay is not given; write it, such as delay: 9 s, or another trigger"}
		}
	case trigger.Apogee:
		return fieldError(t.Value >= 0, path, t.Value, "s is no lag after apogee; write zero or more")
	case trigger.Height:
		return fieldError(t.Value > 0, path, t.Value,
			"m above the pad is never fallen through; write a height above zero, such as height 150 m")
	case trigger.AtTime:
		return fieldError(t.Value >= 0, path, t.Value, "s lies before ignition; write zero or more")
	case trigger.Burnout:
	default:
		return &FieldError{path, fmt.Sprint(t.Kind), "is no trigger; write ejection, apogee, height, burnout or a time"}
	}
	return nil
}

func (m *Model) prepareOutcomes() (err error) {
	m.outcomes = append([]Chance(nil), m.flight.Outcomes...)
	if len(m.outcomes) == 0 {
		m.outcomes = m.flight.DefaultOutcomes()
		m.assume("chances of the outcomes are defaults, a guess: give outcomes, or let the logbook learn them")
	}
	m.kinds, err = outcomeKinds(m.outcomes)
	return err
}

func (m *Model) prepareParts() error {
	for i, p := range m.flight.Parts {
		path := fmt.Sprintf("parts[%d]", i)
		if err := first(
			fieldError(p.Mass > 0, path+".mass", p.Mass, "kg is no mass; write one such as 70 g"),
			fieldError(p.CdS > 0, path+".drag_area", p.CdS, "m2 is no drag area; write one such as 50 cm2"),
			fieldError(p.Chance >= 0 && p.Chance <= 1, path+".chance", p.Chance, "is not a chance; write one such as 5 %"),
			m.checkTrigger(path+".sheds", p.Sheds[0]),
			m.checkTrigger(path+".sheds", p.Sheds[1]),
		); err != nil {
			return err
		}
		m.between = m.between || p.Sheds[0] != p.Sheds[1]
	}
	m.parts = m.flight.Parts
	return nil
}

func (m *Model) prepareWind() error {
	if len(m.flight.Wind) == 0 {
		return &FieldError{"wind", "",
			"is not given; give at least one level, such as wind: [{height: 2 m, from: 240 deg, speed: 9 mph}]"}
	}
	for i, c := range m.flight.Wind {
		path := "wind"
		if len(m.flight.Wind) > 1 {
			path = fmt.Sprintf("wind[%d]", i)
		}
		if err := fieldError(c.Weight >= 0, path+".weight", c.Weight, "is no weight; write zero or more"); err != nil {
			return err
		}
		if err := c.Profile.Check(); err != nil {
			var le *wind.LevelError
			if errors.As(err, &le) {
				if le.Level >= 0 {
					path = fmt.Sprintf("%s[%d]", path, le.Level)
				}
				return &FieldError{path + "." + le.Field, fmt.Sprintf("%g", le.Value), le.Msg}
			}
			return err
		}
	}
	return nil
}
