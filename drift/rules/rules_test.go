package rules

import (
	"strconv"
	"strings"
	"testing"

	"windfall/geo/geotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// basis is ours for a row's: from memory where the row says so of its figure.
func basis(s string) string {
	if strings.HasPrefix(s, "from memory") {
		return fromMemory
	}
	return lookedUp
}

func TestMotorClasses(t *testing.T) {
	rows := geotest.Table(t, "motor_classes.csv")
	require.Len(t, rows, len(classes))
	for _, r := range rows {
		top := r.Number("max_total_impulse_n_s")
		c, ok := classOf(top)
		require.True(t, ok)
		assert.Equal(t, r.Text("class"), c.Name)
		if n, err := strconv.Atoi(r.Text("us_certification_level")); err == nil {
			assert.Equal(t, n, c.Level, c.Name)
		} else {
			assert.Zero(t, c.Level, c.Name)
		}
		if c.Name != "O" {
			above, _ := classOf(top * 1.0001)
			assert.NotEqual(t, c.Name, above.Name, "classes end with their upper bound")
		}
	}
	_, ok := classOf(40961)
	assert.False(t, ok)
}

func TestDistancesOfPeople(t *testing.T) {
	code := map[string]string{Model: Model, Distances: Distances, "California Code of Regulations Title 19 s.1036 Table 18A": California}
	for _, r := range geotest.Table(t, "safe_distances.csv") {
		for _, impulse := range []float64{r.Number("max_n_s"), r.Number("min_n_s") + 1} {
			if impulse > r.Number("max_n_s") {
				continue
			}
			got := find(people[code[r.Text("code")]], impulse)
			require.NotNil(t, got, "%v", r)
			assert.Equal(t, r.Number("min_distance_ft"), got.feet, "%v", r)
			assert.InDelta(t, r.Number("min_distance_m"), got.feet*foot, 1e-9)
			if r.Text("min_distance_complex_ft") != "" {
				assert.Equal(t, r.Number("min_distance_complex_ft"), got.complex)
			}
		}
	}
}

func TestSiteDimensions(t *testing.T) {
	code := map[string]string{Model: Model, HighPower: HighPower, "California state fireworks regulations": California}
	for _, r := range geotest.Table(t, "site_dimensions.csv") {
		if r.Text("class") == "exception" || r.Text("code") == "worked" {
			continue
		}
		got := find(sites[code[r.Text("code")]], r.Number("max_n_s"))
		require.NotNil(t, got, "%v", r)
		assert.Equal(t, r.Number("min_dimension_ft"), got.feet, "%v", r)
		assert.Equal(t, basis(r.Text("basis")), got.basis, "%v", r)
	}
	// The table's worked rows: K to 4000 ft wants 2000 ft, J to 2400 ft 1500 ft.
	for _, c := range []struct{ impulse, apogee, least float64 }{{2560, 4000 * foot, 609.6}, {1280, 2400 * foot, 457.2}} {
		for _, side := range []float64{-0.1, 0.1} {
			f := get(t, Compare(Facts{Impulse: c.impulse, ApogeeM: c.apogee, SiteM: c.least + side}), HighPower, "smallest dimension of the field")
			assert.Equal(t, side > 0, f.Within)
		}
	}
}

func TestLimits(t *testing.T) {
	want := map[string]geotest.Row{}
	for _, r := range geotest.Table(t, "launch_limits.csv") {
		code := r.Text("code")
		if strings.HasPrefix(code, "14 CFR 101.22") {
			code = Federal
		}
		want[code+"/"+r.Text("item")] = r
	}
	for _, l := range limits {
		r, ok := want[l.code+"/"+l.item]
		require.True(t, ok, "%v", l)
		assert.Equal(t, r.Number("value"), l.value)
		assert.Equal(t, r.Text("unit"), l.unit)
		assert.Equal(t, basis(r.Text("basis")), l.basis, "%v", l)
	}
	// 101.25(g) worked rows: 3000 m wants 750 m, 1200 m wants 457 m.
	for apogee, least := range map[float64]float64{3000: 750, 1200: 457} {
		for _, side := range []float64{-0.5, 0.5} {
			f := get(t, Compare(Facts{Impulse: 600, Mass: 4, ApogeeM: apogee, CrowdM: least + side}), Federal, "distance from the pad to the crowd")
			assert.Equal(t, side > 0, f.Within)
		}
	}
}

func get(t *testing.T, fs []Finding, code, item string) Finding {
	t.Helper()
	for _, f := range fs {
		if f.Code == code && f.Item == item {
			return f
		}
	}
	t.Fatalf("no finding %q of %s in %v", item, code, fs)
	return Finding{}
}

func TestFindings(t *testing.T) {
	small := Facts{Impulse: 118, Mass: 1.31, Propellant: 0.06, LeanDeg: 4, WindMps: 6.7, WindAtM: 10, ApogeeM: 330, SiteM: 800, CrowdM: 25}
	var lines []string
	for _, f := range Compare(small) {
		lines = append(lines, f.String())
		assert.NotRegexp(t, `(?i)\bsafe\b`, f.String())
		assert.NotEmpty(t, f.Edition, f.Code)
	}
	text := strings.Join(lines, "\n")
	assert.Contains(t, text, "wind at 10 m 6.7 m/s: within the figure of at most 20 mph (8.94 m/s), US Model Rocket Safety Code (from memory)")
	assert.Contains(t, text, "distance from the pad to the crowd 25 m: within the figure of at least 30 ft (9.1 m), US Model Rocket Safety Code (published, a public copy read)")
	assert.Contains(t, text, "class 1: at most 1500 g")
	assert.NotContains(t, text, HighPower)

	big := small
	big.Impulse, big.Mass, big.Propellant, big.WindMps, big.LeanDeg, big.Dark = 600, 4.2, 0.31, 9.2, 22, true
	for _, c := range []struct{ code, item string }{
		{HighPower, "wind at 10 m"}, {HighPower, "rail lean"}, {Distances, "distance from the pad to the crowd"},
		{California, "distance from the pad to the crowd"}, {Federal, "light"},
	} {
		assert.False(t, get(t, Compare(big), c.code, c.item).Within, "%v", c)
	}
	assert.True(t, get(t, Compare(big), HighPower, "smallest dimension of the field").Within)
	assert.Len(t, Compare(Facts{LeanDeg: 3}), 2)
}

// classOf returns the letter class of a total impulse; ok is false above O.
func classOf(impulse float64) (Class, bool) {
	for _, c := range classes {
		if impulse <= c.Max {
			return c, true
		}
	}
	return Class{}, false
}
