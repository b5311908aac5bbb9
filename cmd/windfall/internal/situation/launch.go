package situation

import (
	"context"
	"math"
	"strings"
	"time"

	"windfall/drift"
	"windfall/drift/compare"
	"windfall/drift/motorcode"
	"windfall/drift/rules"
	"windfall/geo"
	"windfall/geo/chance"
	"windfall/geo/sun"
)

// beforeLaunch fills what matters before a launch alone: the figures of the
// codes, and the sun.
func beforeLaunch(r *Summary, in Input) {
	when, pad := in.Flight.When, in.Model.Frame()
	if !when.IsZero() {
		r.Light = sun.LightAt(when.Add(time.Duration(r.Nominal.LandingS*float64(time.Second))), pad.Origin)
	}
	r.Rules, r.RulesNote = rulesOf(in, r.Light)
	r.Sun = sunOf(when, pad)
}

// WeighWind says what the kind of wind of the flight costs, and what would
// help.
func (r *Summary) WeighWind(ctx context.Context, in Input) (err error) {
	r.Wind, err = compare.Worth(ctx, in.Flight)
	return err
}

// sunTimes is when the sun rises and sets on a day; null: it does not.
type sunTimes struct {
	CivilDawn *time.Time `json:"civil_dawn"`
	Sunrise   *time.Time `json:"sunrise"`
	Sunset    *time.Time `json:"sunset"`
	CivilDusk *time.Time `json:"civil_dusk"`
}

// sunOf is the sun at a frame's origin on the day of a time; nil without one.
func sunOf(when time.Time, f geo.Frame) *sunTimes {
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
	return &sunTimes{or(d.CivilDawn), or(d.Sunrise), or(d.Sunset), or(d.CivilDusk)}
}

// padWindHeight is where weather services measure surface wind (WMO-No. 8).
const padWindHeight = 10.0 // m

// rulesOf compares a flight with the published figures of its country's codes;
// note is what must stand beside them. light is when it lands.
func rulesOf(in Input, light sun.Light) (found []rules.Finding, note string) {
	country := rules.CountryAt(in.Model.Frame().Origin)
	return rules.CompareIn(country, factsOf(in, light)), rules.Note(country)
}

// factsOf is what the figures of the codes are compared with; light is when it
// lands.
func factsOf(in Input, light sun.Light) rules.Facts {
	f := in.Model.Flight()
	wind, _ := in.Model.MainWind(padWindHeight)
	facts := rules.Facts{
		Impulse: impulseOf(f.Motor), Mass: f.Vehicle.Mass, LeanDeg: f.Rail.LeanDeg,
		WindMps: wind, WindAtM: padWindHeight, ApogeeM: in.Model.Nominal().ApogeeM,
		Dark: light != "" && light != sun.Daylight,
	}
	if p := f.Motor.Propellant; p != nil {
		facts.Propellant = *p
	}
	if in.Field != nil {
		_, facts.SiteM = chance.Widest(in.Field)
	}
	if g := in.Ground; g != nil {
		for _, p := range g.Places {
			if strings.Contains(strings.ToLower(p.Name), crowdName) {
				d := p.Area.Distance(geo.XY{})
				if facts.CrowdM == 0 || d < facts.CrowdM {
					facts.CrowdM = math.Max(d, 0.1)
				}
			}
		}
	}
	return facts
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
	if c, ok := motorcode.Read(m.Designation); ok {
		return c.ImpulseMax
	}
	return 0
}
