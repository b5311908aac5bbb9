package flightfile

import (
	"math"
	"regexp"
	"strings"
)

// Key is one key of a flight file: what it means, what it may be, and what
// happens when it is left out. Keys is the one list of them: the reader
// refuses keys that are not in it, checks values against its ranges, and
// docs/flight-file.md is made from it.
type Key struct {
	Path    string // with [] for the entries of a list, such as recovery[].diameter
	Says    string // what it is
	Example string
	LeftOut string // what happens without it; "must be given" where it must
	Can     Range  // beyond it: an error
	Usual   Range  // beyond it: a caution that asks
}

// Range is two quantities with their units, least and most; empty: no bound.
type Range [2]string

const must = "must be given"

// Keys lists every key of a flight file, in the order of the page.
var Keys = slicesOf(generalKeys, vehicleKeys, recoveryKeys, windKeys, spreadKeys, peopleKeys)

func slicesOf(lists ...[]Key) []Key {
	var all []Key
	for _, l := range lists {
		all = append(all, l...)
	}
	return all
}

var generalKeys = []Key{
	{Path: "flight", Says: "the flight's id: lower-case letters, digits, single dashes", Example: "garza-07", LeftOut: "called after its folder"},
	{Path: "when", Says: "planned or actual ignition, with its zone; the years 1950 to 2100", Example: "2026-03-14T10:30:00+01:00",
		LeftOut: "no daylight, no magnetic bearings, no ages of winds"},
	{Path: "site", Says: "where it flies from", LeftOut: must},
	{Path: "site.name", Says: "what people call the place", Example: "Garza common", LeftOut: "nothing"},
	{Path: "site.pad", Says: "the pad, in any form of a place", Example: "39.0512, -5.5831", LeftOut: must},
	{Path: "site.elevation", Says: "the pad's height above sea level", Example: "412 m", LeftOut: "the terrain's height at the pad, else 0 m",
		Can: Range{"-500 m", "9000 m"}, Usual: Range{"-50 m", "5000 m"}},
	{Path: "site.ceiling", Says: "height limit above the pad", Example: "300 m", LeftOut: "no limit is held against it",
		Can: Range{"1 m", "100 km"}, Usual: Range{"20 m", "20 km"}},
	{Path: "site.field", Says: "GeoJSON: the ground we have leave to use", Example: "field.geojson", LeftOut: "no chance on own ground"},
	{Path: "site.ground", Says: "GeoJSON: cover, walls, gates, no-go areas, places", Example: "ground.geojson", LeftOut: "open ground without obstacles"},
	{Path: "site.terrain", Says: "elevation tile, SRTM .hgt or ESRI ASCII grid", Example: "N39W006.hgt", LeftOut: "flat at the pad's elevation"},
	{Path: "site.temperature", Says: "air at the pad", Example: "11 degC", LeftOut: "from an airport report, else the standard atmosphere's",
		Can: Range{"-90 degC", "60 degC"}, Usual: Range{"-30 degC", "48 degC"}},
	{Path: "site.pressure", Says: "pressure at sea level (QNH)", Example: "1019 hPa", LeftOut: "from an airport report, else 1013.25 hPa",
		Can: Range{"850 hPa", "1100 hPa"}, Usual: Range{"940 hPa", "1060 hPa"}},
	{Path: "rail", Says: "the launch rail, or rod", LeftOut: "1 m guided, vertical"},
	{Path: "rail.length", Says: "length that guides: the rail less the height of the upper guide", Example: "1.8 m", LeftOut: "1 m",
		Can: Range{"1 cm", "100 m"}, Usual: Range{"20 cm", "15 m"}},
	{Path: "rail.lean", Says: "angle from vertical", Example: "5 deg", LeftOut: "vertical",
		Can: Range{"0 deg", "89 deg"}, Usual: Range{"0 deg", "30 deg"}},
	{Path: "rail.toward", Says: "the way it leans", Example: "250 deg", LeftOut: "must be given with a lean"},
}

var vehicleKeys = []Key{
	{Path: "vehicle", Says: "the rocket", LeftOut: must},
	{Path: "vehicle.name", Says: "what people call it", Example: "Siskin", LeftOut: "nothing"},
	{Path: "vehicle.mass", Says: "on the rail, motor included", Example: "1.85 kg", LeftOut: must,
		Can: Range{"1 g", "2000 kg"}, Usual: Range{"10 g", "150 kg"}},
	{Path: "vehicle.diameter", Says: "of the body at its widest", Example: "76 mm", LeftOut: must,
		Can: Range{"2 mm", "3 m"}, Usual: Range{"9 mm", "500 mm"}},
	{Path: "vehicle.length", Says: "nose to tail", Example: "1.65 m", LeftOut: "it points into the wind at once (weathercocking at its strongest)",
		Can: Range{"1 cm", "50 m"}, Usual: Range{"10 cm", "9 m"}},
	{Path: "vehicle.drag", Says: "drag coefficient on the body's area, or a table mach,cd", Example: "0.58", LeftOut: "found from apogee, else 0.6 with a 25 % spread",
		Can: Range{"0.01", "10"}, Usual: Range{"0.15", "2"}},
	{Path: "vehicle.apogee", Says: "expected or measured apogee above the pad, in place of drag", Example: "640 m", LeftOut: "drag is taken",
		Can: Range{"1 m", "200 km"}, Usual: Range{"10 m", "15 km"}},
	{Path: "vehicle.yaw_wavelength", Says: "distance of one swing into the wind; 0 m: at once", Example: "40 m", LeftOut: "estimated from length",
		Can: Range{"0 m", "100 km"}, Usual: Range{"0 m", "2 km"}},
	{Path: "vehicle.yaw_damping", Says: "how fast the swing dies away", Example: "0.1", LeftOut: "0.1",
		Can: Range{"0", "20"}, Usual: Range{"0", "2"}},
	{Path: "motor", Says: "the motor", LeftOut: must},
	{Path: "motor.designation", Says: "the hobby's code, or free text", Example: "H150-9", LeftOut: "impulse and burn, or thrust, must be given"},
	{Path: "motor.impulse", Says: "total impulse, with burn", Example: "270 N s", LeftOut: "drawn evenly within the designation's class",
		Can: Range{"0.05 N s", "170000 N s"}, Usual: Range{"0.3 N s", "41000 N s"}},
	{Path: "motor.burn", Says: "time of burning", Example: "1.8 s", LeftOut: "impulse over the designation's average thrust",
		Can: Range{"0.01 s", "300 s"}, Usual: Range{"0.1 s", "20 s"}},
	{Path: "motor.thrust", Says: "CSV of time_s,thrust_n", Example: "motor.csv", LeftOut: "constant thrust"},
	{Path: "motor.propellant", Says: "mass of propellant", Example: "145 g", LeftOut: "0.6 g per N s",
		Can: Range{"0.01 g", "1000 kg"}, Usual: Range{"0.1 g", "30 kg"}},
	{Path: "motor.delay", Says: "burnout to ejection, or none", Example: "9 s", LeftOut: "the designation's, else no ejection charge",
		Can: Range{"0 s", "600 s"}, Usual: Range{"0 s", "30 s"}},
}

var recoveryKeys = []Key{
	{Path: "recovery", Says: "a list of devices in the order they open", LeftOut: "it falls ballistic"},
	{Path: "recovery[].device", Says: "parachute, streamer, drogue or main", Example: "streamer", LeftOut: must},
	{Path: "recovery[].name", Says: "what people call it", Example: "orange 90", LeftOut: "nothing"},
	{Path: "recovery[].trigger", Says: "ejection, apogee, apogee + 1 s, height 150 m, burnout or time 12 s", Example: "ejection", LeftOut: "ejection where the motor has a charge, else apogee"},
	{Path: "recovery[].width", Says: "of a streamer", Example: "180 mm", LeftOut: "must be given for a streamer without drag_area or descent_rate",
		Can: Range{"1 mm", "20 m"}, Usual: Range{"1 cm", "1 m"}},
	{Path: "recovery[].length", Says: "of a streamer", Example: "3 m", LeftOut: "must be given for a streamer without drag_area or descent_rate",
		Can: Range{"1 cm", "100 m"}, Usual: Range{"20 cm", "15 m"}},
	{Path: "recovery[].diameter", Says: "of a canopy, laid flat", Example: "1.1 m", LeftOut: "must be given for a canopy without drag_area or descent_rate",
		Can: Range{"1 cm", "60 m"}, Usual: Range{"10 cm", "12 m"}},
	{Path: "recovery[].drag", Says: "drag coefficient on its own area (streamer: width x length; canopy: the cloth)", Example: "0.8", LeftOut: "0.8 for a canopy, 0.15 for a streamer",
		Can: Range{"0.005", "5"}, Usual: Range{"0.03", "2.5"}},
	{Path: "recovery[].drag_area", Says: "drag coefficient times area, in place of size and drag", Example: "0.76 m2", LeftOut: "from size and drag",
		Can: Range{"1 cm2", "3000 m2"}, Usual: Range{"5 cm2", "120 m2"}},
	{Path: "recovery[].descent_rate", Says: "a catalogue's sink rate at sea level, in place of size and drag", Example: "5.5 m/s", LeftOut: "from size and drag",
		Can: Range{"0.1 m/s", "200 m/s"}, Usual: Range{"1 m/s", "50 m/s"}},
	{Path: "recovery[].opening_delay", Says: "trigger to the first pull", Example: "0.5 s", LeftOut: "0 s",
		Can: Range{"0 s", "600 s"}, Usual: Range{"0 s", "20 s"}},
	{Path: "recovery[].fill_time", Says: "first pull to fully open", Example: "0.8 s", LeftOut: "eight diameters of a canopy's way; 0 s for a streamer",
		Can: Range{"0 s", "120 s"}, Usual: Range{"0 s", "10 s"}},
	{Path: "recovery[].releases", Says: "true: earlier devices go when this one is triggered", Example: "true", LeftOut: "it adds to them"},
}

var windKeys = []Key{
	{Path: "wind", Says: "levels, a file's name, a mapping with either, or a list of winds of which each run draws one", LeftOut: must},
	{Path: "wind.levels", Says: "levels above the pad, from the ground up", LeftOut: "a file must be named"},
	{Path: "wind.levels[].height", Says: "above the pad", Example: "2 m", LeftOut: must, Can: Range{"1 cm", "40 km"}, Usual: Range{"0.5 m", "16 km"}},
	{Path: "wind.levels[].from", Says: "where it blows from, true or mag", Example: "240 deg", LeftOut: must},
	{Path: "wind.levels[].speed", Says: "mean over some minutes", Example: "9 mph", LeftOut: must, Can: Range{"0 m/s", "150 m/s"}, Usual: Range{"0 m/s", "60 m/s"}},
	{Path: "wind.file", Says: "a sounding, forecast, airport report or table (see windfall wind)", Example: "forecast.json", LeftOut: "levels must be given"},
	{Path: "wind.forecast", Says: "the same as file", Example: "forecast.json", LeftOut: "levels must be given"},
	{Path: "wind.at", Says: "when levels, or a table without a time, were observed", Example: "2026-03-14T09:30:00+01:00", LeftOut: "at the flight's when"},
	{Path: "wind.made", Says: "when a forecast was made", Example: "2026-03-13T06:00:00+01:00", LeftOut: "within the day before"},
	{Path: "wind.measured", Says: "what was measured at the pad: corrects the wind; one, a list, or an airport report's file", LeftOut: "nothing is corrected"},
	{Path: "wind.measured.height", Says: "above the pad", Example: "2 m", LeftOut: must, Can: Range{"1 cm", "40 km"}, Usual: Range{"0.5 m", "200 m"}},
	{Path: "wind.measured.from", Says: "where it blows from, true or mag", Example: "240 deg", LeftOut: must},
	{Path: "wind.measured.speed", Says: "mean over some minutes", Example: "9 mph", LeftOut: must, Can: Range{"0 m/s", "150 m/s"}, Usual: Range{"0 m/s", "40 m/s"}},
	{Path: "wind.measured.gust", Says: "strongest gust", Example: "14 mph", LeftOut: "unknown", Can: Range{"0 m/s", "150 m/s"}, Usual: Range{"0 m/s", "60 m/s"}},
	{Path: "wind.measured.at", Says: "when it was measured", Example: "2026-03-14T10:20:00+01:00", LeftOut: "at the flight's when"},
	{Path: "wind.veer", Says: "turn from 60 m to 600 m, for one level alone; clockwise in the north", Example: "15 deg", LeftOut: "15 deg",
		Can: Range{"-180 deg", "180 deg"}, Usual: Range{"-45 deg", "60 deg"}},
	{Path: "wind.roughness", Says: "roughness length of the ground", Example: "3 cm", LeftOut: "3 cm, open grassland",
		Can: Range{"0.01 mm", "5 m"}, Usual: Range{"0.1 mm", "2 m"}},
	{Path: "wind.weight", Says: "share of the runs that fly this wind, in a list of winds", Example: "2", LeftOut: "all the same"},
}

var spreadKeys = []Key{
	{Path: "spread", Says: "how much things vary from run to run, one standard deviation", LeftOut: "the defaults, or what was learned"},
	{Path: "spread.lean", Says: "rail lean, each way", Example: "1 deg", LeftOut: "1 deg", Can: Range{"0 deg", "60 deg"}, Usual: Range{"0 deg", "10 deg"}},
	{Path: "spread.impulse", Says: "total impulse", Example: "3 %", LeftOut: "3 %", Can: Range{"0 %", "100 %"}, Usual: Range{"0 %", "20 %"}},
	{Path: "spread.delay", Says: "ejection delay", Example: "10 %", LeftOut: "10 %", Can: Range{"0 %", "200 %"}, Usual: Range{"0 %", "50 %"}},
	{Path: "spread.drag", Says: "drag of the body", Example: "10 %", LeftOut: "10 %, 25 % where drag is a guess", Can: Range{"0 %", "300 %"}, Usual: Range{"0 %", "60 %"}},
	{Path: "spread.yaw_wavelength", Says: "yaw wavelength", Example: "25 %", LeftOut: "25 %", Can: Range{"0 %", "300 %"}, Usual: Range{"0 %", "100 %"}},
	{Path: "spread.mass", Says: "lift-off mass", Example: "1 %", LeftOut: "1 %", Can: Range{"0 %", "50 %"}, Usual: Range{"0 %", "15 %"}},
	{Path: "spread.device_drag", Says: "drag area of each device", Example: "15 %", LeftOut: "15 %", Can: Range{"0 %", "300 %"}, Usual: Range{"0 %", "80 %"}},
	{Path: "spread.opening_delay", Says: "opening delay and fill time", Example: "30 %", LeftOut: "30 %", Can: Range{"0 %", "300 %"}, Usual: Range{"0 %", "100 %"}},
	{Path: "spread.wind_speed", Says: "one factor on the whole wind", Example: "15 %", LeftOut: "by the kind of wind", Can: Range{"0 %", "300 %"}, Usual: Range{"0 %", "100 %"}},
	{Path: "spread.wind_direction", Says: "one turn of the whole wind", Example: "10 deg", LeftOut: "by the kind of wind", Can: Range{"0 deg", "360 deg"}, Usual: Range{"0 deg", "60 deg"}},
	{Path: "spread.wind_shape", Says: "departures with height; 100 %: 0.5 m/s and 1 m/s more a kilometre, to 2.5 m/s", Example: "100 %", LeftOut: "by the kind of wind", Can: Range{"0 %", "2000 %"}, Usual: Range{"0 %", "500 %"}},
	{Path: "outcomes", Says: "chances of how it goes, sum 1; those not listed have none", LeftOut: "the defaults, which are a guess"},
	{Path: "outcomes.nominal", Says: "as designed", Example: "0.87", LeftOut: "0"},
	{Path: "outcomes.late opening", Says: "the first device's opening delay is five times as long", Example: "0.05", LeftOut: "0"},
	{Path: "outcomes.tangled", Says: "the first device gives 10 to 40 % of its drag", Example: "0.04", LeftOut: "0"},
	{Path: "outcomes.no recovery", Says: "nothing opens", Example: "0.03", LeftOut: "0"},
	{Path: "outcomes.early opening", Says: "the first device opens at burnout", Example: "0.01", LeftOut: "0"},
	{Path: "outcomes.main at apogee", Says: "with two devices: the last opens at apogee", Example: "0.03", LeftOut: "0"},
	{Path: "parts", Says: "parts that may come off", LeftOut: "none"},
	{Path: "parts[].name", Says: "what it is", Example: "camera pod", LeftOut: must},
	{Path: "parts[].mass", Says: "of the part", Example: "70 g", LeftOut: must, Can: Range{"0.1 g", "500 kg"}, Usual: Range{"0.5 g", "30 kg"}},
	{Path: "parts[].drag_area", Says: "drag coefficient times area", Example: "50 cm2", LeftOut: "descent_rate must be given",
		Can: Range{"0.1 cm2", "3000 m2"}, Usual: Range{"0.5 cm2", "30 m2"}},
	{Path: "parts[].descent_rate", Says: "its sink rate at sea level, in place of drag_area", Example: "12 m/s", LeftOut: "drag_area must be given",
		Can: Range{"0.1 m/s", "400 m/s"}, Usual: Range{"1 m/s", "120 m/s"}},
	{Path: "parts[].sheds", Says: "a trigger, or a mapping with at or between", Example: "apogee", LeftOut: must},
	{Path: "parts[].sheds.at", Says: "the trigger it comes off at", Example: "apogee", LeftOut: "between must be given"},
	{Path: "parts[].sheds.between", Says: "two triggers: some time between them", Example: "[burnout, apogee]", LeftOut: "at must be given"},
	{Path: "parts[].chance", Says: "that it comes off at all", Example: "5 %", LeftOut: "100 %"},
}

var peopleKeys = []Key{
	{Path: "searchers", Says: "who searches; at most 24", LeftOut: "one walker from the pad, 3 km/h for 90 min"},
	{Path: "searchers[].name", Says: "each their own", Example: "east", LeftOut: must},
	{Path: "searchers[].kind", Says: "walker or drone", Example: "walker", LeftOut: "walker"},
	{Path: "searchers[].speed", Says: "while searching", Example: "3 km/h", LeftOut: must, Can: Range{"0.05 m/s", "60 m/s"}, Usual: Range{"0.3 m/s", "20 m/s"}},
	{Path: "searchers[].start", Says: "where they start and return to", Example: "39.0512, -5.5831", LeftOut: "the pad"},
	{Path: "searchers[].available", Says: "how long they have", Example: "90 min", LeftOut: must, Can: Range{"1 s", "168 h"}, Usual: Range{"5 min", "12 h"}},
	{Path: "searchers[].joins", Says: "how long after the beginning they come", Example: "20 min", LeftOut: "at once", Can: Range{"0 s", "168 h"}, Usual: Range{"0 s", "12 h"}},
	{Path: "searchers[].height", Says: "drone: above the ground", Example: "30 m", LeftOut: "must be given for a drone", Can: Range{"1 m", "5 km"}, Usual: Range{"3 m", "120 m"}},
	{Path: "searchers[].camera", Says: "drone: its camera, looking down", LeftOut: "must be given for a drone"},
	{Path: "searchers[].camera.field_of_view", Says: "across the picture", Example: "72 deg", LeftOut: must, Can: Range{"0.5 deg", "179 deg"}, Usual: Range{"10 deg", "120 deg"}},
	{Path: "searchers[].camera.pixels", Says: "across the picture", Example: "3840", LeftOut: must, Can: Range{"16", "200000"}, Usual: Range{"480", "20000"}},
	{Path: "searchers[].sortie", Says: "drone: flying time of one battery", Example: "18 min", LeftOut: "must be given for a drone", Can: Range{"10 s", "48 h"}, Usual: Range{"3 min", "2 h"}},
	{Path: "searchers[].recharge", Says: "drone: between two sorties", Example: "4 min", LeftOut: "0 s", Can: Range{"0 s", "48 h"}, Usual: Range{"0 s", "3 h"}},
	{Path: "searchers[].reach", Says: "drone: farthest from its start", Example: "500 m", LeftOut: "no limit", Can: Range{"1 m", "200 km"}, Usual: Range{"50 m", "10 km"}},
	{Path: "searchers[].max_wind", Says: "drone: strongest wind it flies in", Example: "10 m/s", LeftOut: "no limit", Can: Range{"0.1 m/s", "60 m/s"}, Usual: Range{"3 m/s", "25 m/s"}},
	{Path: "target", Says: "what is looked for", LeftOut: "the vehicle's size, no colour"},
	{Path: "target.size", Says: "length by width", Example: "1.65 m by 76 mm", LeftOut: "the vehicle's"},
	{Path: "target.colour", Says: "its strongest colour", Example: "lime", LeftOut: "unknown"},
	{Path: "target.seen_at", Says: "how far off it was seen in a one-minute test, by cover", Example: "{short grass: 40 m}", LeftOut: "defaults by size and cover"},
	{Path: "target.seen_at[]", Says: "in one cover", Example: "40 m", LeftOut: "the default, scaled by those measured", Can: Range{"0.1 m", "1500 m"}, Usual: Range{"1 m", "300 m"}},
	{Path: "target.heard_at", Says: "how far off its sounder is heard", Example: "60 m", LeftOut: "no sounder", Can: Range{"0.1 m", "3 km"}, Usual: Range{"1 m", "500 m"}},
}

var byPath = func() map[string]*Key {
	m := make(map[string]*Key, len(Keys))
	for i := range Keys {
		m[Keys[i].Path] = &Keys[i]
	}
	return m
}()

var index = regexp.MustCompile(`\[\d+\]`)

// KeyAt returns the key that a path in a file, such as wind[1].speed, is one
// of; nil where there is none. Forms that are short for another, such as
// levels given as the wind itself, are the same keys.
func KeyAt(path string) *Key {
	p := index.ReplaceAllString(path, "[]")
	if rest, ok := strings.CutPrefix(p, "wind[]."); ok {
		switch rest {
		case "height", "from", "speed":
			p = "wind.levels[]." + rest
		default:
			p = "wind." + rest
		}
	}
	p = strings.Replace(p, "wind.measured[]", "wind.measured", 1)
	if rest, ok := strings.CutPrefix(p, "recovery."); ok {
		p = "recovery[]." + rest
	}
	if strings.HasPrefix(p, "target.seen_at.") {
		p = "target.seen_at[]"
	}
	return byPath[p]
}

// known returns the names of the keys that may stand in the mapping at a
// path, "" for the whole file.
func known(path string) (names []string) {
	if path != "" {
		path += "."
	}
	for _, k := range Keys {
		if rest, ok := strings.CutPrefix(k.Path, path); ok && !strings.ContainsAny(rest, ".[") {
			names = append(names, rest)
		}
	}
	return names
}

// beyond says how a value lies outside the range, "" where it does not. It is
// in the unit that parse gives.
func (r Range) beyond(v float64, parse func(string) (float64, error)) string {
	const slack = 1e-9 // 500 mm is 0.5 m but for rounding
	if least, err := parse(r[0]); err == nil && v < least-slack*math.Abs(least) {
		return "below " + r[0]
	}
	if most, err := parse(r[1]); err == nil && v > most+slack*math.Abs(most) {
		return "above " + r[1]
	}
	return ""
}

// hold fails where a value cannot be, and asks where it is unusual.
func (d *decoder) hold(n *node, v float64, parse func(string) (float64, error)) bool {
	k := KeyAt(n.path)
	if k == nil {
		return true
	}
	if out := k.Can.beyond(v, parse); out != "" {
		d.fail(n, "%q cannot be: it is %s; write %s, and check the unit", clip(n.text), out, k.Can)
		return false
	}
	if out := k.Usual.beyond(v, parse); out != "" {
		d.ask(n, "%q is unusual: %s is common; check the number and its unit", clip(n.text), k.Usual)
	}
	return true
}

// clip keeps a message to one line that can be read.
func clip(s string) string {
	const most = 60
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "..."
	}
	return s
}

// String is the range as a page shows it.
func (r Range) String() string {
	if r == (Range{}) {
		return ""
	}
	return r[0] + " to " + r[1]
}
