package drift

import (
	"fmt"
	"math"

	"windfall/geo"
)

// Nominal is the flight with every input at its median, as designed.
type Nominal struct {
	Landing
	RailExitWind float64 // m/s, at the top of the rail
	EjectionMps  float64 // m/s through the air at the first device's trigger; NaN: none fired
	TopMps       float64 // m/s through the air, the greatest
	TopMach      float64
	Path         []Sample
	Events       []Event
	Parts        []PartLanding
}

// Nominal returns the nominal flight, integrated to tight tolerances.
func (m *Model) Nominal() Nominal { return m.nominal }

func (m *Model) fly0() {
	w := &Work{nominal: true, exact: true, Record: true}
	n := &m.nominal
	n.Landing = m.Fly(Input{Outcome: m.NominalOutcome(), Z: make([]float64, len(m.coords))}, w)
	n.Path, n.Events, n.Parts = w.Path, w.Events, w.Parts
	n.EjectionMps = math.NaN()
	fired := math.Inf(1)
	for i := range w.devices {
		if t := w.slots[i].fired; t < fired {
			fired = t
			n.EjectionMps = w.airspeed(w.slots[i].state)
		}
	}
	top := m.flight.Rail.Length * w.rail[2]
	c := w.windCell(top)
	n.RailExitWind = math.Hypot(c.u+c.du*(top-c.z), c.v+c.dv*(top-c.z))
	for _, s := range n.Path {
		v := w.airspeed([6]float64{s.X, s.Y, s.Z, s.VX, s.VY, s.VZ})
		if v > n.TopMps {
			n.TopMps, n.TopMach = v, v*m.airAt(s.Z).inv
		}
	}
}

// airspeed returns the speed through the air of a state.
func (w *Work) airspeed(y [6]float64) float64 {
	c := w.windCell(y[2])
	dz := y[2] - c.z
	return math.Hypot(math.Hypot(y[3]-c.u-c.du*dz, y[4]-c.v-c.dv*dz), y[5])
}

// common practice, no source, but for the tilt and wind of the safety codes
// (US Model Rocket and High Power Rocket Safety Codes).
const (
	railWindFactor = 4.0    // times the wind, the least speed off the rail
	greatestWind   = 8.9408 // m/s, 20 mph
	greatestLean   = 20.0   // degrees
	hardOpening    = 30.0   // m/s
	hardLanding    = 8.0    // m/s
)

// inspect notes cautions about the nominal flight.
func (m *Model) inspect() {
	n, f := &m.nominal, &m.flight
	surface := n.RailExitWind
	if l := f.Wind[m.mainChoice].Profile.Levels[0]; l.Height <= 10 {
		surface = max(surface, l.Speed)
	}
	if n.RailExitMps < railWindFactor*surface {
		m.marked("slow off the rail",
			"leaves the rail at %.1f m/s, below %g times the wind of %.1f m/s near the ground: it will "+
				"turn far into the wind; a longer rail, more thrust or less wind", n.RailExitMps, railWindFactor, surface)
	}
	if surface > greatestWind {
		m.marked("strong wind",
			"surface wind of %.1f m/s: the safety codes stop launches above 8.9 m/s (20 mph)", surface)
	}
	if f.Rail.LeanDeg > greatestLean {
		m.marked("rail leans far",
			"rail leans %.0f deg: the codes allow 20 deg in high power and 30 deg for models; follow the "+
				"one in force", f.Rail.LeanDeg)
	}
	if c := f.Site.Ceiling; c != nil && n.ApogeeM > *c {
		m.marked("over the ceiling", "apogee of %.0f m is above the ceiling of %.0f m", n.ApogeeM, *c)
	}
	m.inspectRecovery()
	top := f.Wind[m.mainChoice].Profile.Levels
	if l := top[len(top)-1]; len(top) > 1 && l.Height < n.ApogeeM {
		m.assume("no wind given above %.0f m: the top level's taken up to the apogee of %.0f m", l.Height, n.ApogeeM)
	} else if len(top) == 1 {
		m.assume("wind at one height alone: log law to 60 m, 1/7 power law and a turn of %g deg to 600 m%s",
			f.Wind[m.mainChoice].Profile.VeerDeg, m.loneNote())
	}
	m.inspectTerrain()
}

func (m *Model) inspectRecovery() {
	n := &m.nominal
	fired := map[int]bool{}
	for _, e := range n.Events {
		if e.Name == "opening" {
			fired[e.Device] = true
		}
	}
	for i, d := range m.devices {
		if !fired[i] {
			m.marked("does not open",
				"%s does not open before the nominal flight lands at %.1f s: check its trigger and the "+
					"motor's delay", name(d.Device, i), n.LandingS)
		}
	}
	if !math.IsNaN(m.delay) && math.IsNaN(n.EjectionS) {
		m.marked("delay too long",
			"the delay of %g s fires the charge after the nominal flight has landed at %.1f s", m.delay, n.LandingS)
	}
	if n.EjectionMps > hardOpening {
		m.marked("opens fast",
			"first device deploys at %.0f m/s through the air: above about %g m/s cords and cloth tear "+
				"(common practice)", n.EjectionMps, hardOpening)
	}
	if len(m.devices) > 0 && len(n.Path) > 0 {
		if sink := -n.Path[len(n.Path)-1].VZ; sink > hardLanding {
			m.marked("lands hard",
				"sinks at %.1f m/s when it touches down: above about %g m/s things break (common practice)",
				sink, hardLanding)
		}
	}
}

// marked notes a caution with the word or two that mark it in a table.
func (m *Model) marked(mark, format string, a ...any) {
	m.marks = append(m.marks, mark)
	m.caution(format, a...)
}

func (m *Model) inspectTerrain() {
	t := m.flight.Terrain
	if t == nil {
		return
	}
	e, ok := t.Elevation(geo.XY{})
	switch {
	case !ok:
		m.caution("terrain has no elevation at the pad; flat ground at pad elevation taken wherever it has none")
	case math.Abs(e-m.flight.Site.Elevation) > 10:
		m.caution("terrain says %.0f m at the pad, the flight file %.0f m", e, m.flight.Site.Elevation)
	}
	if _, ok := t.Elevation(m.nominal.At); !ok {
		m.caution("terrain has no elevation where the nominal flight lands; flat ground at pad elevation taken there")
	}
}

// loneNote says what the runs make of one wind alone.
func (m *Model) loneNote() string {
	l := m.flight.Wind[m.mainChoice].Profile.Levels[0]
	switch own := m.flight.MainSpread(); {
	case own == nil || len(own.Rows) == 0:
		return "; the spread that the flight gives holds as it stands"
	case l.Height > 60:
		return fmt.Sprintf("; one wind at %.0f m says little of the air below: the map is as wide as the climate there",
			l.Height)
	}
	return " as designed; the runs have what real winds are off it"
}
