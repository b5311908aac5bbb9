//go:build unix

package main

import "strings"

// flightText is a change to the bench's flight file.
type flightText struct {
	old, new string
	status   int
	says     string
	args     string // empty: predict
}

var badFlightTexts = []flightText{
	// slips of unit that gave a map without a word
	{"diameter: 60 cm", "diameter: 1100 m", 2, `recovery[0].diameter "1100 m" cannot be`, ""},
	{"diameter: 60 cm", "diameter: 100 km", 2, `recovery[0].diameter "100 km" cannot be`, ""},
	{"device: parachute, trigger: ejection, diameter: 60 cm", "device: streamer, trigger: ejection, width: 220 m, length: 4 m", 2, `recovery[0].width "220 m" cannot be`, ""},
	{"mass: 40 g", "mass: 65 kg", 2, `parts[0].mass "65 kg" is no less than the whole vehicle`, ""},
	{"propellant: 62 g", "propellant: 0 g", 2, `motor.propellant "0 g" cannot be`, ""},
	{"roughness: 3 cm", "veer: 720 deg", 2, `wind.veer "720 deg" cannot be`, ""},
	{"crop: 8 m", "crop: 8 km", 2, `target.seen_at.crop "8 km" cannot be`, ""},
	{"when: 2026", "when: 1826", 2, `not in the years 1950 to 2100`, ""},
	{"thrust: motor.csv", "impulse: 208 kN s", 2, `motor.impulse "208 kN s" cannot be`, ""},
	{"speed: 3 km/h", "speed: 500 km/h", 2, `searchers[0].speed "500 km/h" cannot be`, "search flight.yaml"},
	{"mass: 600 g", "mass: 600", 2, `vehicle.mass "600" has no unit`, ""},
	{"mass: 600 g", "mass: 600 m", 2, `is a length, not a mass`, ""},
	{"mass: 600 g", "mass: -600 g", 2, `must be greater than zero`, ""},
	// improbable: flown, and asked about
	{"diameter: 60 cm", "diameter: 20 m", 0, `recovery[0].diameter "20 m" is unusual`, ""},
	{"length: 1.1 m", "length: 21 m", 0, `is unusual`, ""},
	{"propellant: 62 g", "propellant: 25 g", 0, `motor.propellant "25 g" is little for`, ""},
	{"propellant: 62 g", "propellant: 9 g", 2, `motor.propellant "9 g" cannot give`, ""},
	// words and shape
	{"flight: bench-01", "flight: ../../x", 2, `flight "../../x" is not an id`, ""},
	{"flight: bench-01", "flight: Bench 1", 2, `is not an id`, ""},
	{"flight: bench-01", "fligth: bench-01", 2, `did you mean flight`, ""},
	{"when: 2026-04-18T11:20:00+02:00", "when: tomorrow", 2, `is not a time with its zone`, ""},
	{"when: 2026-04-18T11:20:00+02:00", "when: 2026-04-18T11:20:00", 2, `is not a time with its zone`, ""},
	{"when: 2026-04-18T11:20:00+02:00", "when: 2026-02-30T11:20:00Z", 2, `is not a time`, ""},
	{"pad: 41.9050, -4.9210", "pad: nowhere", 2, `is not a place`, ""},
	{"pad: 41.9050, -4.9210", "pad: 141.9050, -4.9210", 2, `site.pad`, ""},
	{"pad: 41.9050, -4.9210", "pad: [1, 2, 3]", 2, `must be a place`, ""},
	{"pad: 41.9050, -4.9210", "", 2, `site.pad is missing`, ""},
	{"field: field.geojson", "field: none.geojson", 2, `no such file`, ""},
	{"field: field.geojson", "field: .", 2, `is a folder; name a file`, ""},
	{"thrust: motor.csv", "thrust: /dev/zero", 2, `is not a file that can be kept`, ""},
	{"drag: drag.csv", "drag: 0.5\n  drag: 0.6", 2, `is written twice`, ""},
	{"rail: {", "rail: [", 2, `is not valid YAML here`, ""},
	{"rail: {length: 1.8 m, lean: 3 deg, toward: 190 deg}", "rail: {length: 1.8 m, lean: 3 deg}", 2, `rail.toward is missing`, ""},
	{"toward: 190 deg", "toward: up", 2, `rail.toward`, ""},
	{"toward: 190 deg", "toward: 361 deg", 2, `is not a direction`, ""},
	{"device: parachute", "device: parachut", 2, `did you mean parachute`, ""},
	{"trigger: ejection", "trigger: someday", 2, `is not a trigger`, ""},
	{"trigger: ejection", "trigger: height -5 m", 2, `must not be negative`, ""},
	{"trigger: ejection", "trigger: height 150", 2, `has no unit`, ""},
	{"nominal: 0.9, tangled: 0.1", "nominal: 0.9, tangled: 0.2", 2, `make them sum to 1`, ""},
	{"nominal: 0.9, tangled: 0.1", "nominal: 0.9, tangeld: 0.1", 2, `did you mean tangled`, ""},
	{"nominal: 0.9, tangled: 0.1", "nominal: 1.9, tangled: 0.1", 2, `is above one`, ""},
	{"kind: walker", "kind: runner", 2, `is not a kind of searcher`, ""},
	{"kind: walker", "kind: walker, height: 3 m", 2, `is for drones`, ""},
	{"name: scout", "name: east", 2, `has the name "east" of another searcher`, ""},
	{"size: 1.1 m by 54 mm", "size: big", 2, `is not a size`, ""},
	{"at: 2026-04-18T11:00:00+02:00", "at: noon", 2, `is not a time`, ""},
	{"gust: 7 m/s", "gust: 2 m/s", 2, `is below the mean speed`, ""},
	{"height: 600 m, from: 225 deg", "height: 1 m, from: 225 deg", 2, `is not above the level before`, ""},
	{"from: 225 deg", "from: 225", 2, `has no unit`, ""},
	{"between: [burnout, apogee]", "between: [burnout]", 2, `must be two triggers`, ""},
	{"flight: bench-01", "flight: bench-01\n--- \nflight: two", 2, `a second document starts here`, ""},
	{"flight: bench-01", "flight: bench-01\x07", 2, `control character (0x07)`, ""},
	{"flight: bench-01", "x: " + strings.Repeat("[", 1000), 2, `opens more than 40 brackets`, ""},
	{"flight: bench-01", "flight: bench-01\nx: &a [*a, *a]", 2, `nested too deeply`, ""},
	{"recovery:\n", "recovery:\n" + strings.Repeat("  - {device: parachute, trigger: apogee, descent_rate: 5 m/s}\n", 3000), 2, `at most 12`, ""},
	{"searchers:\n", "searchers:\n" + manySearchers(60), 2, `at most 24`, "search flight.yaml"},
	{"available: 30 min", "available: 30", 2, `has no unit`, "search flight.yaml"},
	{`start: "41.9050, -4.9210"`, `start: "41.90536, -4.9125"`, 2, `no-go`, "search flight.yaml --runs 300"},
}

func manySearchers(n int) string {
	var b strings.Builder
	for i := range n {
		b.WriteString("  - {name: w" + strings.Repeat("i", i+1) + ", speed: 3 km/h, available: 30 min}\n")
	}
	return b.String()
}

const predictBench = "predict flight.yaml --runs 200"

func one1(name, file, text, args string, says string) spoilt {
	return spoilt{name, map[string]string{file: text}, args, 2, says}
}

var badFiles = []spoilt{
	// tables beside the flight file
	one1("thrust in UTF-16", "motor.csv", "\xff\xfet\x00i\x00", predictBench, "motor.csv:1: is in UTF-16; save it as UTF-8"),
	one1("thrust as archive", "motor.csv", "PK\x03\x04zip", predictBench, "is an archive; unpack it first"),
	one1("thrust empty", "motor.csv", "", predictBench, "motor.csv"),
	one1("thrust head alone", "motor.csv", "time_s,thrust_n\n", predictBench, "has no rows; write time_s,thrust_n"),
	one1("thrust other head", "motor.csv", "a,b\n0,1\n", predictBench, "lacks a column; write time_s,thrust_n"),
	one1("thrust back in time", "motor.csv", "time_s,thrust_n\n1,5\n0.5,5\n", predictBench, "does not rise above"),
	one1("thrust word", "motor.csv", "time_s,thrust_n\n0,5\n1,much\n", predictBench, `motor.csv:3: thrust_n "much"`),
	one1("thrust below zero", "motor.csv", "time_s,thrust_n\n0,-5\n1,5\n", predictBench, `thrust_n "-5"`),
	one1("thrust of a million", "motor.csv", "time_s,thrust_n\n0,1e6\n1,1e6\n", predictBench, "adds up to"),
	one1("thrust too weak", "motor.csv", "time_s,thrust_n\n0,1\n1,1\n", predictBench, "motor"),
	one1("thrust NaN", "motor.csv", "time_s,thrust_n\n0,NaN\n1,1\n", predictBench, "NaN"),
	one1("drag falls", "drag.csv", "mach,cd\n0.5,0.5\n0.2,0.6\n", predictBench, "does not rise above"),
	one1("drag short row", "drag.csv", "mach,cd\n0.5\n", predictBench, "has no cd"),
	// drawn ground
	one1("field not JSON", "field.geojson", "{", predictBench, "field.geojson:1: not GeoJSON"),
	one1("field empty", "field.geojson", "", predictBench, "field.geojson"),
	one1("field other type", "field.geojson", `{"type":"Topology"}`, predictBench, "field.geojson"),
	one1("field of points", "field.geojson", shape("Point", "[-4.92,41.9]", "{}"), predictBench, "is not an area; draw a Polygon"),
	one1("field swapped", "field.geojson", shape("Polygon", "[[[41.9,-4.92],[41.91,-4.92],[41.91,-4.91],[41.9,-4.92]]]", "{}"), predictBench, "longitude first"),
	one1("field crosses itself", "field.geojson", shape("Polygon", "[[[-4.93,41.9],[-4.91,41.91],[-4.91,41.9],[-4.93,41.91],[-4.93,41.9]]]", "{}"), predictBench, "field.geojson"),
	one1("field off the globe", "field.geojson", shape("Polygon", "[[[-4.93,241.9],[-4.91,41.91],[-4.91,41.9],[-4.93,241.9]]]", "{}"), predictBench, "is not on the globe"),
	one1("ground without kind", "ground.geojson", shape("Polygon", ring, "{}"), predictBench, `has no "kind"; write cover`),
	one1("ground of another kind", "ground.geojson", shape("Polygon", ring, `{"kind":"lake"}`), predictBench, `kind "lake" is not known; write cover`),
	one1("cover without word", "ground.geojson", shape("Polygon", ring, `{"kind":"cover"}`), predictBench, `has no "cover"`),
	one1("no-go for cows", "ground.geojson", shape("Polygon", ring, `{"kind":"no-go","for":"cows"}`), predictBench, `for "cows" is not known; write all, walkers or drones`),
	one1("line without width", "ground.geojson", shape("LineString", "[[-4.93,41.9],[-4.91,41.91]]", `{"kind":"line","name":"rail"}`), predictBench, `has no "width"`),
	one1("line of 12", "ground.geojson", shape("LineString", "[[-4.93,41.9],[-4.91,41.91]]", `{"kind":"line","name":"rail","width":"12"}`), predictBench, `has no unit`),
	one1("gate without wall", "ground.geojson", shape("Point", "[-4.93,41.9]", `{"kind":"crossing"}`), predictBench, "no barrier is drawn"),
	one1("20 000 covers", "ground.geojson", manyCovers(20000), predictBench, "draw at most 2000"),
	one1("nested geometry", "ground.geojson", `{"type":"FeatureCollection","features":[`+strings.Repeat("[", 20000), predictBench, "ground.geojson"),
	// terrain
	one1("terrain of words", "hill.asc", "a hill\n", predictBench, `hill.asc:1: "a" is no part of an ESRI ASCII grid`),
	one1("terrain cut short", "hill.asc", "ncols 2\nnrows 2\nxllcorner -5\nyllcorner 41\ncellsize 1\n1 2 3\n", predictBench, "the file ends where"),
	one1("terrain elsewhere", "hill.asc", "ncols 2\nnrows 2\nxllcorner 5\nyllcorner 41\ncellsize 1\n1 2 3 4\n", predictBench, "hill.asc"),
	one1("terrain too high", "hill.asc", "ncols 2\nnrows 2\nxllcorner -5\nyllcorner 41\ncellsize 1\n1 2 3 99999\n", predictBench, "is not on this planet"),
	one1("terrain too large", "hill.asc", "ncols 900000\nnrows 900000\nxllcorner -5\nyllcorner 41\ncellsize 1\n1\n", predictBench, "are too many"),
	one1("terrain in metres", "hill.asc", "ncols 2\nnrows 2\nxllcorner 408000\nyllcorner 4641000\ncellsize 10\n1 2 3 4\n", predictBench, "is not in degrees"),
	// wind
	one1("wind empty", "levels.csv", "", "wind levels.csv", "levels.csv:1: is empty"),
	one1("wind of zeros", "levels.csv", strings.Repeat("\x00", 64), "wind levels.csv", "is not text"),
	one1("wind page", "levels.csv", "<html>", "wind levels.csv", "is a web page, not wind"),
	one1("wind head", "levels.csv", "a,b,c\n1,2,3\n", "wind levels.csv", "is no wind file known here"),
	one1("wind hurricane", "levels.csv", "height_m,from_deg,speed_mps\n2,200,350\n", "wind levels.csv", "beyond any wind on Earth"),
	one1("wind backwards", "levels.csv", "height_m,from_deg,speed_mps\n2,400,3\n", "wind levels.csv", "is no bearing"),
	one1("wind minus", "levels.csv", "height_m,from_deg,speed_mps\n2,200,-3\n", "wind levels.csv", "is below zero"),
	one1("wind columns", "levels.csv", "height_m,from_deg,speed_mps\n2,200\n", "wind levels.csv", "2 columns where the heading has 3"),
	one1("wind words", "levels.csv", "height_m,from_deg,speed_mps\nlow,200,3\n", "wind levels.csv", "levels.csv:2"),
	one1("report of nothing", "report.txt", "METAR LEZZ 180900Z /////KT 9999=\n", "wind report.txt", "report.txt"),
	one1("forecast cut", "forecast.json", `{"hourly": {"time": ["2026-04-18T10:00"`, "wind forecast.json", "ends in the middle"),
	one1("forecast deep", "forecast.json", strings.Repeat(`{"a":`, 200)+"1", "wind forecast.json", "nested deeper than"),
	one1("forecast of zeros", "forecast.json", "[0"+strings.Repeat(",0", 5<<20)+"]", "wind forecast.json", "more than 1500000 values"),
	one1("forecast without units", "forecast.json", `{"elevation":0,"hourly":{"time":["2026-04-18T10:00"],"wind_speed_10m":[20],"wind_direction_10m":[0]}}`, "wind forecast.json", "hourly_units.wind_speed_10m is missing"),
	one1("other JSON", "forecast.json", `{"a":1}`, "wind forecast.json", "neither profiles"),
	// tracks
	one1("track not XML", "walk.gpx", "a walk", "searched flight.yaml walk.gpx --by east", "walk.gpx"),
	one1("track bomb", "walk.gpx", `<!DOCTYPE g [<!ENTITY a "aa">]><gpx/>`, "searched flight.yaml walk.gpx --by east", "a document type declaration"),
	one1("track deep", "walk.gpx", strings.Repeat("<a>", 60), "searched flight.yaml walk.gpx --by east", "nested more than"),
	one1("track empty", "walk.gpx", `<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"></gpx>`, "searched flight.yaml walk.gpx --by east", "holds no track points"),
	one1("track of a route", "walk.gpx", `<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><rte><rtept lat="41.9" lon="-4.9"/></rte></gpx>`, "searched flight.yaml walk.gpx --by east", "a planned route"),
	one1("track off the globe", "walk.gpx", `<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg><trkpt lat="950" lon="-4.9"/><trkpt lat="950" lon="-4.9"/></trkseg></trk></gpx>`, "searched flight.yaml walk.gpx --by east", "is no place"),
	one1("track far away", "walk.gpx", `<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg><trkpt lat="-33.9" lon="18.4"/><trkpt lat="-33.901" lon="18.4"/></trkseg></trk></gpx>`, "searched flight.yaml walk.gpx --by east", "it is of another place"),
	// places to stand
	one1("no candidates", "places.txt", "", "spotters flight.yaml --candidates places.txt", "places.txt"),
	one1("a candidate nowhere", "places.txt", "gate, somewhere\n", "spotters flight.yaml --candidates places.txt", "places.txt:1"),
	// imports
	one1("import of no id", "in.csv", "flight,kind,when,lat,lon\n../../x,find,2026-03-14T10:30:00Z,1,2\n", "log --import in.csv", `in.csv:2: flight "../../x" is not an id`),
	one1("import off the globe", "in.csv", "flight,kind,when,lat,lon\na,find,2026-03-14T10:30:00Z,950,2\n", "log --import in.csv", `in.csv:2: lat "950"`),
	one1("import of no place", "in.csv", "flight,kind,when\na,find,2026-03-14T10:30:00Z\n", "log --import in.csv", "in.csv:2: a find without a place"),
	one1("import of no way", "in.csv", "flight,kind,when,body\na,track,2026-03-14T10:30:00Z,{}\n", "log --import in.csv", "in.csv:2: a track without a way"),
	one1("import bearing north", "in.csv", "flight,kind,when,body\na,sighting,2026-03-14T10:30:00Z,\"{\"\"bearing_deg\"\":\"\"north\"\"}\"\n", "log --import in.csv", "in.csv:2"),
	one1("import half good", "in.csv", "flight,kind,when,lat,lon\na,find,2026-03-14T10:30:00Z,1,2\na,find,2026-03-14T10:31:00Z,1,x\n", "log --import in.csv", "in.csv:3"),
	one1("import no head", "in.csv", "", "log --import in.csv", "no header line"),
	one1("import no columns", "in.csv", "a,b\n", "log --import in.csv", "is not known; the columns are"),
	one1("import of words", "in.geojson", "[]", "log --import in.geojson", "not a GeoJSON FeatureCollection; write one"),
	one1("import of nothing known", "in.txt", "x", "log --import in.txt", "in.txt"),
}

const ring = "[[[-4.93,41.9],[-4.91,41.9],[-4.91,41.91],[-4.93,41.9]]]"

func shape(kind, coordinates, properties string) string {
	return `{"type":"FeatureCollection","features":[{"type":"Feature","properties":` + properties + `,"geometry":{"type":"` + kind + `","coordinates":` + coordinates + `}}]}`
}

func manyCovers(n int) string {
	one := `{"type":"Feature","properties":{"kind":"cover","cover":"crop"},"geometry":{"type":"Polygon","coordinates":` + ring + `}}`
	return `{"type":"FeatureCollection","features":[` + strings.Repeat(one+",", n-1) + one + `]}`
}

func cmd2(args, says string) spoilt { return spoilt{args, nil, args, 2, says} }

var badCommands = []spoilt{
	cmd2("predct flight.yaml", `unknown command "predct"; did you mean predict`),
	cmd2("predict", "needs a flight file"),
	cmd2("predict a b", "takes one argument"),
	cmd2("predict none.yaml", "no such file"),
	cmd2("predict /dev/null", "is no flight file"),
	cmd2("predict flight.yaml --sed 3", `unknown flag "--sed"`),
	cmd2("predict flight.yaml --seed", "needs a value"),
	cmd2("predict flight.yaml --seed=-1", "seed"),
	cmd2("predict flight.yaml --seed x", "seed"),
	cmd2("predict flight.yaml --runs 5", "write 100 to"),
	cmd2("predict flight.yaml --runs 5000001", "write 100 to"),
	cmd2("predict flight.yaml --runs many", "is not a number of runs"),
	cmd2("predict flight.yaml --beyond 500", "has no unit"),
	cmd2("predict flight.yaml --beyond '-5 m'", "--beyond"),
	cmd2("predict flight.yaml --landings .", "is a folder; name a file"),
	cmd2("predict flight.yaml --landings no/such/x.csv", "there is no folder"),
	cmd2("predict flight.yaml --out flight.yaml", "is a file, not a folder"),
	cmd2("locate flight.yaml --out flight.yaml/x", "is a file, not a folder"),
	cmd2("predict flight.yaml --logbook flight.yaml", "flight.yaml"),
	cmd2("predict flight.yaml --logbook .", "logbook"),
	cmd2("compare flight.yaml", "--"),
	cmd2("compare flight.yaml --hours 25..30", "hours"),
	cmd2("compare flight.yaml --set motor.delay", "--set"),
	cmd2("compare flight.yaml --set motor.dlay=6s", "did you mean"),
	cmd2("compare flight.yaml --set 'motor.delay=6'", "has no unit"),
	cmd2("compare flight.yaml --set 'motor.delay=6 s' --runs 1", "runs"),
	cmd2("compare flight.yaml --set 'motor.delay=6 s' --max-touchdown 7", "has no unit"),
	cmd2("spotters flight.yaml", "--candidates"),
	cmd2("spotters flight.yaml --candidates none.txt", "none.txt"),
	cmd2("spotters flight.yaml --candidates places.txt -n 0", "-n"),
	cmd2("spotters flight.yaml --candidates places.txt --every 5", "has no unit"),
	cmd2("saw flight.yaml", "nothing to log"),
	cmd2("saw flight.yaml --bearing 47", "needs from"),
	cmd2("saw flight.yaml --from nowhere --bearing 47", "is not a place"),
	cmd2("saw flight.yaml --from 41.9,-4.92 --bearing 400", "is not a direction"),
	cmd2("saw flight.yaml --from 41.9,-4.92 --bearing up", "is not a direction"),
	cmd2("saw flight.yaml --event landing --at 92", "has no unit"),
	cmd2("saw flight.yaml --event landing --at -3s", "seconds after ignition"),
	cmd2("saw flight.yaml --event splash --at 92s", "splash"),
	cmd2("saw flight.yaml --event landing --at 11:10", "is before the ignition"),
	cmd2("saw flight.yaml --event landing --at 92s --time-sd 0s", "is not above zero"),
	cmd2("saw flight.yaml --height 300 --event apogee", "has no unit"),
	cmd2("saw flight.yaml --nothing-in none.geojson --sure 0.8", "none.geojson"),
	cmd2("saw flight.yaml --event landing --at 92s --sure 3", "sure"),
	cmd2("saw flight.yaml --looked sideways", "sideways"),
	cmd2("saw flight.yaml --amend 99 --at 3s", "99"),
	cmd2("saw flight.yaml --withdraw 99", "99"),
	cmd2("searched flight.yaml", "needs a flight file and a track"),
	cmd2("searched flight.yaml none.gpx", "no such file"),
	cmd2("searched flight.yaml walk.gpx --by east --detection magic", "--detection"),
	cmd2("search flight.yaml --pattern spiral", "--pattern"),
	cmd2("search flight.yaml --begin soon", "--begin"),
	cmd2("search flight.yaml --begin 23:30", "dark"),
	cmd2("search flight.yaml --leaves east", "--replan-at"),
	cmd2("search flight.yaml --replan-at 35", "has no unit"),
	cmd2("search flight.yaml --replan-at 5min --leaves nobody --runs 300", "nobody"),
	cmd2("search flight.yaml --replan-at 5min --late east --runs 300", "--late"),
	cmd2("search flight.yaml --replan-at 5min --joins nobody --runs 300", "nobody"),
	cmd2("search flight.yaml --detection magic", "--detection"),
	cmd2("export flight.yaml --for nobody", "nobody"),
	cmd2("export flight.yaml --format doc", "--format"),
	cmd2("export flight.yaml --grid moon", "--grid"),
	cmd2("export flight.yaml --paper a9", "--paper"),
	cmd2("export flight.yaml --pace 75", "has no unit"),
	cmd2("export flight.yaml --qr maze", "--qr"),
	cmd2("found flight.yaml", "needs a flight file and a place"),
	cmd2("found flight.yaml nowhere", "is not a place"),
	cmd2("found flight.yaml 91,0", "91"),
	cmd2("found flight.yaml 0,0 --no-plan", "--anyway"),
	cmd2("found flight.yaml 41.91,-4.915 --part wing --no-plan", "wing"),
	cmd2("found flight.yaml 41.91,-4.915 --outcome lost --no-plan", "lost"),
	cmd2("found flight.yaml 41.91,-4.915 --instead-of 99 --no-plan", "99"),
	cmd2("learn flight.yaml x", "learn"),
	cmd2("learn --apply none.yaml", "none.yaml"),
	cmd2("log --kind fund", "fund"),
	cmd2("log --since yesterday", "--since"),
	cmd2("log --withdraw 99", "99"),
	cmd2("log --amend 1", "--set"),
	cmd2("log --amend 1 --set x", "--set"),
	cmd2("log --extract 99 --into x", "99"),
	cmd2("log --import none.csv", "none.csv"),
	cmd2("log --csv --geojson", "--csv"),
	cmd2("log nosuch-flight --backup .", "backup"),
	cmd2("wind", "needs"),
	cmd2("wind none.csv", "none.csv"),
	cmd2("wind levels.csv --elevation 412", "has no unit"),
	cmd2("wind levels.csv --when noon", "--when"),
	cmd2("wind levels.csv --flight none.yaml", "none.yaml"),
	cmd2("new .", "is not empty"),
	cmd2("new flight.yaml", "flight.yaml"),
	cmd2("new x --pad nowhere", "is not a place"),
	cmd2("new x --units feet", "write metric or imperial"),
	cmd2("help nothing", "unknown command"),
	cmd2("completion tcsh", "did you mean"),
	cmd2("version 2", "takes no arguments"),
}
