package learn

import (
	"strings"

	"windfall/drift"
	"windfall/geo"
)

// NewCase makes a case of a model and where the vehicle was found, in the
// model's frame. The model must be made of a flight with nothing learned in it.
// Outcome is that of the find where it is known, "" where not, or one that the
// flight does not have.
func NewCase(m *drift.Model, find geo.XY, outcome string) Case {
	m = runToRun(m)
	f := m.Flight()
	c := Case{Flight: f.ID, Pad: f.Site.Pad, Vehicle: VehicleName(&f), Find: find, Outcome: -1, Chances: m.Outcomes(),
		Dim: len(m.Coords())}
	for i, o := range c.Chances {
		if o.Name == outcome {
			c.Outcome = i
		}
	}
	devices := 0
	for i, co := range m.Coords() {
		link := func(factor, group string, sd *float64) {
			ratio := 1.0
			if sd != nil {
				ratio = *sd / SpecOf(factor).SD
			}
			c.Links = append(c.Links, Link{Coord: i, Factor: factor, Group: group, Ratio: ratio})
		}
		switch s := f.Spread; {
		case co.Name == "wind speed":
			link(WindFactor(WindSpeed, &f), "", orCarried(s.WindSpeed, WindSpeed, &f))
		case co.Name == "wind direction":
			link(WindFactor(WindDirection, &f), "", orCarried(s.WindDirectionDeg, WindDirection, &f))
		case co.Name == "rail lean along":
			link(LeanAlong, c.Vehicle, s.LeanDeg)
		case co.Name == "rail lean across":
			link(LeanAcross, c.Vehicle, s.LeanDeg)
		case co.Name == "yaw wavelength":
			link(YawWavelength, c.Vehicle, s.YawWavelength)
		case co.Group == "wind shape":
			c.Shape, c.Of = append(c.Shape, i), WindFactor(WindShape, &f)
		case strings.HasSuffix(co.Name, " drag area") && devices < len(f.Recovery):
			d := &f.Recovery[devices]
			link(DeviceFactor(d), deviceName(d), s.DeviceCdS)
			devices++
		}
	}
	c.Fly = func() func(drift.Input) (geo.XY, bool) {
		var w drift.Work
		return func(in drift.Input) (geo.XY, bool) {
			l := m.Fly(in, &w)
			return l.At, l.At.X == l.At.X && l.At.Y == l.At.Y // NaN: not flown
		}
	}
	return c
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
		left := own.Carried * SpecOf(factor).SD
		return &left
	}
	return sd
}
