package main

import (
	"fmt"
	"math"
	"strings"
	"time"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/drift"
	"windfall/drift/rules"
	"windfall/geo"
	"windfall/geo/chance"
	"windfall/geo/quantity"
	"windfall/geo/sun"
)

// beyondZones reads the distances of --beyond.
func beyondZones(distances []string) ([]chance.Zone, error) {
	var out []chance.Zone
	for _, s := range distances {
		d, err := quantity.Parse(s, quantity.Length)
		if err != nil {
			return nil, wrongf("--beyond %w", err)
		}
		if !(d > 0) {
			return nil, wrongf("--beyond %q is not above zero; write a distance such as 500 m", s)
		}
		out = append(out, chance.Farther("beyond "+s, d))
	}
	return out, nil
}

// beforeLaunch fills what matters before a launch alone: the figures of the
// codes, and the sun.
func (s *situation) beforeLaunch(r *result) {
	when, pad := s.file.Flight.When, s.model.Frame()
	if !when.IsZero() {
		r.Light = sun.LightAt(when.Add(time.Duration(r.Nominal.LandingS*float64(time.Second))), pad.Origin)
	}
	r.Rules, r.RulesNote, r.Sun = rulesOf(s.file, s.model, r.Light), rules.Deference, sunOf(when, pad)
}

// beforeLaunch prints what matters before a launch: every figure of a code that
// the flight is outside of, and how many it is within.
func (p *printer) beforeLaunch(r *result) {
	if r.Rules == nil {
		return
	}
	within := 0
	p.f("")
	p.f("figures of the codes")
	for _, f := range r.Rules {
		if f.Within {
			within++
		} else {
			p.f("  %s", f)
		}
	}
	p.f("  within %d of %d compared; --json lists them with code, edition and basis", within, len(r.Rules))
	p.f("  %s", rules.Deference)
	if s := r.Sun; s != nil && s.Sunset != nil && s.CivilDusk != nil {
		p.f("  lands in %s; sunset %s, end of civil twilight %s", r.Light, s.Sunset.Format("15:04"), s.CivilDusk.Format("15:04"))
	}
}

type sunResult struct {
	CivilDawn *time.Time `json:"civil_dawn"`
	Sunrise   *time.Time `json:"sunrise"`
	Sunset    *time.Time `json:"sunset"`
	CivilDusk *time.Time `json:"civil_dusk"`
}

func sunOf(when time.Time, f geo.Frame) *sunResult {
	if when.IsZero() {
		return nil
	}
	d := sun.On(when, f.Origin)
	or := func(t time.Time) *time.Time {
		if t.IsZero() {
			return nil
		}
		return &t
	}
	return &sunResult{or(d.CivilDawn), or(d.Sunrise), or(d.Sunset), or(d.CivilDusk)}
}

// padWindHeight is where weather services measure surface wind (WMO-No. 8).
const padWindHeight = 10.0 // m

type windAt struct {
	Height, FromDeg, Speed float64 // m, degrees, m/s
}

// windOver returns the wind of the likeliest choice at a height above the pad.
func windOver(m *drift.Model, z float64) windAt {
	choices := m.Flight().Wind
	best := 0
	for i, c := range choices {
		if c.Weight > choices[best].Weight {
			best = i
		}
	}
	u, w := choices[best].Profile.At(z)
	from := geo.XY{X: -u, Y: -w}
	return windAt{Height: z, FromDeg: from.BearingDeg(), Speed: from.Norm()}
}

// rulesOf compares a flight with the published figures; light is when it lands.
func rulesOf(file *flightfile.File, m *drift.Model, light sun.Light) []rules.Finding {
	f := m.Flight()
	w := windOver(m, padWindHeight)
	facts := rules.Facts{
		Impulse: impulseOf(f.Motor), Mass: f.Vehicle.Mass, LeanDeg: f.Rail.LeanDeg,
		WindMps: w.Speed, WindAtM: w.Height, ApogeeM: m.Nominal().ApogeeM,
		Dark: light != "" && light != sun.Daylight,
	}
	if p := f.Motor.Propellant; p != nil {
		facts.Propellant = *p
	}
	if file.Field != nil {
		_, facts.SiteM = chance.Widest(file.Field)
	}
	if g := file.Ground; g != nil {
		for _, p := range g.Places {
			if strings.Contains(strings.ToLower(p.Name), crowdName) {
				d := p.Area.Distance(geo.XY{})
				if facts.CrowdM == 0 || d < facts.CrowdM {
					facts.CrowdM = math.Max(d, 0.1)
				}
			}
		}
	}
	return rules.Compare(facts)
}

// crowdName marks the places of the ground file where the crowd stands.
const crowdName = "crowd"

// impulseOf returns the most total impulse that the motor may have, N s; 0: not
// known.
func impulseOf(m drift.Motor) float64 {
	if len(m.Thrust) > 1 {
		sum := 0.0
		for i := 1; i < len(m.Thrust); i++ {
			sum += (m.Thrust[i].T - m.Thrust[i-1].T) * (m.Thrust[i].N + m.Thrust[i-1].N) / 2
		}
		return sum
	}
	if m.Impulse != nil {
		return *m.Impulse
	}
	if c, ok := drift.ReadCode(m.Designation); ok {
		return c.ImpulseMax
	}
	return 0
}

// printChance prints the chance of a place with its error and, where people or
// traffic may be, the outcomes it comes with: a ballistic return is not a
// streamer.
func printChance(p *printer, c chance.Chance, runs int) {
	if c.Probability == 0 {
		// Rule of three: none of n runs leaves 3/n at 95 % (Hanley and
		// Lippman-Hand 1983, JAMA 249).
		p.f("  %-24s   none of %d runs: below %.2g %%", c.Name, runs, 300/float64(runs))
		return
	}
	var parts []string
	if c.Kind == chance.Place || c.Kind == chance.NoGo || c.Kind == chance.Line {
		for _, o := range c.Outcomes {
			parts = append(parts, fmt.Sprintf("%s %.2g %%", o.Name, 100*o.Probability))
		}
	}
	by := ""
	if len(parts) > 0 {
		by = "  of which " + strings.Join(parts, ", ")
	}
	p.f("  %-24s %s%s", c.Name, percent(c.Probability, c.SE), by)
}
