package sources

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func ptr(v float64) *float64 { return &v }

// levelAt finds the level at an elevation.
func levelAt(t *testing.T, r Report, elevation float64) Level {
	t.Helper()
	for _, l := range r.Levels {
		if math.Abs(l.Elevation-elevation) < 0.5 {
			return l
		}
	}
	require.Fail(t, "no level", "elevation %v of %s", elevation, r.Source)
	return Level{}
}

// Figures read by eye from the archive's lines: columns 17-21, 41-45, 47-51.
func TestIGRALevels(t *testing.T) {
	r := readFile(t, "igra.txt", Options{When: time.Date(2010, 6, 1, 1, 0, 0, 0, time.UTC), Elevation: ptr(12)})
	assert.Equal(t, Sounding, r.Kind)
	assert.Equal(t, time.Date(2010, 6, 1, 0, 0, 0, 0, time.UTC), r.Valid)
	for _, c := range []struct{ z, from, speed float64 }{
		{12, 20, 5.1}, {712, 41, 2.6}, {1383, 64, 2.1}, {2105, 87, 2.1}, {5420, 202, 15.9}, {547, 40, 3.1}, {1806, 109, 0.5},
	} {
		l := levelAt(t, r, c.z)
		assert.InDelta(t, c.from, l.FromDeg, 1e-9, "z %v", c.z)
		assert.InDelta(t, c.speed, l.Speed, 1e-9, "z %v", c.z)
		assert.InDelta(t, c.z-12, l.Height, 1e-9)
	}
	// 90 m (1000 hPa) and 309 m report no wind
	for _, l := range r.Levels {
		assert.NotEqual(t, 90.0, l.Elevation)
		assert.NotEqual(t, 309.0, l.Elevation)
	}
	rising(t, r)
}

func rising(t *testing.T, r Report) {
	t.Helper()
	for i := 1; i < len(r.Levels); i++ {
		assert.GreaterOrEqual(t, r.Levels[i].Height, r.Levels[i-1].Height)
	}
}

func TestSoundingTakenIsTheLastReleasedBeforeTheLaunch(t *testing.T) {
	for _, c := range []struct {
		when, want string
		warn       string
	}{
		{"2010-06-01T00:30:00Z", "2010-06-01T00:00:00Z", "holds 2 soundings; taken: 2010-06-01 00:00 UTC"},
		{"2010-06-01T11:30:00Z", "2010-06-01T12:00:00Z", ""}, // released at 11:00
		{"2010-06-01T10:30:00Z", "2010-06-01T00:00:00Z", "11 h old at launch"},
		{"2010-06-01T10:30:00Z", "2010-06-01T00:00:00Z", "the map is wider for it"},
		{"2010-05-31T20:00:00Z", "2010-06-01T00:00:00Z", "from after the launch"},
		{"2026-03-14T10:30:00Z", "2010-06-01T12:00:00Z", "the sounding is of 2010, the launch in 2026: this is not the launch day's wind"},
	} {
		when, err := time.Parse(time.RFC3339, c.when)
		require.NoError(t, err)
		r := readFile(t, "igra.txt", Options{When: when})
		assert.Equal(t, c.want, r.Valid.Format(time.RFC3339), c.when)
		assert.Contains(t, strings.Join(r.Warnings, "\n"), c.warn)
	}
	r := readFile(t, "igra.txt", Options{})
	assert.Equal(t, 12, r.Valid.Hour(), "without a launch time the newest")
	assert.Zero(t, r.Levels[0].Height, "without an elevation heights count from the lowest level")
	assert.True(t, r.FromLowest)
}

func TestSoundingFarFromThePad(t *testing.T) {
	r := readFile(t, "igra.txt", Options{Pad: &orb.Point{-5, 39}})
	assert.Contains(t, strings.Join(r.Warnings, "\n"), "km from the pad")
	r = readFile(t, "igra.txt", Options{Pad: &orb.Point{-156.8, 71.3}})
	assert.NotContains(t, strings.Join(r.Warnings, "\n"), "km from the pad")
}

// blankHeights writes "missing" (or "removed") into the height of every level
// with a pressure whose number is not in keep.
func blankHeights(text string, mark string, keep func(n int) bool) string {
	lines := strings.Split(text, "\n")
	n := 0
	for i, l := range lines {
		if strings.HasPrefix(l, "#") {
			n = 0
			continue
		}
		if len(l) < 51 || l[0] == '3' {
			continue
		}
		if !keep(n) {
			lines[i] = l[:16] + mark + l[21:]
		}
		n++
	}
	return strings.Join(lines, "\n")
}

// The heights that the radiosonde reports, taken out and derived again from
// pressure and temperature, come back within 10 m below 5 km.
func TestHypsometricHeightsAgainstReportedOnes(t *testing.T) {
	raw, err := os.ReadFile(filepath.Join("testdata", "igra.txt"))
	require.NoError(t, err)
	at := time.Date(2010, 6, 1, 1, 0, 0, 0, time.UTC)
	for _, hour := range []int{0, 12} {
		opt := Options{When: at.Add(time.Duration(hour) * time.Hour)}
		want := readText(t, string(raw), opt)
		for _, c := range []struct {
			name, mark string
			keep       func(int) bool
		}{
			{"surface alone reports", "-9999", func(n int) bool { return n == 0 }},
			{"removed by the archive's checks", "-8888", func(n int) bool { return n == 0 }},
			{"one in the middle reports", "-9999", func(n int) bool { return n == 5 }},
			{"every fourth reports", "-9999", func(n int) bool { return n%4 == 0 }},
		} {
			got := readText(t, blankHeights(string(raw), c.mark, c.keep), opt)
			require.Len(t, got.Levels, len(want.Levels), c.name)
			worst := 0.0
			for i, l := range want.Levels {
				if l.Elevation > 5000 {
					continue
				}
				// the order of levels closer than the tolerance may change
				best := math.Inf(1)
				for _, g := range got.Levels {
					if g.FromDeg == l.FromDeg && g.Speed == l.Speed {
						best = math.Min(best, math.Abs(g.Elevation-l.Elevation))
					}
				}
				worst = math.Max(worst, best)
				assert.Less(t, best, 10.0, "%s, %d UTC, level %d at %v m", c.name, hour, i, l.Elevation)
			}
			t.Logf("%02d UTC, %s: worst %.1f m", hour, c.name, worst)
		}
	}
}

// With no height at all the pad's elevation stands for the surface; without
// that too, heights count from the lowest level and elevations are unknown.
func TestHeightsWithoutAnyReported(t *testing.T) {
	raw, err := os.ReadFile(filepath.Join("testdata", "igra.txt"))
	require.NoError(t, err)
	var keep []string
	levels := 0
	for _, l := range strings.Split(string(raw), "\n")[:16] {
		if !strings.HasPrefix(l, "#") {
			levels++
		}
		keep = append(keep, l)
	}
	keep[0] = keep[0][:32] + fmt.Sprintf("%4d", levels) + keep[0][36:]
	text := blankHeights(strings.Join(keep, "\n"), "-9999", func(int) bool { return false })
	r := readText(t, text, Options{Elevation: ptr(12)})
	assert.InDelta(t, 12, r.Levels[0].Elevation, 1e-9)
	assert.InDelta(t, 1383, r.Levels[2].Elevation, 10)
	r = readText(t, text, Options{})
	assert.True(t, math.IsNaN(r.Levels[0].Elevation))
	assert.Zero(t, r.Levels[0].Height)
	assert.InDelta(t, 1383-12, r.Levels[2].Height, 10)
	assert.Contains(t, strings.Join(r.Warnings, "\n"), "no height is reported at all")
}

// The thickness of a layer at one temperature is R T/g ln(p1/p2): 1000 to 500
// hPa at 273.15 K is 287.05287 x 273.15/9.80665 x ln 2 = 5542.0 m (by hand; the
// meteorologist's 5540 m line, where rain turns to snow).
func TestThicknessOfAnIsothermalLayer(t *testing.T) {
	nan := math.NaN()
	s := []sample{
		{pressure: 100000, elevation: 100, temperature: 273.15, dew: nan},
		{pressure: 50000, elevation: nan, temperature: 273.15, dew: nan},
	}
	known, standard := fillElevations(s, nil)
	assert.True(t, known)
	assert.False(t, standard)
	assert.InDelta(t, 5642.0, s[1].elevation, 0.05)
}

// A pilot balloon reports pressure and no temperature. U.S. Standard Atmosphere
// 1976: 1013.25 hPa at 0 m, 898.75 hPa at 1000 m, 540.20 hPa at 5000 m,
// 226.32 hPa at 11000 m of geopotential height (its table, and by its formula).
func TestHeightsInTheStandardAtmosphere(t *testing.T) {
	nan := math.NaN()
	s := []sample{{pressure: 101325, elevation: 0, temperature: nan, dew: nan}}
	for _, p := range []float64{95000, 89875, 80000, 70000, 60000, 54020, 45000, 35000, 28000, 22632} {
		s = append(s, sample{pressure: p, elevation: nan, temperature: nan, dew: nan})
	}
	known, standard := fillElevations(s, nil)
	assert.True(t, known)
	assert.True(t, standard)
	// the mean temperature of a layer is taken as that of its middle in height:
	// a layer of 15 % in pressure is off by under 0.02 %
	assert.InDelta(t, 1000, s[2].elevation, 1)
	assert.InDelta(t, 5000, s[6].elevation, 2)
	assert.InDelta(t, 11000, s[10].elevation, 6)
}

// A saturated parcel at 1000 hPa and 30 degC has a vapour pressure of 42.4 hPa
// and a virtual temperature near 34.9 degC (Smithsonian tables, from memory).
func TestVirtualTemperature(t *testing.T) {
	assert.InDelta(t, 4243, vapourPressure(303.15), 15)
	assert.InDelta(t, 34.9, virtualTemperature(100000, 303.15, 303.15)-celsius, 0.2)
	assert.InDelta(t, 288.15, virtualTemperature(100000, 288.15, math.NaN()), 0)
	assert.InDelta(t, 285.0, dewPoint(vapourPressure(285.0)), 1e-9)
}

// Both archives hold the ascent of 1999-05-04 00 UTC at Norman; one rounds the
// direction to 5 degrees here and there and the speed to 0.1 m/s, the other to
// whole knots, so at levels that both report (by pressure and height) speeds
// agree within half a knot and directions within a degree.
func TestBothArchivesGiveTheSameWind(t *testing.T) {
	a := readFile(t, "archive.csv", Options{Elevation: ptr(345)})
	b := readFile(t, "archive.json", Options{Elevation: ptr(345)})
	assert.Equal(t, "1999-05-03T23:02:00Z", a.Valid.Format(time.RFC3339))
	assert.Equal(t, "1999-05-04T00:00:00Z", b.Valid.Format(time.RFC3339))
	for _, z := range []float64{671, 1397, 3028} { // 925, 850, 700 hPa
		la, lb := levelAt(t, a, z), levelAt(t, b, z)
		assert.InDelta(t, la.Speed, lb.Speed, 0.1, "z %v", z)
		assert.InDelta(t, la.FromDeg, lb.FromDeg, 1.01, "z %v", z)
	}
	// figures of the first line of each
	assert.Equal(t, Level{Height: 0, Elevation: 345, FromDeg: 160, Speed: 9.3, SD: a.Levels[0].SD}, a.Levels[0])
	assert.InDelta(t, 18*1852.0/3600, b.Levels[0].Speed, 1e-12)
	assert.Equal(t, 362.0, b.Levels[0].Elevation, "the level at 1000 hPa lies under the ground and has no wind")
}

// The same levels written in both forms read alike.
func TestArchiveFormsReadAlike(t *testing.T) {
	a := readFile(t, "archive.json", Options{})
	var csv bytes.Buffer
	csv.WriteString("time,longitude,latitude,pressure_hPa,geopotential height_m,temperature_C,dew point temperature_C,wind direction_degree,wind speed_m/s\n")
	for _, l := range a.Levels {
		fmt.Fprintf(&csv, "1999-05-04 00:00:00,-97.44,35.18, 900.0,%5.0f, , ,%3.0f,%.1f\n", l.Elevation, l.FromDeg, l.Speed)
	}
	b := readText(t, csv.String(), Options{})
	require.Len(t, b.Levels, len(a.Levels))
	for i, l := range a.Levels {
		assert.InDelta(t, l.Elevation, b.Levels[i].Elevation, 0.5)
		assert.InDelta(t, l.FromDeg, b.Levels[i].FromDeg, 0.5)
		assert.InDelta(t, l.Speed, b.Levels[i].Speed, 0.05+1e-9) // written with one decimal
	}
}

func TestNaNInJSON(t *testing.T) {
	raw, err := os.ReadFile(filepath.Join("testdata", "nan.json"))
	require.NoError(t, err)
	require.Contains(t, string(raw), "NaN")
	r := readText(t, string(raw), Options{})
	assert.Equal(t, 362.0, r.Levels[0].Elevation)
	assert.InDelta(t, 13*knot, r.Levels[0].Speed, 1e-12)
	nulls := readText(t, strings.ReplaceAll(string(raw), "NaN", "null"), Options{})
	assert.Equal(t, nulls.Levels, r.Levels)
	assert.Equal(t, `{"a":"NaN","b":null,"c":[null,null]}`, string(nullNaN([]byte(`{"a":"NaN","b":NaN,"c":[-Infinity,Infinity]}`))))
}

func TestSeveralProfilesInJSON(t *testing.T) {
	level := `{"pres":950,"hght":500,"drct":%d,"sknt":10}`
	text := fmt.Sprintf(`{"profiles":[{"station":"A","valid":"2026-03-14T00:00:00Z","profile":[`+level+`]},{"station":"A","valid":"2026-03-14T12:00:00Z","profile":[`+level+`]}]}`, 100, 200)
	r := readText(t, text, Options{When: time.Date(2026, 3, 14, 10, 0, 0, 0, time.UTC)})
	assert.Equal(t, 100.0, r.Levels[0].FromDeg)
	r = readText(t, text, Options{When: time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)})
	assert.Equal(t, 200.0, r.Levels[0].FromDeg)
}

// Some archives give a row each second, with a time of its own and gaps in it;
// a pause of hours begins another ascent.
func TestTimesOfRows(t *testing.T) {
	const head = "time,pressure_hPa,geopotential height_m,wind direction_degree,wind speed_m/s\n"
	r := readText(t, head+"2026-04-18 00:01:00,950,500,100,5\n,940,590,100,6\n2026-04-18 01:40:00,50,20000,100,7\n2026-04-18 12:01:00,950,500,200,5\n", Options{When: april18(11, 0)})
	assert.Len(t, r.Levels, 3)
	assert.Equal(t, 100.0, r.Levels[2].FromDeg)
	r = readText(t, head+"2026-04-18 00:01:00,950,500,100,5\n2026-04-18 12:01:00,950,500,200,5\n", Options{When: april18(13, 0)})
	assert.Len(t, r.Levels, 1)
	assert.Equal(t, 200.0, r.Levels[0].FromDeg)
}

// A radiosonde's calm: speed zero without a direction.
func TestCalmNeedsNoDirection(t *testing.T) {
	r := readText(t, `{"profiles":[{"valid":"2026-03-14T00:00:00Z","profile":[{"pres":950,"hght":500,"drct":null,"sknt":0},{"pres":900,"hght":900,"drct":null,"sknt":5}]}]}`, Options{})
	require.Len(t, r.Levels, 1)
	assert.Zero(t, r.Levels[0].Speed)
	assert.Zero(t, r.Levels[0].FromDeg)
}

func TestBadSoundings(t *testing.T) {
	igra, err := os.ReadFile(filepath.Join("testdata", "igra.txt"))
	require.NoError(t, err)
	csv, err := os.ReadFile(filepath.Join("testdata", "archive.csv"))
	require.NoError(t, err)
	js, err := os.ReadFile(filepath.Join("testdata", "archive.json"))
	require.NoError(t, err)
	line := func(raw []byte, n int) string { return strings.Join(strings.SplitAfter(string(raw), "\n")[:n], "") }
	swap := func(raw []byte, old, new string) string {
		require.Contains(t, string(raw), old)
		return strings.Replace(string(raw), old, new, 1)
	}
	for _, c := range []struct{ name, text, want string }{
		{"empty", " \n\n", "wind.txt:1: is empty"},
		{"binary", "PK\x03\x04\x00\x00", "is an archive; unpack it first"},
		{"web page", "<!doctype html>", "is a web page, not wind"},
		{"igra ends early", line(igra, 10), "wind.txt:10: the file ends after 9 of the 23 levels that line 1 announces"},
		{"igra ends in a line", line(igra, 9) + "20   812  7756", "wind.txt:10: the file ends in the middle of level 9 of 23"},
		{"igra line lost in the middle", line(igra, 5) + "20   100  97290\n" + line(igra, 20), "wind.txt:6: the line has 15 columns, a level has 51"},
		{"igra letters", swap(igra, "  4991B", "  4x91B"), "wind.txt:12: height \" 4x91\" in columns 17-21 is no whole number"},
		{"igra date", swap(igra, "2010 06 01 00", "2010 06 31 00"), "is no date and hour"},
		{"igra 999 knots", swap(igra, "  202   144 ", "  202  5139 "), "wind.txt:12: wind speed 513.9 m/s (998.9 kn) is beyond any wind on Earth"},
		{"igra direction", swap(igra, "  202   144 ", "  402   144 "), "wind direction 402 is no bearing"},
		{"csv ends in a line", line(csv, 5) + "1999-05-03 23:02:00,-97.4400,35.1800, 89", "wind.txt:6: 4 columns where the heading has 13; the file seems cut short"},
		{"csv heading alone", line(csv, 1), "no level follows the heading"},
		{"csv 999 knots", swap(csv, "165,20.6", "165,513.9"), "wind.txt:3: wind speed 513.9 m/s"},
		{"csv number", swap(csv, "165,20.6", "165,2o.6"), `wind.txt:3: wind speed_m/s "2o.6" is no number`},
		{"csv time", swap(csv, "1999-05-03 23:02:00,-97.4400,35.1800, 931.3", "1999-05-33 23:02:00,-97.4400,35.1800, 931.3"), `time "1999-05-33 23:02:00" is no time`},
		{"csv column gone", strings.ReplaceAll(string(csv), "wind direction_degree", "heading"), `no column for "wind direction_degree"`},
		{"csv pressure", swap(csv, " 931.3,", "93130.0,"), "pressure 93130 hPa is outside 0 to 1150 hPa"},
		{"json ends early", string(js[:700]), "wind.txt:9: the JSON ends in the middle; the file seems cut short"},
		{"json 999 knots", swap(js, `"sknt": 22.0`, `"sknt": 999.0`), "wind.txt:4: profiles[0].profile[2]: wind speed 513.9 m/s (999 kn)"},
		{"json word", swap(js, `"sknt": 22.0`, `"sknt": "22"`), `wind.txt:4: profiles[0].profile[2].sknt "22" is no number`},
		{"json no time", swap(js, `"valid": "1999-05-04T00:00:00Z"`, `"v": 1`), "profiles[0] has no valid time"},
		{"json bad time", swap(js, `1999-05-04T00:00:00Z`, `May 4`), `profiles[0].valid "May 4" is no time`},
		{"json no profile", `{"profiles": []}`, "empty list: the archive has no sounding"},
		{"json no wind", `{"profiles": [{"valid":"1999-05-04T00:00:00Z","profile":[]}]}`, "reports no wind with a height"},
		{"other json", `{"a": 1}`, "neither profiles (a sounding) nor hourly (a forecast)"},
		{"json height", `{"profiles":[{"valid":"1999-05-04T00:00:00Z","profile":[{"hght":99999,"drct":1,"sknt":1}]}]}`, "height 99999 m is outside"},
	} {
		_, err := Read("wind.txt", strings.NewReader(c.text), Options{When: time.Date(2010, 6, 1, 1, 0, 0, 0, time.UTC)})
		if assert.Error(t, err, c.name) {
			assert.Contains(t, err.Error(), c.want, c.name)
			assert.NotContains(t, err.Error(), "\n", c.name)
		}
	}
}

// Where a file is cut in a later sounding the whole ones before it are read.
func TestCutSoundingIsPassedOver(t *testing.T) {
	raw, err := os.ReadFile(filepath.Join("testdata", "igra.txt"))
	require.NoError(t, err)
	for _, cut := range []int{25, 30} {
		r := readText(t, strings.Join(strings.SplitAfter(string(raw), "\n")[:cut], ""), Options{})
		assert.Equal(t, 0, r.Valid.Hour())
		assert.Contains(t, r.Warnings[0], "passed over")
	}
}

func TestHeightsOutOfOrderAreSortedAndSaid(t *testing.T) {
	raw, err := os.ReadFile(filepath.Join("testdata", "archive.csv"))
	require.NoError(t, err)
	r := readText(t, strings.Replace(string(raw), "  914,", "  194,", 1), Options{})
	assert.Contains(t, strings.Join(r.Warnings, "\n"), "wind.txt:5: heights are out of order: 194 m comes after 671 m")
	rising(t, r)
}
