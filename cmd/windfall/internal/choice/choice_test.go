package choice

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestParseSet(t *testing.T) {
	for s, want := range map[string][]string{
		"motor.delay=4 s,6 s, 8 s":                 {"4 s", "6 s", "8 s"},
		"rail.lean=0..10 deg":                      {"0 deg", "2 deg", "4 deg", "6 deg", "8 deg", "10 deg"},
		"rail.lean=0 deg..3 deg step 1 deg":        {"0 deg", "1 deg", "2 deg", "3 deg"},
		"rail.lean=-2..7 deg step 4 deg":           {"-2 deg", "2 deg", "6 deg", "7 deg"},
		"x=0..0.3 m":                               {"0 m", "0.1 m", "0.2 m", "0.3 m"},
		"spread.lean=10..30 %":                     {"10 %", "15 %", "20 %", "25 %", "30 %"},
		"rail.toward=auto":                         {"auto"},
		"recovery.0.device=streamer,parachute":     {"streamer", "parachute"},
		"rail={lean: 2 deg, toward: 9 deg},{a: 1}": {"{lean: 2 deg, toward: 9 deg}", "{a: 1}"},
		`site.pad="41.9, -4.9",'42, -4'`:           {`"41.9, -4.9"`, "'42, -4'"},
		"wind=../other/a.json,b.csv":               {"../other/a.json", "b.csv"},
		"vehicle.drag=0.5..0.6":                    {"0.5", "0.52", "0.54", "0.56", "0.58", "0.6"},
	} {
		a, err := ParseSet(s)
		require.NoError(t, err, s)
		assert.Equal(t, want, a.Values, s)
		key, _, _ := strings.Cut(s, "=")
		assert.Equal(t, key, a.Key)
	}
	for s, want := range map[string]string{
		"motor.delay":                 "has no key=value",
		"=4 s":                        "has no key=value",
		"a=":                          "has an empty value",
		"a=1 s,,2 s":                  "has an empty value",
		"a=1 s,1 s":                   `--set a has "1 s" twice`,
		"motor.delay=auto":            "only rail.toward=auto",
		"a=10..0 deg":                 "does not rise",
		"a=0 deg..10 m":               "mixes units",
		"a=0..10 deg step 0 deg":      "has a step of 0",
		"a=0..10 deg step 0.0001 deg": "has a step of 0.0001",
		"a=low..high":                 "is not a range",
	} {
		_, err := ParseSet(s)
		assert.ErrorContains(t, err, want, s)
	}
}

// Any rising range begins and ends where it says and has two to six values.
func TestRangesKeepTheirEnds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lo := rapid.IntRange(-1000, 1000).Draw(t, "lo")
		hi := lo + rapid.IntRange(1, 5000).Draw(t, "width")
		a, err := ParseSet("k=" + show(float64(lo)/10, "") + ".." + show(float64(hi)/10, "m"))
		require.NoError(t, err)
		assert.Equal(t, show(float64(lo)/10, "m"), a.Values[0])
		assert.Equal(t, show(float64(hi)/10, "m"), a.Values[len(a.Values)-1])
		assert.True(t, len(a.Values) >= 2 && len(a.Values) <= 7, "%v", a.Values)
	})
}

func TestHours(t *testing.T) {
	zone := time.FixedZone("", 2*3600)
	when := time.Date(2026, 4, 18, 11, 20, 0, 0, zone)
	var have []time.Time
	for h := range 48 {
		have = append(have, time.Date(2026, 4, 18, h, 0, 0, 0, time.UTC))
	}
	read := func(s string) (out []string) {
		ts, err := Hours(s, when, have)
		require.NoError(t, err, s)
		for _, h := range ts {
			out = append(out, h.Format("02T15:04Z07:00"))
		}
		return out
	}
	assert.Equal(t, []string{"18T09:00+02:00", "18T10:00+02:00", "18T11:00+02:00"}, read("9..11"))
	assert.Equal(t, read("9..11"), read("9-11"))
	assert.Equal(t, read("9..11"), read("09:00 - 11:00"))
	assert.Equal(t, []string{"18T09:30+02:00", "18T14:00+02:00"}, read("0930, 14:00"))
	assert.Equal(t, []string{"18T23:00+02:00", "19T00:00+02:00", "19T01:00+02:00"}, read("23..1"))
	assert.Equal(t, []string{"18T10:00+02:00", "18T11:00+02:00"}, read("2026-04-18T08:00Z..2026-04-18T11:00+02:00"))
	assert.Len(t, read("all"), 48)
	for s, want := range map[string]string{
		"25":                                   `--hours "25" is not a time`,
		"noon":                                 "is not a time",
		"1":                                    "2026-04-18T01:00:00+02:00 is outside the forecast, which covers 2026-04-18T02:00:00+02:00 to 2026-04-20T01:00:00+02:00",
		"9,9":                                  "has 09:00 twice",
		"2026-04-18T08:00Z..2027-01-01T00:00Z": "longer than 16 days",
	} {
		_, err := Hours(s, when, have)
		assert.ErrorContains(t, err, want, s)
	}
	_, err := Hours("9", when, nil)
	assert.ErrorContains(t, err, "--hours needs a forecast")
}

func FuzzParseSet(f *testing.F) {
	f.Add("motor.delay=4 s,6 s")
	f.Add("rail.lean=0..10 deg step 2 deg")
	f.Add("a={b: [1, 2]},'x")
	f.Fuzz(func(t *testing.T, s string) {
		a, err := ParseSet(s)
		if err == nil {
			assert.NotEmpty(t, a.Key)
			assert.NotEmpty(t, a.Values)
			assert.LessOrEqual(t, len(a.Values), maxValues)
		}
	})
}
