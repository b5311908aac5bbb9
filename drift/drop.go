package drift

import "windfall/drift/sink"

// Drop returns a drop of recovery device i at the pad, from height m, as the
// flight model has the device, the air and the vehicle after burnout that hangs
// from it, tumbling. packed: it opens and fills as in flight, in the nominal
// times; else it is let go wide open.
func (m *Model) Drop(i int, height float64, packed bool) sink.Drop {
	d := &m.devices[i]
	_, _, rho, _ := m.air.at(height / 2)
	out := sink.Drop{Height: height, Mass: m.flight.Vehicle.Mass - m.propellant, Body: m.sideCdS, CdS: d.cds, Air: rho,
		Gravity: m.gravity(height / 2)}
	if out.Body == 0 {
		out.Body = tumblingAxial * m.area * m.drag[0].Cd
	}
	if !packed {
		return out
	}
	out.Delay = d.OpeningDelay
	if d.FillTime != nil {
		out.Fill = *d.FillTime
	} else {
		out.Way = d.fill
	}
	return out
}
