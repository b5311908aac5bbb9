package rules

import (
	"fmt"
	"math"
)

// Facts are what is known of a flight; zero means not known, but for LeanDeg
// and WindMps, which may be zero.
type Facts struct {
	Impulse    float64 // N s, the most the motor may have
	Mass       float64 // kg at lift-off
	Propellant float64 // kg
	LeanDeg    float64 // of the rail, from vertical
	WindMps    float64 // at WindAtM
	WindAtM    float64 // m above the ground; 0: no wind known
	ApogeeM    float64 // m above the pad
	SiteM      float64 // diameter of the largest circle that fits into the field
	CrowdM     float64 // from the pad to the nearest of the crowd area
	Dark       bool    // the sun is down at launch or at landing
}

// Finding is one published figure and the side of it that the flight is on.
type Finding struct {
	Item    string `json:"item"`
	Value   string `json:"value"`
	Within  bool   `json:"within"`
	Figure  string `json:"figure"`
	Code    string `json:"code"`
	Edition string `json:"edition"`
	Basis   string `json:"basis"`
}

// String is the finding in words: within or outside the figure of the code.
func (f Finding) String() string {
	side := "outside"
	if f.Within {
		side = "within"
	}
	return fmt.Sprintf("%s %s: %s the figure of %s, %s (%s)", f.Item, f.Value, side, f.Figure, f.Code, f.Basis)
}

// Deference is what must stand beside any finding.
const Deference = "figures of published US codes, not permission: your local code, the land owner, the air-space " +
	"rules and the range officer decide"

// highPower reports whether the flight is beyond what the model code covers: a
// motor above class G, or more mass or propellant than that code allows.
func (f Facts) highPower() bool {
	return f.Impulse > 160 || f.Mass > 1.5 || f.Propellant > 0.125
}

// CompareIn returns the findings for what is known by the codes of a country;
// none for one whose codes are not held.
func CompareIn(c Country, f Facts) []Finding {
	switch c {
	case US:
		return Compare(f)
	case UK:
		return british(f)
	}
	return nil
}

func newtonSeconds(impulse float64) string { return fmt.Sprintf("%.3g N s", impulse) }

// Compare returns the findings by the codes of the United States, for the code
// of the flight's class first, then for California and the federal regulation
// where they say more. Codes whose figure needs what is not known are left out.
func Compare(f Facts) []Finding {
	var out []Finding
	add := func(n Finding) {
		n.Edition = editions[n.Code]
		out = append(out, n)
	}
	code, distances := Model, Model
	if f.highPower() {
		code, distances = HighPower, Distances
	}
	for _, c := range []string{code, California} {
		f.limits(c, add)
	}
	if f.Impulse > 0 {
		for _, c := range []string{code, California} {
			if c != California || f.Impulse > 160 { // below H its column repeats the national one
				f.site(c, add)
			}
		}
		for _, c := range []string{distances, California} {
			f.crowd(c, add)
		}
	}
	class1 := f.Mass <= 1.5 && f.Propellant <= 0.125
	if class1 && f.Mass > 0 && f.Propellant > 0 {
		add(Finding{Code: Federal, Item: "class of amateur rocket", Value: fmt.Sprintf("%s, %s of propellant",
			grams(f.Mass), grams(f.Propellant)), Figure: "class 1: at most 1500 g with at most 125 g of propellant",
			Basis: lookedUp, Within: true})
	} else if f.Impulse > 0 {
		add(Finding{Code: Federal, Item: "total impulse", Value: fmt.Sprintf("%.0f N s", f.Impulse),
			Figure: "at most 40960 N s for class 2",
			Basis:  lookedUp, Within: f.Impulse <= 40960})
		if f.CrowdM > 0 && f.ApogeeM > 0 {
			least := math.Max(f.ApogeeM/4, 457)
			add(Finding{Code: Federal, Item: "distance from the pad to the crowd", Value: fmt.Sprintf("%.0f m", f.CrowdM),
				Figure: fmt.Sprintf("at least %.0f m from people and property not involved (a quarter of the expected "+
					"altitude, and 457 m)", least),
				Basis: lookedUp, Within: f.CrowdM >= least})
		}
		if f.Dark {
			add(Finding{Code: Federal, Item: "light", Value: "the sun is down",
				Figure: "not between sunset and sunrise without authorization",
				Basis:  lookedUp, Within: false})
		}
	}
	return out
}

type adder func(Finding)

// limits adds the figures that do not depend on the motor's class.
func (f Facts) limits(code string, add adder) {
	for _, l := range limits {
		if l.code != code {
			continue
		}
		switch l.item {
		case tilt:
			add(Finding{Code: code, Item: "rail lean", Value: fmt.Sprintf("%.3g deg", f.LeanDeg),
				Figure: fmt.Sprintf("at most %g deg from vertical", l.value),
				Basis:  l.basis, Within: f.LeanDeg <= l.value})
		case windSpeed, surfaceWind:
			if f.WindAtM > 0 {
				add(Finding{Code: code, Item: fmt.Sprintf("wind at %.3g m", f.WindAtM), Value: fmt.Sprintf("%.1f m/s",
					f.WindMps), Figure: fmt.Sprintf("at most %g mph (%.2f m/s)", l.value, l.value*mph),
					Basis: l.basis, Within: f.WindMps <= l.value*mph})
			}
		case liftOffMass:
			if f.Mass > 0 {
				add(Finding{Code: code, Item: "lift-off mass", Value: grams(f.Mass), Figure: fmt.Sprintf("at most %g g", l.value),
					Basis: l.basis, Within: f.Mass <= l.value/1000})
			}
		case propellant:
			if f.Propellant > 0 {
				add(Finding{Code: code, Item: "propellant", Value: grams(f.Propellant), Figure: fmt.Sprintf("at most %g g",
					l.value),
					Basis: l.basis, Within: f.Propellant <= l.value/1000})
			}
		case totalImpulse:
			if f.Impulse > 0 {
				add(Finding{Code: code, Item: "total impulse", Value: newtonSeconds(f.Impulse),
					Figure: fmt.Sprintf("at most %g N s", l.value),
					Basis:  l.basis, Within: f.Impulse <= l.value})
			}
		}
	}
}

// site adds the least dimension of the site.
func (f Facts) site(code string, add adder) {
	if f.SiteM == 0 {
		return
	}
	r := find(sites[code], f.Impulse)
	if r == nil {
		return
	}
	least, figure := r.feet*foot, fmt.Sprintf("at least %.0f ft (%.0f m)", r.feet, r.feet*foot)
	if code == HighPower && f.ApogeeM/2 > least {
		least = f.ApogeeM / 2
		figure = fmt.Sprintf("at least %.0f m, half the expected altitude (and 1500 ft)", least)
	}
	add(Finding{Code: code, Item: "smallest dimension of the field", Value: fmt.Sprintf("%.0f m", f.SiteM), Figure: figure,
		Basis: r.basis, Within: f.SiteM >= least})
}

// crowd adds the least distance of people from the pad.
func (f Facts) crowd(code string, add adder) {
	r := find(people[code], f.Impulse)
	if r == nil || f.CrowdM == 0 {
		return
	}
	figure := fmt.Sprintf("at least %.0f ft (%.1f m)", r.feet, r.feet*foot)
	if r.complex > 0 {
		figure += fmt.Sprintf(", %.0f ft (%.0f m) for clusters and stages", r.complex, r.complex*foot)
	}
	add(Finding{Code: code, Item: "distance from the pad to the crowd", Value: fmt.Sprintf("%.0f m", f.CrowdM),
		Figure: figure,
		Basis:  r.basis, Within: f.CrowdM >= r.feet*foot})
}

func grams(kg float64) string { return fmt.Sprintf("%.0f g", kg*1000) }
