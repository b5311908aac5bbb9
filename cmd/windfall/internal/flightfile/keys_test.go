package flightfile

import (
	"flag"
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/geo/quantity"
)

var update = flag.Bool("update", false, "write docs/flight-file.md anew")

const page = "../../../../docs/flight-file.md"

// docs/flight-file.md is made of Keys, so that it can leave none out.
func TestPage(t *testing.T) {
	text := pageOf(Keys)
	if *update {
		require.NoError(t, os.WriteFile(page, []byte(text), 0o644))
	}
	got, err := os.ReadFile(page)
	require.NoError(t, err)
	assert.Equal(t, text, string(got), "run go test ./cmd/windfall/internal/flightfile -run TestPage -update")
}

func pageOf(keys []Key) string {
	var b strings.Builder
	b.WriteString(`# The flight file

One flight is one folder with a flight.yaml that a person writes. These are all
its keys; others are refused with the nearest known one. Every dimensional
value carries its unit. A value outside "can be" is an error, one outside
"common" is flown, with a caution that names it: most often the unit is wrong.
Besides, values are held against each other: length against diameter, mass
against size, propellant and thrust against impulse and weight, parts against
the vehicle, devices against the mass they carry.

At most `)
	fmt.Fprintf(&b, "%d devices, %d parts, %d searchers, %d levels, %d winds; the file at most %d MiB, a file it names %d MiB.\n",
		maxDevices, maxParts, maxSearchers, maxLevels, maxWinds, maxSize>>20, maxSide>>20)
	b.WriteString("This page is made by `go test ./cmd/windfall/internal/flightfile -run TestPage -update`.\n")
	group := ""
	for _, k := range keys {
		if top, _, _ := strings.Cut(strings.ReplaceAll(k.Path, "[]", ""), "."); top != group && k.Example == "" {
			group = top
			fmt.Fprintf(&b, "\n## %s\n\n%s. Left out: %s.\n\n| key | means | such as | left out | can be | common |\n|---|---|---|---|---|---|\n", top, k.Says, k.LeftOut)
			continue
		} else if group == "" {
			group = "flight"
			b.WriteString("\n## The flight itself\n\n| key | means | such as | left out | can be | common |\n|---|---|---|---|---|---|\n")
		}
		example := ""
		if k.Example != "" {
			example = "`" + k.Example + "`"
		}
		fmt.Fprintf(&b, "| `%s` | %s | %s | %s | %s | %s |\n", k.Path, k.Says, example, k.LeftOut, k.Can, k.Usual)
	}
	return b.String()
}

// Every example can be and is common, and what is common can be.
func TestKeys(t *testing.T) {
	parsers := []func(string) (float64, error){func(s string) (float64, error) { return strconv.ParseFloat(s, 64) }}
	for k := quantity.Length; k <= quantity.Ratio; k++ {
		parsers = append(parsers, func(s string) (float64, error) { return quantity.Parse(s, k) })
	}
	for _, k := range Keys {
		assert.Same(t, byPath[k.Path], KeyAt(k.Path), k.Path)
		if k.Can == (Range{}) {
			assert.Empty(t, k.Usual, k.Path)
			continue
		}
		parsed := false
		for _, parse := range parsers {
			v, err := parse(k.Example)
			if err != nil {
				continue
			}
			parsed = true
			for _, x := range []string{k.Usual[0], k.Usual[1]} {
				u, err := parse(x)
				require.NoError(t, err, k.Path)
				assert.Empty(t, k.Can.beyond(u, parse), k.Path)
			}
			assert.Empty(t, k.Usual.beyond(v, parse), k.Path)
			break
		}
		assert.True(t, parsed, k.Path)
	}
}

// Slips of unit and of date, each the one change to a flight that reads. The
// first column replaces the second in small.
func TestSlips(t *testing.T) {
	for _, c := range []struct{ old, new, wrong, asks string }{
		{"descent_rate: 4 m/s", "diameter: 1100 m", `recovery[0].diameter "1100 m" cannot be: it is above 60 m`, ""},
		{"device: parachute, descent_rate: 4 m/s", "device: streamer, width: 220 m, length: 3 m", `recovery[0].width "220 m" cannot be`, ""},
		{"descent_rate: 4 m/s", "diameter: 100 km", `cannot be`, ""},
		{"descent_rate: 4 m/s", "diameter: 20 m", "", `recovery[0].diameter "20 m" is unusual`},
		{"descent_rate: 4 m/s", "diameter: 8 m", "", `recovery[0] would let 120 g sink at 0.2`},
		{"designation: C6-5", "impulse: 208 kN s, burn: 3 s", `motor.impulse "208 kN s" cannot be`, ""},
		{"designation: C6-5", "impulse: 9 N s, burn: 1.5 s, propellant: 0 g", `motor.propellant "0 g" cannot be`, ""},
		{"designation: C6-5", "impulse: 9 N s, burn: 1.5 s, propellant: 1 g", `motor.propellant "1 g" cannot give 9 N s`, ""},
		{"designation: C6-5", "impulse: 9 N s, burn: 1.5 s, propellant: 80 g", "", `motor.propellant "80 g" is much for 9 N s`},
		{"speed: 9 mph}", "speed: 9 mph}\nparts:\n  - {name: pod, mass: 65 kg, drag_area: 50 cm2, sheds: apogee}", `parts[0].mass "65 kg" is no less than the whole vehicle (120 g)`, ""},
		{"wind:\n", "wind: {veer: 720 deg, levels: [{height: 2 m, from: 1 deg, speed: 3 m/s}]}\n#", `wind.veer "720 deg" cannot be`, ""},
		{"site:", "target: {seen_at: {crop: 8 km}}\nsite:", `target.seen_at.crop "8 km" cannot be`, ""},
		{"site:", "when: 1826-03-14T10:00:00Z\nsite:", `when "1826-03-14T10:00:00Z" is not in the years 1950 to 2100`, ""},
		{"24.8 mm", "24.8 mm, length: 21 m", "", `vehicle.length "21 m" is 847 times the diameter "24.8 mm"`},
		{"mass: 120 g, diameter: 24.8 mm", "mass: 3 kg, diameter: 900 mm, length: 1.6 m", "", `vehicle.diameter "900 mm" is unusual: 9 mm to 500 mm is common`},
		{"mass: 120 g, diameter: 24.8 mm", "mass: 1 kg, diameter: 400 mm, length: 1.6 m", "", `vehicle.mass "1 kg" is little for a body of 1.6 m by 400 mm`},
		{"site:", "searchers: [{name: a, speed: 500 km/h, available: 1 h}]\nsite:", `searchers[0].speed "500 km/h" cannot be: it is above 60 m/s`, ""},
		{"site:", "searchers: [{name: a, speed: 20 km/h, available: 1 h}]\nsite:", "", `searchers[0].speed "20 km/h" is faster than anybody searches on foot`},
		{"speed: 9 mph", "speed: 70 mph", "", `blows with 31 m/s at 2 m above the ground, a storm`},
		{"speed: 9 mph", "speed: 999 kn", `wind[0].speed "999 kn" cannot be`, ""},
		{"41.9050, -4.9210}", "41.9050, -4.9210, temperature: 400 degC}", `site.temperature "400 degC" cannot be: it is above 60 degC`, ""},
	} {
		require.Contains(t, small, c.old)
		f, err := Read(write(t, strings.Replace(small, c.old, c.new, 1)))
		if c.wrong != "" {
			require.Error(t, err, c.new)
			assert.Contains(t, err.Error(), c.wrong)
			assert.NotContains(t, err.Error(), "\n")
			continue
		}
		require.NoError(t, err, c.new)
		assert.Contains(t, strings.Join(f.Warnings, "\n"), c.asks)
	}
}

// Nothing is unusual about the example and the smallest flight.
func TestNothingToAsk(t *testing.T) {
	for _, path := range []string{"../../../../testdata/garza/flight.yaml", write(t, small)} {
		f, err := Read(path)
		require.NoError(t, err)
		assert.Empty(t, f.Warnings)
	}
}

// What a Windows editor saves reads the same; what is no text is named.
func TestEncodings(t *testing.T) {
	_, err := Read(write(t, "\ufeff"+strings.ReplaceAll(small, "\n", "\r\n")))
	require.NoError(t, err)
	for text, says := range map[string]string{
		"\xff\xfes\x00i\x00":           "is in UTF-16; save it as UTF-8",
		"site: \x1b[31m":               "holds a control character (0x1b)",
		strings.Repeat("x", maxSize+1): "at most 1 MiB",
	} {
		_, err := Read(write(t, text))
		require.Error(t, err)
		assert.Contains(t, err.Error(), says)
	}
	_, err = Read(write(t, strings.Replace(small, "designation: C6-5", "thrust: /dev/zero", 1)))
	require.Error(t, err)
	assert.Contains(t, err.Error(), `motor.thrust "/dev/zero" is not a file that can be kept`)
}
