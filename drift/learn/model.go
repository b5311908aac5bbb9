package learn

import (
	"math"
	"strings"

	"windfall/drift"
	"windfall/drift/evidence"
	"windfall/geo"
)

// Logged is what was logged of a flight, in the model's frame.
type Logged struct {
	Find    *geo.XY // m; nil: it was never found
	Outcome string  // of the find where it is known; "": not, or one that the flight does not have
	Seen    []evidence.Sighting
	// Missed is the chance that all ground searched in vain missed what lies at a
	// place; nil: none was searched.
	Missed func(geo.XY) float64
}

// NewCase makes a case of a model and what was logged. The model must be made of
// a flight with nothing learned in it. A sighting that cannot be is an error.
func NewCase(m *drift.Model, l Logged) (Case, error) {
	m = runToRun(m)
	f := m.Flight()
	c := Case{Flight: f.ID, Pad: f.Site.Pad, Vehicle: VehicleName(&f), Lost: l.Find == nil, Outcome: -1,
		Chances: m.Outcomes(), Dim: len(m.Coords())}
	if l.Find != nil {
		c.Find = *l.Find
	}
	for i, o := range c.Chances {
		if o.Name == l.Outcome {
			c.Outcome = i
		}
	}
	c.link(m, &f)
	c.Fly = func() func(drift.Input) (geo.XY, bool) {
		var w drift.Work
		return func(in drift.Input) (geo.XY, bool) {
			l := m.Fly(in, &w)
			return l.At, l.At.X == l.At.X && l.At.Y == l.At.Y // NaN: not flown
		}
	}
	return c, c.enter(m, l)
}

// enter makes the entries of a case.
func (c *Case) enter(m *drift.Model, l Logged) error {
	g, err := evidence.NewWeigher(m, l.Seen)
	if err != nil {
		return err
	}
	for _, s := range g.Sightings() {
		c.Entries = append(c.Entries, Entry{ID: s.ID, Says: s.String(), What: what(s.Kind), By: s.By})
	}
	n := len(c.Entries)
	if l.Missed != nil && c.Lost { // where it was found says more than where it was not
		c.Entries = append(c.Entries, Entry{Says: "ground searched in vain", What: "ground searched"})
	}
	if len(c.Entries) == 0 {
		return nil
	}
	c.Weigh = func() func(drift.Input, Told) (geo.XY, bool) {
		w := drift.Work{Record: g.Records()}
		return func(in drift.Input, out Told) (geo.XY, bool) {
			land := m.Fly(in, &w)
			g.Weigh(&land, &w, out.Log, out.Mistake)
			g.Offs(&land, &w, out.Off)
			if len(out.Log) > n {
				out.Log[n], out.Mistake[n], out.Off[n] = math.Log(l.Missed(land.At)), 0, math.NaN()
			}
			return land.At, land.At.X == land.At.X && land.At.Y == land.At.Y // NaN: not flown
		}
	}
	return nil
}

// what names a kind of sighting in an explanation.
func what(k evidence.Kind) string {
	if t, ok := k.(evidence.Timing); ok {
		return t.Event + " time"
	}
	return k.Name()
}

// link finds which inputs of the model belong to which factor.
func (c *Case) link(m *drift.Model, f *drift.Flight) {
	devices := 0
	for i, co := range m.Coords() {
		link := func(factor, group string, sd *float64) {
			ratio := 1.0
			if sd != nil {
				ratio = *sd / specOf(factor).SD
			}
			c.Links = append(c.Links, Link{Coord: i, Factor: factor, Group: group, Ratio: ratio})
		}
		switch s := f.Spread; {
		case co.Name == "wind speed":
			link(windFactor(WindSpeed, f), "", orCarried(s.WindSpeed, WindSpeed, f))
		case co.Name == "wind direction":
			link(windFactor(WindDirection, f), "", orCarried(s.WindDirectionDeg, WindDirection, f))
		case co.Name == "rail lean along":
			link(LeanAlong, c.Vehicle, s.LeanDeg)
		case co.Name == "rail lean across":
			link(LeanAcross, c.Vehicle, s.LeanDeg)
		case co.Name == "yaw wavelength":
			link(YawWavelength, c.Vehicle, s.YawWavelength)
		case co.Group == "wind shape":
			c.Shape, c.Of = append(c.Shape, i), windFactor(WindShape, f)
		case strings.HasSuffix(co.Name, " drag area") && devices < len(f.Recovery):
			d := &f.Recovery[devices]
			link(deviceFactor(d), deviceName(d), s.DeviceCdS)
			devices++
		}
	}
}

// runToRun is the model with devices that vary from run to run alone: their
// bias is what is learned.
func runToRun(m *drift.Model) *drift.Model {
	f := m.Flight()
	if f.Spread.DeviceCdS != nil || len(f.Recovery) == 0 {
		return m
	}
	_, run := f.Recovery[0].DragBias()
	f.Spread.DeviceCdS = &run
	if alone, err := drift.Prepare(f); err == nil {
		return alone
	}
	return m
}

// orCarried is the spread sd of a factor of the whole wind, where it is not
// given what the kind of wind leaves of the default.
func orCarried(sd *float64, factor string, f *drift.Flight) *float64 {
	if own := f.MainSpread(); sd == nil && own != nil && len(own.Rows) > 0 {
		left := own.Carried * specOf(factor).SD
		return &left
	}
	return sd
}
