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
const Deference = "figures of published US codes, not permission: your local code, the land owner, the air-space rules and the range officer decide"

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
	add := func(code, item, value, figure, basis string, within bool) {
		out = append(out, Finding{Item: item, Value: value, Within: within, Figure: figure,
			Code: code, Edition: editions[code], Basis: basis})
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
		add(Federal, "class of amateur rocket", fmt.Sprintf("%s, %s of propellant", grams(f.Mass), grams(f.Propellant)),
			"class 1: at most 1500 g with at most 125 g of propellant", lookedUp, true)
	} else if f.Impulse > 0 {
		add(Federal, "total impulse", fmt.Sprintf("%.0f N s", f.Impulse), "at most 40960 N s for class 2", lookedUp, f.Impulse <= 40960)
		if f.CrowdM > 0 && f.ApogeeM > 0 {
			least := math.Max(f.ApogeeM/4, 457)
			add(Federal, "distance from the pad to the crowd", fmt.Sprintf("%.0f m", f.CrowdM),
				fmt.Sprintf("at least %.0f m from people and property not involved (a quarter of the expected altitude, and 457 m)", least),
				lookedUp, f.CrowdM >= least)
		}
		if f.Dark {
			add(Federal, "light", "the sun is down", "not between sunset and sunrise without authorization", lookedUp, false)
		}
	}
	return out
}

type adder func(code, item, value, figure, basis string, within bool)

// limits adds the figures that do not depend on the motor's class.
func (f Facts) limits(code string, add adder) {
	for _, l := range limits {
		if l.code != code {
			continue
		}
		switch l.item {
		case tilt:
			add(code, "rail lean", fmt.Sprintf("%.3g deg", f.LeanDeg), fmt.Sprintf("at most %g deg from vertical", l.value), l.basis, f.LeanDeg <= l.value)
		case windSpeed, surfaceWind:
			if f.WindAtM > 0 {
				add(code, fmt.Sprintf("wind at %.3g m", f.WindAtM), fmt.Sprintf("%.1f m/s", f.WindMps),
					fmt.Sprintf("at most %g mph (%.2f m/s)", l.value, l.value*mph), l.basis, f.WindMps <= l.value*mph)
			}
		case liftOffMass:
			if f.Mass > 0 {
				add(code, "lift-off mass", grams(f.Mass), fmt.Sprintf("at most %g g", l.value), l.basis, f.Mass <= l.value/1000)
			}
		case propellant:
			if f.Propellant > 0 {
				add(code, "propellant", grams(f.Propellant), fmt.Sprintf("at most %g g", l.value), l.basis, f.Propellant <= l.value/1000)
			}
		case totalImpulse:
			if f.Impulse > 0 {
				add(code, "total impulse", newtonSeconds(f.Impulse), fmt.Sprintf("at most %g N s", l.value), l.basis, f.Impulse <= l.value)
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
	add(code, "smallest dimension of the field", fmt.Sprintf("%.0f m", f.SiteM), figure, r.basis, f.SiteM >= least)
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
	add(code, "distance from the pad to the crowd", fmt.Sprintf("%.0f m", f.CrowdM), figure, r.basis, f.CrowdM >= r.feet*foot)
}

func grams(kg float64) string { return fmt.Sprintf("%.0f g", kg*1000) }
