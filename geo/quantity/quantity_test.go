package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"windfall/geo/geotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The factors against testdata/reference/unit_conversions.csv: exact
// definitions (international yard and pound, nautical mile, standard
// atmosphere); see the basis column there.
func TestFactors(t *testing.T) {
	names := map[string]struct {
		unit string
		kind Kind
	}{
		"knot": {"kn", Speed}, "statute mile per hour": {"mph", Speed}, "km/h": {"km/h", Speed}, "ft/s": {"ft/s", Speed},
		"international foot": {"ft", Length}, "statute mile": {"mi", Length}, "nautical mile": {"nmi", Length}, "inch": {"in", Length},
		"pound (avoirdupois)": {"lb", Mass}, "ounce (avoirdupois)": {"oz", Mass}, "pound-force": {"lbf", Force},
		"pound-force second": {"lbf s", Impulse}, "standard atmosphere": {"atm", Pressure}, "hectopascal": {"hPa", Pressure},
		"inch of mercury (conventional)": {"inHg", Pressure},
	}
	seen := 0
	for _, r := range geotest.Table(t, "unit_conversions.csv") {
		n, ok := names[r.Text("from")]
		if !ok {
			continue
		}
		want := r.Number("factor_or_value")
		got, err := Parse("1 "+n.unit, n.kind)
		require.NoError(t, err)
		assert.InEpsilon(t, want, got, 1e-12, r.Text("from"))
		seen++
	}
	assert.Equal(t, len(names), seen)
}

func TestSpellings(t *testing.T) {
	for _, c := range []struct {
		in   string
		kind Kind
		want float64
	}{
		{"1.65 m", Length, 1.65}, {"54mm", Length, 0.054}, {"270 N s", Impulse, 270}, {"270 Ns", Impulse, 270}, {"270 N·s", Impulse, 270},
		{"-3 degC", Temperature, 270.15}, {"32 degF", Temperature, 273.15}, {"50 cm2", Area, 0.005}, {"50 cm²", Area, 0.005}, {"50 cm^2", Area, 0.005},
		{"10 %", Ratio, 0.1}, {"0.1", Ratio, 0.1}, {"5 deg", Angle, 5}, {"5°", Angle, 5}, {"31s", Time, 31}, {"1.5e3 m", Length, 1500}, {"1.5e-3 m", Length, 0.0015},
	} {
		got, err := Parse(c.in, c.kind)
		require.NoError(t, err, c.in)
		assert.InDelta(t, c.want, got, 1e-9, c.in)
	}
}

func TestRefusals(t *testing.T) {
	for _, c := range []struct {
		in   string
		kind Kind
		says string
	}{
		{"24", Speed, `"24" has no unit; write one, such as 24 m/s, 24 kn, 24 mph or 24 km/h`},
		{"24 kg", Speed, `is a mass, not a speed`},
		{"24 knotts", Speed, `unknown unit "knotts"`},
		{"NaN m", Length, "not a number"}, {"inf m", Length, "not a number"}, {"1e999 m", Length, "not a number"},
		{"", Length, "not a number"}, {"1,5 m", Length, "unknown unit"}, {"-400 degC", Temperature, "absolute zero"},
	} {
		_, err := Parse(c.in, c.kind)
		require.Error(t, err, c.in)
		assert.Contains(t, err.Error(), c.says)
		assert.NotContains(t, err.Error(), "\n")
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"1.65 m", "12 kn", "50 cm²", "10 %", "1e5", "--3 m", "5 deg C", "9 sq in"} {
		f.Add(s)
	}
	si := map[Kind]string{Pressure: " Pa", Temperature: " K", Ratio: ""}
	f.Fuzz(func(t *testing.T, s string) {
		for k := Length; k <= Ratio; k++ {
			v, err := Parse(s, k)
			if err != nil {
				continue
			}
			unit, ok := si[k]
			if !ok {
				unit = " " + kinds[k].usual[0]
			}
			back, err := Parse(strings.TrimSpace(strconv.FormatFloat(v, 'g', -1, 64)+unit), k)
			if err != nil || math.Abs(back-v) > 0 {
				t.Fatalf("%q: %g read back as %g, %v", s, v, back, err)
			}
		}
	})
}

func ExampleParse() {
	v, err := Parse("12 kn", Speed)
	fmt.Printf("%.3f %v\n", v, err)
	_, err = Parse("12", Speed)
	fmt.Println(err)
	// Output:
	// 6.173 <nil>
	// "12" has no unit; write one, such as 12 m/s, 12 kn, 12 mph or 12 km/h
}
