package learn

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"windfall/drift"
)

// VehicleName names the vehicle of a flight for pooling: the same airframe has
// the same diameter and length.
func VehicleName(f *drift.Flight) string {
	name := fmt.Sprintf("%.4g mm", f.Vehicle.Diameter*1000)
	if f.Vehicle.Length > 0 {
		name += fmt.Sprintf(" x %.4g m", f.Vehicle.Length)
	}
	return name
}

// deviceName names a device for pooling: its kind and size.
func deviceName(d *drift.Device) string {
	switch {
	case d.DescentRate != nil:
		return fmt.Sprintf("%s %.3g m/s", d.Kind, *d.DescentRate)
	case d.Diameter > 0:
		return fmt.Sprintf("%s %.3g m", d.Kind, d.Diameter)
	}
	return fmt.Sprintf("%s %.3g m2", d.Kind, d.CdS)
}

// Apply puts what was learned into f: its Learned and its Outcomes. It returns
// a sentence for each thing that changed, for the output of the map made.
func (r *Result) Apply(f *drift.Flight) (used []string) {
	vehicle := VehicleName(f)
	get := func(factor, member string) drift.Adjust {
		a, note := r.adjust(f.ID, factor, member, f.Site.Pad)
		if note != "" {
			used = append(used, note)
		}
		return a
	}
	f.Learned = drift.Learned{WindSpeed: get(windFactor(WindSpeed, f), ""),
		WindDirection: get(windFactor(WindDirection, f), ""), WindShape: get(windFactor(WindShape, f), ""),
		LeanAlong: get(LeanAlong, vehicle), LeanAcross: get(LeanAcross, vehicle), YawWavelength: get(YawWavelength, vehicle)}
	for i := range f.Recovery {
		d := &f.Recovery[i]
		a := get(deviceFactor(d), deviceName(d))
		if f.Spread.DeviceCdS == nil { // the scale is of the belief, not of the runs alone
			_, run := d.DragBias()
			a.Scale *= run / f.DragSpread(i)
		}
		f.Learned.Devices = append(f.Learned.Devices, a)
	}
	if len(f.Outcomes) == 0 {
		f.Outcomes = f.DefaultOutcomes()
	}
	f.Outcomes = r.outcomes(f.ID, f.Outcomes, vehicle)
	if len(used) > 0 {
		note := "learned chances:"
		for _, c := range f.Outcomes {
			note += fmt.Sprintf(" %s %.3f", c.Name, c.P)
		}
		used = append(used, note)
	}
	return used
}

// adjust returns what is known of a factor for a member of its pool.
func (r *Result) adjust(flight, factor, member string, pad orb.Point) (drift.Adjust, string) {
	for i := range r.Factors {
		f := &r.Factors[i]
		if f.Name != factor || f.Withheld {
			continue
		}
		m, where := f.known(member, pad, r.own(flight, factor, member))
		a := drift.Adjust{Bias: m.Mean, Scale: m.SD / specOf(factor).SD}
		var note string
		switch {
		case IsShape(factor):
			a.Bias = 0
			note = fmt.Sprintf("%s spread x %.2f", learnedOf(factor), a.Scale)
		case f.Log:
			a.Bias = math.Log(m.Mean)
			note = fmt.Sprintf("%s x %.3f, spread %.1f %% (was %.1f %%), from %s", learnedOf(factor), m.Mean, 100*m.SD,
				100*f.WasSD, where)
		default:
			note = fmt.Sprintf("%s %+.2f deg, spread %.2f deg (was %.2f), from %s", learnedOf(factor), m.Mean, m.SD, f.WasSD,
				where)
		}
		return a, note
	}
	return drift.Adjust{}, ""
}

// learnedOf begins the sentence of a factor.
func learnedOf(factor string) string { return "learned " + factor + ":" }

// known is what is known of the factor for a member of its pool, own where that
// is not nil, and what it rests on.
func (f *Factor) known(member string, pad orb.Point, own *Member) (m Member, where string) {
	m = f.Elsewhere
	if f.Pool != "" {
		where = "no flight of this " + f.Pool + " yet"
	}
	for _, g := range f.Members {
		if g.Name != member && !(f.Pool == "place" && near(orb.Point{g.Lon, g.Lat}, pad)) {
			continue
		}
		m = g
		flights, without := g.Finds, ""
		if own != nil {
			flights, without = flights-1, ", this one left out"
		}
		where = fmt.Sprintf("flights of this %s: %d%s", f.Pool, flights, without)
		if g.Measured > 0 {
			where += fmt.Sprintf(", drops: %d", g.Measured)
		}
		break
	}
	if own != nil {
		m = *own
	}
	return m, where
}

// outcomes moves chances by the learned odds, those of the vehicle where it was
// found, and brings their sum back to 1.
func (r *Result) outcomes(flight string, list []drift.Chance, vehicle string) []drift.Chance {
	out := make([]drift.Chance, len(list))
	sum := 0.0
	for i, c := range list {
		out[i] = c
		out[i].P *= r.odds(flight, c.Name, vehicle)
		sum += out[i].P
	}
	for i := range out {
		out[i].P /= sum
	}
	return out
}

// odds are those of an outcome of a flight.
func (r *Result) odds(flight, outcome, vehicle string) float64 {
	for _, l := range r.Lost {
		if o, ok := l.Odds[outcome]; ok && l.Flight == flight {
			return o
		}
	}
	for _, o := range r.Outcomes {
		if o.Name == outcome {
			return o.oddsOf(vehicle)
		}
	}
	return 1
}

// oddsOf returns the odds of a vehicle: those of all where it was never found.
func (o *Outcome) oddsOf(vehicle string) float64 {
	for _, m := range o.Members {
		if m.Name == vehicle {
			return m.Odds
		}
	}
	return o.Odds
}
