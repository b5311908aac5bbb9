package flightfile

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// hand is a file as people write them: both layouts, comments everywhere.
const hand = `# our flight
flight: a-1   # id
site:
  # where we stand
  pad: 41.9050, -4.9210 # by the oak
  elevation: 741 m


rail: {length: 2.4 m, lean: 3 deg, toward: 190 deg}   # leans
vehicle:
    mass: 1.46 kg
    diameter: 66 mm   # outside
motor: { designation: H134-8 ,delay: 8 s }
recovery:
- device: streamer   # orange
  width: 220 mm
  length: 4.2 m

# the second
- {device: parachute, trigger: height 150 m, diameter: 1.1 m}
wind:
  - {height: 2 m, from: 240 deg, speed: 9 mph}
  - {height: 600 m, from: 262 deg, speed: 24 kn}  # aloft
searchers:
  - {name: first, speed: 3 km/h, start: 41.9050,-4.9210, available: 90 min}
  - name: 'second'
    speed: 3 km/h
    start: "41.9050, -4.9210"
    available: 90 min
# the end
`

func TestApply(t *testing.T) {
	for _, c := range []struct {
		name     string
		edits    []Edit
		old, new string
	}{
		{"a value", []Edit{{Key: "motor.delay", Value: `"6 s"`}}, "delay: 8 s ", "delay: 6 s "},
		{"a place", []Edit{{Key: "site.pad", Value: `"41.91, -4.93"`}}, "pad: 41.9050, -4.9210 # by", "pad: 41.91, -4.93 # by"},
		{"a place in a flow mapping", []Edit{{Key: "searchers[0].start", Value: `"41.91, -4.93"`}}, "start: 41.9050,-4.9210,", `start: "41.91, -4.93",`},
		{"quotes stay", []Edit{{Key: "searchers[1].start", Value: `"41.91, -4.93"`}}, `start: "41.9050, -4.9210"`, `start: "41.91, -4.93"`},
		{"a new key of a block", []Edit{{Key: "site.ceiling", Value: `"300 m"`}}, "  elevation: 741 m\n", "  elevation: 741 m\n  ceiling: 300 m\n"},
		{"a new key of a flow mapping", []Edit{{Key: "motor.burn", Value: `"1.8 s"`}}, "delay: 8 s }", "delay: 8 s, burn: 1.8 s }"},
		{"a new key at the top, in its place", []Edit{{Key: "when", Value: `"2026-03-14T10:30:00+01:00"`}}, "# id\n", "# id\nwhen: 2026-03-14T10:30:00+01:00\n"},
		{"a key in a mapping that is not there", []Edit{{Key: "spread.lean", Value: `"1 deg"`}}, "# aloft\n", "# aloft\nspread: {lean: 1 deg}\n"},
		{"a key goes", []Edit{{Key: "rail.lean"}}, "length: 2.4 m, lean: 3 deg, ", "length: 2.4 m, "},
		{"a line goes", []Edit{{Key: "vehicle.diameter"}}, "    diameter: 66 mm   # outside\n", ""},
		{"a mapping goes with its last key", []Edit{{Key: "vehicle.diameter"}, {Key: "vehicle.mass"}}, "vehicle:\n    mass: 1.46 kg\n    diameter: 66 mm   # outside\n", ""},
		{"the first key after a dash goes", []Edit{{Key: "recovery[0].device"}}, "- device: streamer   # orange\n  width", "- width"},
		{"one more level", []Edit{{Key: "wind[2]", Value: `{"height": "900 m", "from": "270 deg", "speed": "30 kn"}`}}, "# aloft\n", "# aloft\n  - {height: 900 m, from: 270 deg, speed: 30 kn}\n"},
		{"a level between", []Edit{{Key: "wind[1]", Value: `{height: 90 m}`, Insert: true}}, "  - {height: 600 m", "  - {height: 90 m}\n  - {height: 600 m"},
		{"a level goes", []Edit{{Key: "wind[0]"}}, "  - {height: 2 m, from: 240 deg, speed: 9 mph}\n", ""},
		{"levels for a file", []Edit{{Key: "wind", Value: `"forecast.json"`}}, "wind:\n  - {height: 2 m, from: 240 deg, speed: 9 mph}\n  - {height: 600 m, from: 262 deg, speed: 24 kn}", "wind: forecast.json"},
		{"comments within what goes", []Edit{{Key: "site", Value: "{pad: x}"}}, "site:\n  # where we stand\n  pad: 41.9050, -4.9210 # by the oak\n  elevation: 741 m\n", "site: {pad: x}\n  # where we stand\n"},
		{"nothing to take out", []Edit{{Key: "target.size"}}, "", ""},
		{"text that needs quotes", []Edit{{Key: "site.name", Value: `"a: b # c"`}}, "  elevation: 741 m\n", "  elevation: 741 m\n  name: \"a: b # c\"\n"},
	} {
		out, err := Apply("flight.yaml", []byte(hand), c.edits)
		if assert.NoError(t, err, c.name) {
			assert.Equal(t, strings.Replace(hand, c.old, c.new, 1), string(out), c.name)
		}
	}
}

func TestApplyRefuses(t *testing.T) {
	for _, c := range []struct {
		text string
		edit Edit
		want string
	}{
		{hand, Edit{Key: "flight.name", Value: "x"}, `has no parts: "a-1" is one value`},
		{hand, Edit{Key: "wind[7]", Value: "x"}, "has 2 entries, counted from 0"},
		{hand, Edit{Key: "...", Value: "x"}, "is not a key"},
		{hand, Edit{Key: "when", Value: "{"}, "not valid YAML"},
		{hand, Edit{Key: "when", Value: "1\nflight: 2"}, "not valid YAML"},
		{"a: &x 1\nb: *x\n", Edit{Key: "b", Value: "2"}, "cannot be changed in place"},
		{"a: 1 2\n  3\n", Edit{Key: "a", Value: "2"}, "cannot be changed in place"},
		{"a: {b: 1\n", Edit{Key: "a", Value: "2"}, "is not valid YAML"},
	} {
		_, err := Apply("flight.yaml", []byte(c.text), []Edit{c.edit})
		assert.ErrorContains(t, err, c.want, c.text)
	}
}

// spans lists what stands at every path of a file, byte for byte.
func spans(text string) map[string]string {
	root, err := layoutOf(text)
	if err != nil {
		return nil
	}
	out := map[string]string{}
	var walk func(path string, it *item)
	walk = func(path string, it *item) {
		if len(it.entries) == 0 {
			out[path] = text[it.start:it.end]
		}
		for i, e := range it.entries {
			if it.kind == list {
				walk(fmt.Sprintf("%s[%d]", path, i), e.value)
			} else {
				walk(join(path, e.key), e.value)
			}
		}
	}
	walk("", root)
	return out
}

// Whatever is changed, every other key keeps its bytes, and every comment that
// does not stand on a line taken out stays.
func TestApplyKeepsTheRest(t *testing.T) {
	garza, err := os.ReadFile("../../../../testdata/garza/flight.yaml")
	require.NoError(t, err)
	for _, text := range []string{hand, string(garza), strings.ReplaceAll(hand, "\n", "\r\n"), small} {
		before := spans(text)
		require.NotEmpty(t, before)
		var paths []string
		for p := range before {
			paths = append(paths, p)
		}
		rapid.Check(t, func(r *rapid.T) {
			p := rapid.SampledFrom(sorted(paths)).Draw(r, "path")
			e := Edit{Key: p, Value: rapid.SampledFrom([]string{"", `"12 kn"`, `"a, b"`, "{x: 1}", "[1, 2]"}).Draw(r, "value")}
			if rapid.Bool().Draw(r, "new") {
				e.Key = join(parentOf(p), "new")
				if parentOf(p) == "" || strings.HasSuffix(p, "]") {
					e.Key = "new"
				}
			}
			out, err := Apply("f", []byte(text), []Edit{e})
			require.NoError(r, err)
			after := spans(string(out))
			removed := e.Value == ""
			for q, was := range before {
				if q == e.Key || strings.HasPrefix(q, e.Key+".") || removed && strings.HasSuffix(p, "]") && strings.HasPrefix(q, parentOf(p)) {
					continue
				}
				require.Equal(r, was, after[q], q)
			}
			lost := 0
			if removed {
				lost = 1
			}
			require.GreaterOrEqual(r, strings.Count(string(out), "# "), strings.Count(text, "# ")-lost)
		})
	}
}

func parentOf(p string) string {
	if i := strings.LastIndexAny(p, ".["); i >= 0 {
		return p[:i]
	}
	return ""
}

func FuzzApply(f *testing.F) {
	for _, text := range []string{hand, small, "a: [1, {b: 2}]\n", "- 1\n-\n  - 2\n", "a:\n- b: 1\n", "{a: 1}", "a: 'x'\n\"b\": ~"} {
		f.Add(text, "a.b", "1")
	}
	f.Fuzz(func(t *testing.T, text, key, value string) {
		out, err := Apply("f", []byte(text), []Edit{{Key: key, Value: value}})
		if err == nil && len(out) > 0 {
			_, err = parse("f", out)
			assert.NoError(t, err)
		}
	})
}

func sorted(s []string) []string { slices.Sort(s); return s }

// A drawing that is not saved stands for the file.
func TestParseWithDrafts(t *testing.T) {
	dir := t.TempDir()
	text := []byte(strings.Replace(small, "-4.9210}", "-4.9210, field: field.geojson}", 1))
	path := filepath.Join(dir, "flight.yaml")
	_, err := Parse(path, text, nil)
	assert.ErrorContains(t, err, `site.field "field.geojson": there is no such file`)
	square := `{"type": "Polygon", "coordinates": [[[-4.93, 41.90], [-4.91, 41.90], [-4.91, 41.91], [-4.93, 41.91], [-4.93, 41.90]]]}`
	f, err := Parse(path, text, map[string][]byte{filepath.Join(dir, "field.geojson"): []byte(square)})
	require.NoError(t, err)
	assert.Len(t, f.Field, 1)
	assert.Empty(t, f.Sides)
}
