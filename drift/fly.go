package drift

import (
	"math"

	"windfall/drift/trigger"
	"windfall/geo"
)

// Fly flies one run. It keeps nothing of in, and allocates nothing once w is
// warm and w.Record is false.
func (m *Model) Fly(in Input, w *Work) Landing {
	w.begin(m, in)
	for w.phase != landed {
		next := w.nextTime()
		if math.IsNaN(w.t + w.y[0] + w.y[1] + w.y[2]) {
			break // senseless inputs: nowhere
		}
		var why stop
		switch w.phase {
		case onRail, axial:
			why = w.ascend(next)
		case descent:
			why = w.descend(next)
		}
		w.handle(why)
	}
	w.finish()
	return w.landing
}

// begin puts the vehicle on the rail.
func (w *Work) begin(m *Model, in Input) {
	w.m, w.table, w.tol = m, m.table, fastTolerances
	if w.exact {
		w.table, w.tol = m.fine, exactTolerances
	}
	w.resolve(m, in)
	w.t, w.y = 0, [dim]float64{}
	copy(w.y[6:9], w.rail[:])
	w.phase, w.moving, w.past, w.left = onRail, false, false, false
	w.burning, w.row, w.rowEnd, w.h, w.cell = true, 0, 0, 0, 0
	w.landing = Landing{Outcome: in.Outcome, EjectionS: math.NaN(), BurnoutS: w.burnout}
	w.keep = w.Record || m.between
	w.track, w.Path, w.Events, w.Parts = w.track[:0], w.Path[:0], w.Events[:0], w.Parts[:0]
	w.fall = falling{}
	w.slots = w.slots[:0]
	for i := range w.devices {
		w.addSlot(w.devices[i].trigger)
	}
	for i := range m.parts {
		w.addSlot(m.parts[i].Sheds[0])
		w.addSlot(m.parts[i].Sheds[1])
	}
}

func (w *Work) addSlot(t trigger.Trigger) {
	s := slot{Trigger: t, due: math.Inf(1), fired: math.NaN()}
	switch t.Kind {
	case trigger.Ejection:
		if !math.IsNaN(w.ejection) {
			s.due = w.ejection
		}
	case trigger.Burnout:
		s.due = w.burnout
	case trigger.AtTime:
		s.due = t.Value
	}
	w.slots = append(w.slots, s)
}

// nextTime returns the earliest known time at which something changes.
func (w *Work) nextTime() float64 {
	next := math.Inf(1)
	if w.burning {
		next = w.burnout
	}
	for i := range w.slots {
		if s := &w.slots[i]; math.IsNaN(s.fired) && s.due < next {
			next = s.due
		}
	}
	for i := range w.devices {
		switch d := &w.devices[i]; d.state {
		case waiting:
			next = min(next, d.from)
		case filling:
			next = min(next, d.full)
		}
	}
	return next
}

// handle changes what the stop asks for.
func (w *Work) handle(why stop) {
	switch why {
	case railLeft:
		w.phase, w.left = axial, true
		w.landing.RailExitMps = w.railSpeed()
		w.h = 0
	case railHalt:
		w.y[3], w.y[4], w.y[5] = 0, 0, 0
		w.moving = false
	case topped:
		w.past = true
		w.landing.ApogeeM, w.landing.ApogeeS = w.y[2], w.t
		w.event("apogee", 0)
		for i := range w.slots {
			switch s := &w.slots[i]; s.Kind {
			case trigger.Apogee:
				s.due = w.t + s.Value
			case trigger.Height:
				if s.armed = true; w.y[2] <= s.Value {
					s.due = w.t
				}
			}
		}
	case fellThrough:
		for i := range w.slots {
			if s := &w.slots[i]; s.armed && math.IsNaN(s.fired) && w.y[2] <= s.Value+1e-6 {
				s.due = w.t
			}
		}
	case grounded:
		w.phase = landed
		return
	}
	if w.past && w.y[2] <= w.ground(w.y[0], w.y[1]) && w.y[5] <= 0 {
		w.phase = landed // the ground was above apogee
		return
	}
	w.fire()
}

// fire does everything that is due now.
func (w *Work) fire() {
	const now = 1e-12
	if w.burning && w.t >= w.burnout-now {
		w.burning = false
		w.event("burnout", 0)
	}
	for i := range w.slots {
		s := &w.slots[i]
		if !math.IsNaN(s.fired) || s.due > w.t+now {
			continue
		}
		s.fired = w.t
		copy(s.state[:], w.y[:6])
		if i < len(w.devices) {
			w.trigger(i)
		}
	}
	changed := false
	for i := range w.devices {
		d := &w.devices[i]
		if d.state == waiting && d.from <= w.t+now {
			changed = true
			w.startFilling(d)
			w.event("opening", i)
		}
		if d.state == filling && d.full <= w.t+now {
			d.state, changed = open, true
		}
	}
	if changed {
		w.dragArea()
	}
}

// trigger deploys device i, which makes the body tumble and ends the thrust.
func (w *Work) trigger(i int) {
	d := &w.devices[i]
	if d.off {
		return
	}
	if d.Releases(w.m, i) {
		for j := range w.devices[:i] {
			w.devices[j].off, w.devices[j].state = true, packed
		}
	}
	if w.phase != descent {
		w.phase, w.h = descent, 0
		w.fall.mass = w.burnt
		if w.t < w.burnout {
			w.fall.mass = w.massAt(w.t)
		}
		w.burning = false
	}
	d.state, d.from = waiting, w.t+d.opening
	w.dragArea()
}

// Releases says whether device i lets the earlier ones go.
func (d *deviceRun) Releases(m *Model, i int) bool { return m.devices[i].Device.Releases }

// startFilling sets when the device is full.
func (w *Work) startFilling(d *deviceRun) {
	took := d.fillTime
	if took < 0 {
		c := w.windCell(w.y[2])
		dz := w.y[2] - c.z
		vx, vy, vz := w.y[3]-c.u-c.du*dz, w.y[4]-c.v-c.dv*dz, w.y[5]
		took = d.fill / max(math.Sqrt(vx*vx+vy*vy+vz*vz), 1e-9)
	}
	d.from, d.full, d.state = w.t, w.t+took, filling
}

// dragArea sets the fall's drag area as a line in time.
func (w *Work) dragArea() {
	f := &w.fall
	f.c0, f.c1, f.t0, f.body = 0, 0, w.t, 0
	if w.m.sideCdS > 0 {
		f.c0 = w.m.sideCdS
	} else {
		f.body = tumblingAxial * w.m.area * w.run.drag
	}
	for i := range w.devices {
		switch d := &w.devices[i]; d.state {
		case filling:
			rate := d.cds / (d.full - d.from)
			f.c0 += rate * (w.t - d.from)
			f.c1 += rate
		case open:
			f.c0 += d.cds
		}
	}
	if len(w.m.drag) == 1 {
		f.c0 += f.body * w.m.drag[0].Cd
		f.body = 0
	}
	f.fresh = false
}

func (w *Work) railSpeed() float64 {
	return w.y[3]*w.rail[0] + w.y[4]*w.rail[1] + w.y[5]*w.rail[2]
}

// ground returns the height of the ground above the pad at x, y.
func (w *Work) ground(x, y float64) float64 {
	if w.m.flight.Terrain == nil {
		return 0
	}
	e, ok := w.m.flight.Terrain.Elevation(geo.XY{X: x, Y: y})
	if !ok {
		return 0
	}
	return e - w.m.flight.Site.Elevation
}

func (w *Work) event(name string, device int) {
	if w.Record {
		w.Events = append(w.Events, Event{name, device, w.t})
	}
}

// finish notes the landing and flies the parts.
func (w *Work) finish() {
	l := &w.landing
	l.At = geo.XY{X: w.y[0], Y: w.y[1]}
	if t := w.m.flight.Terrain; t != nil {
		_, ok := t.Elevation(l.At)
		l.OffTerrain = !ok
	}
	l.LandingS = w.t
	l.LandingMps = math.Sqrt(w.y[3]*w.y[3] + w.y[4]*w.y[4] + w.y[5]*w.y[5])
	if w.ejection <= w.t {
		l.EjectionS = w.ejection
	}
	if w.Record {
		w.eventAt("ejection", l.EjectionS)
		w.event("landing", 0)
		w.path()
	}
	w.keep = false
	for i := range w.m.parts {
		w.Parts = append(w.Parts, w.flyPart(i))
	}
}

// eventAt puts an event in its place in time.
func (w *Work) eventAt(name string, t float64) {
	if math.IsNaN(t) {
		return
	}
	i := len(w.Events)
	w.Events = append(w.Events, Event{})
	for ; i > 0 && w.Events[i-1].T > t; i-- {
		w.Events[i] = w.Events[i-1]
	}
	w.Events[i] = Event{name, 0, t}
}

// flyPart lets part i fall from where it came off.
func (w *Work) flyPart(i int) PartLanding {
	p := &w.m.parts[i]
	a := &w.slots[len(w.devices)+2*i]
	b := &w.slots[len(w.devices)+2*i+1]
	if math.IsNaN(a.fired) && (p.Sheds[0] == p.Sheds[1] || math.IsNaN(b.fired)) {
		return PartLanding{At: geo.XY{X: math.NaN(), Y: math.NaN()}, ShedS: math.NaN(), LandS: math.NaN(),
			LandMps: math.NaN()}
	}
	at, state := a.fired, a.state
	if p.Sheds[0] != p.Sheds[1] {
		lo, hi := a.fired, b.fired
		if math.IsNaN(lo) {
			lo = w.landing.LandingS
		}
		if math.IsNaN(hi) {
			hi = w.landing.LandingS
		}
		lo, hi = min(lo, hi), max(lo, hi)
		at = lo + w.shedQuantile[i]*(hi-lo)
		state = w.trackAt(at)
	}
	copy(w.y[:6], state[:])
	w.t, w.h, w.phase = at, 0, descent
	w.fall = falling{mass: p.Mass, c0: p.CdS, t0: at}
	w.past = true
	for w.phase != landed {
		if w.y[2] <= w.ground(w.y[0], w.y[1]) && w.y[5] <= 0 {
			break
		}
		if w.descend(math.Inf(1)) == grounded {
			break
		}
	}
	return PartLanding{At: geo.XY{X: w.y[0], Y: w.y[1]}, ShedS: at, LandS: w.t, Shed: true,
		LandMps: math.Sqrt(w.y[3]*w.y[3] + w.y[4]*w.y[4] + w.y[5]*w.y[5])}
}
