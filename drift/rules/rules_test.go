package rules

import (
	"encoding/csv"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// table reads a file of testdata/reference: figures of the US Model Rocket and
// High Power Rocket Safety Codes, NFPA 1127 Table 4.16.3, 14 CFR 101 and 19 CCR
// 1036, gathered from public copies; the column basis says how each was read.
func table(t *testing.T, name string) []map[string]string {
	f, err := os.Open("testdata/reference/" + name)
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var out []map[string]string
	for _, r := range rows[1:] {
		m := map[string]string{}
		for i, k := range rows[0] {
			m[k] = r[i]
		}
		out = append(out, m)
	}
	return out
}

func number(t *testing.T, s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err, s)
	return v
}

// basis is ours for a row's: from memory where the row says so of its figure.
func basis(s string) string {
	if strings.HasPrefix(s, "from memory") {
		return fromMemory
	}
	return lookedUp
}

func TestMotorClasses(t *testing.T) {
	rows := table(t, "motor_classes.csv")
	require.Len(t, rows, len(classes))
	for _, r := range rows {
		top := number(t, r["max_total_impulse_n_s"])
		c, ok := ClassOf(top)
		require.True(t, ok)
		assert.Equal(t, r["class"], c.Name)
		if n, err := strconv.Atoi(r["us_certification_level"]); err == nil {
			assert.Equal(t, n, c.Level, c.Name)
		} else {
			assert.Zero(t, c.Level, c.Name)
		}
		if c.Name != "O" {
			above, _ := ClassOf(top * 1.0001)
			assert.NotEqual(t, c.Name, above.Name, "classes end with their upper bound")
		}
	}
	_, ok := ClassOf(40961)
	assert.False(t, ok)
}

func TestDistancesOfPeople(t *testing.T) {
	code := map[string]string{Model: Model, Distances: Distances, "California Code of Regulations Title 19 s.1036 Table 18A": California}
	for _, r := range table(t, "safe_distances.csv") {
		for _, impulse := range []float64{number(t, r["max_n_s"]), number(t, r["min_n_s"]) + 1} {
			if impulse > number(t, r["max_n_s"]) {
				continue
			}
			got := find(people[code[r["code"]]], impulse)
			require.NotNil(t, got, "%v", r)
			assert.Equal(t, number(t, r["min_distance_ft"]), got.feet, "%v", r)
			assert.InDelta(t, number(t, r["min_distance_m"]), got.feet*foot, 1e-9)
			if r["min_distance_complex_ft"] != "" {
				assert.Equal(t, number(t, r["min_distance_complex_ft"]), got.complex)
			}
		}
	}
}

func TestSiteDimensions(t *testing.T) {
	code := map[string]string{Model: Model, HighPower: HighPower, "California state fireworks regulations": California}
	for _, r := range table(t, "site_dimensions.csv") {
		if r["class"] == "exception" || r["code"] == "worked" {
			continue
		}
		got := find(sites[code[r["code"]]], number(t, r["max_n_s"]))
		require.NotNil(t, got, "%v", r)
		assert.Equal(t, number(t, r["min_dimension_ft"]), got.feet, "%v", r)
		assert.Equal(t, basis(r["basis"]), got.basis, "%v", r)
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
	want := map[string]map[string]string{}
	for _, r := range table(t, "launch_limits.csv") {
		code := r["code"]
		if strings.HasPrefix(code, "14 CFR 101.22") {
			code = Federal
		}
		want[code+"/"+r["item"]] = r
	}
	for _, l := range limits {
		r, ok := want[l.code+"/"+l.item]
		require.True(t, ok, "%v", l)
		assert.Equal(t, number(t, r["value"]), l.value)
		assert.Equal(t, r["unit"], l.unit)
		assert.Equal(t, basis(r["basis"]), l.basis, "%v", l)
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
