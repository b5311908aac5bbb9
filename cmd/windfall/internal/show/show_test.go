package show

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/report"
	"windfall/cmd/windfall/internal/situation"
	"windfall/drift/compare"
	"windfall/drift/learn"
	"windfall/drift/logbook"
	"windfall/drift/wind/sources"
	"windfall/geo"
	"windfall/geo/mapfile"
)

// document reads a JSON document as the commands would have made it.
func document[T any](t *testing.T, text string) *T {
	t.Helper()
	v := new(T)
	require.NoError(t, json.Unmarshal([]byte(text), v))
	return v
}

func printed(t *testing.T, show func(io.Writer) error) string {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, show(&out))
	assert.Error(t, show(full{}), "a disk that is full is said")
	return out.String()
}

// full is a disk that takes nothing more.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no space left") }

const areas = `"ellipses":[{"probability":0.5},{"probability":0.9,"semi_major_m":90,"semi_minor_m":30,"azimuth_deg":7}],
"areas":[{"probability":0.5,"area_m2":4000},{"probability":0.9,"area_m2":25000}]`

const mapText = `{"flight":"heron-01","seed":1,"runs":2000,"effective_runs":1500,
"nominal":{"apogee_m":597,"landing_s":80,"ejection_s":8.5,"ejection_mps":21,"landing":{"east_m":0,"north_m":0}},
"landing":{"mean":{"lat":41.91,"lon":-4.92,"east_m":30,"north_m":-40},"mean_se":{"east_m":3,"north_m":4},` + areas + `},
"outcomes":[{"name":"nominal","probability":0.9,"se":0.01,"mean":{"east_m":100,"north_m":0}},{"name":"tangled","probability":0.1,"se":0.01}],
"places":[{"name":"field","kind":"field","probability":0.8,"se":0.02},{"name":"pond","kind":"no-go","probability":0},
 {"name":"road","kind":"line","probability":0.1,"se":0.01,"outcomes":[{"name":"tangled","probability":0.04}]}],
"parts":[{"name":"pod","chance":0.05,"landing":{"mean":{"east_m":0,"north_m":90},` + areas + `}},{"name":"fin","chance":0.05}],
"sensitivity":[{"name":"wind speed","share":0.7},{"name":"mass","share":0.001}],
"rules":[{"within":true},{"within":false}],
"sun":{"sunset":"2026-05-02T21:19:00+02:00","civil_dusk":"2026-05-02T21:49:00+02:00"},"light":"daylight",
"prior":{"landing":{` + areas + `},"outcomes":[{"name":"nominal","probability":0.87},{"name":"tangled","probability":0.13}]},
"sightings":[{"id":1,"what":"Rui: bearing 80 deg","mistake":0.04,"moved_most":true,"area_without_m2":9000},
 {"id":2,"what":"Ana: bearing 90 deg","mistake":0.9,"disagrees":true}],
"changes":[{"name":"apogee_m","before":600,"before_sd":20,"after":580,"after_sd":9}],
"learned":{"id":1,"finds":2,"used":["learned wind speed: x 1.1"]},
"assumptions":["rail: 1 m"],"cautions":["look"],"files":["out/landing.kml"]}`

// What a person does next is on the first screen.
func TestSummary(t *testing.T) {
	r := document[situation.Summary](t, mapText)
	out := printed(t, func(w io.Writer) error { return Summary(w, r) })
	for _, line := range []string{
		"heron-01: where it came down\n  go to           30TUM4076341566   41.910000, -4.920000\n",
		"  90 % within     2.5 ha, about 180 by 60 m, long toward 007\n",
		"  on our field    80 %\n  road            10 %\n  in no run       pond (each below 0.2 %)\n", // the rule of three: 3/1500
		"    2  Ana: bearing 90 deg: DISAGREES with the rest",
		"  how it went     nominal 90 % (before 87), tangled 10 % (before 13)\n",
		"\nfrom the logbook: learned wind speed: x 1.1\n\nassumed: rail: 1 m\n\ncaution: look\n\nwrote: out/landing.kml\n",
	} {
		assert.Contains(t, out, line)
	}
	r.Prior, r.RulesNote = nil, "not permission"
	out = printed(t, func(w io.Writer) error { return Summary(w, r) })
	for _, line := range []string{"heron-01: where it will come down\n", "  first device out at 21 m/s through the air\n",
		"  tangled          10.0 %  in no run\n", "spread by: wind speed 70 %\n", "within 1 of 2 figures of the codes", "not permission"} {
		assert.Contains(t, out, line)
	}
	var lines int
	for range strings.Lines(out[:strings.Index(out, "\nfrom the logbook")]) {
		lines++
	}
	assert.LessOrEqual(t, lines, 24)
}

func TestDetail(t *testing.T) {
	r := document[situation.Summary](t, mapText)
	r.RulesNote = "not permission"
	out := printed(t, func(w io.Writer) error { return Detail(w, r) })
	for _, line := range []string{
		"flight heron-01, 2000 runs, seed 1\n",
		"  ejection          8.5 s\n  first device out  at 21.0 m/s through the air\n",
		"  middle            50 m from the pad on bearing 143, known to 5.0 m\n", // 3-4-5
		"  90 % in           2.5 ha     ellipse 90 by 30 m half axes (+- 0.0, 0.0), long axis toward 007\n",
		"on the pad\n",
		"  tangled            10.0 % (+- 1.0)  in no run\n",
		"  pond                       none of 1500 runs: below 0.2 %\n", // the rule of three: 3/1500
		"  road                      10.0 % (+- 1.0)  of which tangled 4 %\n",
		"  wind speed                70 %\n",

		"  lands in daylight; sunset 21:19, end of civil twilight 21:49\n",
		"  90 % in           2.5 ha before, 2.5 ha after\n",
		"  nominal            87.0 % before,  90.0 % after\n",
		"       moved 0 % of the chance; without it 90 % in 9000 m2; a mistake: 4.0 % (+- 0.0)  moved the map most\n",
		"DISAGREES with the rest\n",
		"pod, should it come off (5 %): 90 m from the pad on bearing 000, 90 % in 2.5 ha\n",
		"fin: no flight lasted until it could come off\n",
		"\nfrom the logbook: learned wind speed: x 1.1\n\nassumed: rail: 1 m\n\ncaution: look\n\nwrote: out/landing.kml\n",
	} {
		assert.Contains(t, out, line)
	}
	assert.NotContains(t, out, "mass")
	var again situation.Summary
	var text bytes.Buffer
	require.NoError(t, JSON(&text, r))
	require.NoError(t, json.Unmarshal(text.Bytes(), &again))
	assert.Equal(t, r, &again)
	assert.ErrorContains(t, JSON(io.Discard, math.NaN()), "please report this")
}

func TestPlan(t *testing.T) {
	r := document[situation.Summary](t, mapText)
	require.NoError(t, json.Unmarshal([]byte(`{"plan":{"minutes":90,"probability_of_success":0.81,"upper_bound":0.88,
"mean_minutes_if_found":31,"left_after":0.19,"outside_map":0.004,"enough":{"minutes":41,"pos":0.79},
"searchers":[{"name":"east","kind":"walker"},{"name":"west","kind":"walker","legs":[{"n":1,"kind":"search",
"to":{"east_m":0,"north_m":250},"start_min":6.5,"pos":0.03}]}]}}`), r))
	block := func(name string, x, from float64) mapfile.Block {
		return mapfile.Block{Name: name, Lanes: 2, Lane: 180, Spacing: 38, Back: 180, Side: 90, Begin: geo.XY{X: x}, StartMin: from,
			EndMin: from + 8, POS: 0.22}
	}
	leg := func(block string, x0, y0, x1, y1, from float64) mapfile.Leg {
		return mapfile.Leg{Kind: mapfile.Search, Block: block, From: geo.XY{X: x0, Y: y0}, To: geo.XY{X: x1, Y: y1}, StartMin: from,
			EndMin: from + 2, Cover: "stubble", SweepWidth: 18}
	}
	east := mapfile.Route{Name: "east", Kind: "walker", Minutes: 70, Free: true,
		Blocks: []mapfile.Block{block("A1", 100, 2), block("A2", 300, 50)},
		Legs: []mapfile.Leg{leg("", 0, 0, 100, 0, 0), leg("A1", 100, 0, 100, 180, 2), leg("A1", 100, 180, 138, 180, 6),
			leg("A1", 138, 180, 138, 0, 8), leg("", 138, 0, 300, 0, 40), leg("A2", 300, 0, 300, 180, 50)}}
	layers := &mapfile.Landing{Plan: &mapfile.Plan{POS: 0.81, Enough: mapfile.Enough{Minutes: 41, POS: 0.79},
		Searchers: []mapfile.Route{east, {Name: "west", Kind: "walker"}}}}
	out := printed(t, func(w io.Writer) error { return Plan(w, r, layers) })
	for _, want := range []string{
		"  chance to find it 81 % with this plan; no plan of this effort does better than 88 %\n",
		"  if it is found    after 31 minutes on average\n",
		"  enough            after 41 minutes with 79 %; what comes later brings 2 % more\n",
		"\neast: walker, 2 blocks, 840 m, 70 min, sweep width 18 m in stubble; free after that: nothing worth the walk is left\n",
		"        0.0 min  way there: 100 m on 090°\n",
		"  A1    2.0 min  2 lanes of 180 m, 38 m apart, out on 000°, back on 180°, next lane toward 090°\n",
		"until 10.0 min; finds 22.0 %, so far 22.0 %\n",
		"  -- to here 41 minutes, 79 %; beyond, 2 % for 29 minutes more --\n       40.0 min  way on: 162 m on 090°\n  A2 ",
	} {
		assert.Contains(t, out, want)
	}
	assert.Regexp(t, `\n +1 +6.5 min  search +000 deg +250 m  POS +3.0 %\n`, out)
}

func TestReports(t *testing.T) {
	a := document[report.Found](t, `{"id":9,"flight":"heron-01","part":"pod","place":{"east_m":0,"north_m":-70},"miss_m":50,
"miss_bearing_deg":359.7,"miss_sd":1.2,"level":0.62,"inside":[0.75,0.9,0.95],"explained":[{"Cause":"wind"},{"Cause":"lean"}],
"plan":{"probability":0.63,"first_pass_min":12,"mean_minutes_if_found":20},"cautions":["look"]}`)
	out := printed(t, func(w io.Writer) error { return Found(w, a) })
	assert.Contains(t, out, "heron-01, pod found 70 m from the pad on bearing 180: entry 9\n")
	assert.Contains(t, out, "on bearing 000: 1.2 standard deviations\n")
	assert.Contains(t, out, "                    inside the 75 % area\n")
	assert.Contains(t, out, "passes it first after 12 min and finds it with 63 %, on average after 20 min\n")
	far := 180.0
	a.Judgement.Beyond = &far
	assert.Contains(t, printed(t, func(w io.Writer) error { return Found(w, a) }),
		"  explained by      nothing: two standard deviations of all inputs together reach 180 m that way\n")
	a.Plan, a.Judgement.Inside, a.Judgement.Beyond = &situation.Worth{}, nil, nil
	out = printed(t, func(w io.Writer) error { return Found(w, a) })
	assert.Contains(t, out, "outside the 95 % area")
	assert.Contains(t, out, "would not have passed it")
	a.Judgement, a.Plan = nil, nil
	assert.NotContains(t, printed(t, func(w io.Writer) error { return Found(w, a) }), "level")

	left := document[situation.Left](t, `{"probability_of_success":0.1,"probability_of_success_total":0.2,"mean_moved_m":12,
"landing":{"mean":{"east_m":5,"north_m":0},`+areas+`},"outcomes":[{"name":"tangled","probability":0.2,"was":0.1}],
"next_hour":{"probability_of_success":0.3,"upper_bound":0.4},"advice":"go on"}`)
	s := &report.Searched{Entry: logbook.Entry{ID: 3}, Track: &record.Track{LengthM: 1234, SweepWidth: 20, Notes: []string{"gap"}}, Left: left}
	out = printed(t, func(w io.Writer) error { return Searched(w, "flight.yaml", s, []string{"out/landing.kml"}) })
	assert.Contains(t, out, "logged 3: 1.2 km gone over by (no name), sweep width 20 m\n")
	assert.Contains(t, out, "  tangled           20.0 %, before it 10.0 %\n")
	assert.Contains(t, out, "  another hour      finds it with 30 %; no plan of this effort does better than 40 %\ngo on\nnext: windfall search flight.yaml\n\nnote: gap\n")
}

// A bound that is nearly certain bounds nothing.
func TestNoBetter(t *testing.T) {
	assert.Equal(t, "no plan of this effort does better than 99 %", noBetter(0.994))
	assert.Equal(t, "no plan of this effort does much better", noBetter(0.996))
	assert.Equal(t, "no plan of this effort does much better", noBetter(1))
}

func TestLearned(t *testing.T) {
	r := document[learn.Result](t, `{"finds":2,"factors":[{"name":"wind speed","mean":1.18,"sd":0.05,"was_mean":1,"was_sd":0.15,"log":true,
"members":[{"name":"Siskin","mean":1.2,"sd":0.04,"finds":1},{"lat":41.9,"lon":-4.9,"mean":1.1,"sd":0.04,"finds":2}]},
{"name":"lean","unit":"deg","mean":0.5,"sd":1},{"name":"`+learn.WindShape+`","sd":1.1}],
"outcomes":[{"name":"nominal","probability":0.8,"was":0.87,"se":0.02,"members":[{"title":"Abubilla","probability":0.7,"se":0.03,"finds":2}]}],"coverage":[{"level":0.9,"inside":1,"was_inside":2,"of":2}],
"flights":[{"flight":"heron-01","was_level":0.95,"level":0.51,"moved":[{"factor":"lean","from":1,"to":2,"share":0.5}]}],"verdict":["too few to tell"]}`)
	out := printed(t, func(w io.Writer) error { return Learned(w, r, []string{"egret-02"}, true) })
	for _, want := range []string{"learned from 2 finds\n", "x 1.180", "+0.50 deg", "x 1.10", "Siskin", "30TUM4239740418", "1 flight\n",
		"nominal                    87.0 %        80.0 %   (+- 2.0)\n", "heron-01               level 0.95 -> 0.51   lean 1 -> 2 (+0.5)\n",
		"too few to tell\n\nleft out: egret-02\n"} {
		assert.Contains(t, out, want)
	}
}

func flight(t *testing.T) *flightfile.File {
	t.Helper()
	f, err := flightfile.Parse("heron/flight.yaml", []byte(`flight: heron-01
when: 2026-05-02T12:00:00+02:00
site: {pad: "41.9050, -4.9210", elevation: 700 m}
vehicle: {mass: 600 g, diameter: 54 mm, length: 1.2 m}
motor: {impulse: 100 N s, burn: 1.2 s, delay: 7 s, propellant: 60 g}
recovery: [{device: parachute, trigger: ejection, descent_rate: 5 m/s}]
wind: [{height: 2 m, from: 210 deg, speed: 9 mph}, {height: 5 km, from: 220 deg, speed: 30 m/s}]
`), nil)
	require.NoError(t, err)
	return f
}

func TestComparisonAndApplied(t *testing.T) {
	f := flight(t)
	m, err := f.Model()
	require.NoError(t, err)
	in := situation.Input{Flight: f.Flight, Model: m, Learned: &situation.Learned{Finds: 1, Used: []string{"learned wind speed: x 1.1"}}}
	s, err := situation.Predict(context.Background(), in, situation.Options{Runs: 200, Seed: 1})
	require.NoError(t, err)
	out := printed(t, func(w io.Writer) error { return Applied(w, in, s, s) })
	assert.Contains(t, out, "flight heron-01, with what the logbook taught (1 find)\n  learned wind speed: x 1.1\n  middle moves from ")

	vary := func([]compare.Setting) (compare.Flight, error) { return compare.Flight{Model: m}, nil }
	limit := 1.0
	o := compare.Options{Runs: 200, Seed: 1, Limits: compare.Limits{Touchdown: &limit}}
	table, err := compare.Run(context.Background(), compare.Input{Base: m, Vary: vary, Hours: []time.Time{f.Flight.When},
		Axes: []compare.Axis{{Key: "motor.delay", Values: []string{"7 s", "8 s"}}, {Key: "rail.length", Values: []string{"1 m"}}}}, o)
	require.NoError(t, err)
	r := situation.Compared(table, o)
	out = printed(t, func(w io.Writer) error { return Comparison(w, table, r, false) })
	assert.Contains(t, out, "flight heron-01, 2 ways to fly it, 200 runs each with the same draws, seed 1\nall with rail.length 1 m\n")
	assert.Regexp(t, `\nmotor.delay +90 % area +centre`, out)
	assert.Contains(t, out, "outside limits: ")
	assert.Contains(t, out, "in all, to 5 %: off rail ")
	assert.Contains(t, out, "smallest area: ")
	assert.Contains(t, out, "no figures of this country's codes are known here")
	best := printed(t, func(w io.Writer) error { return Comparison(w, table, r, true) })
	assert.NotContains(t, best, "ways to fly it")
	assert.Contains(t, out, best)
}

func TestSpotters(t *testing.T) {
	r := document[situation.Spotting](t, `{"flight":"heron-01","n":1,"trials":80,"area_without_m2":25000,
"best":[{"places":["gate"],"area_m2":12000,"se_m2":500}],"candidates":[{"name":"gate","sees_ejection":0.9,"se":0.01}],
"cards":[{"name":"gate","events":[{"event":"landing","at_s":80,"bearing_deg":359.9,"bearing_deg_90":[350,10],"elevation_deg":-0.2}]}],
"cautions":["no terrain"]}`)
	out := printed(t, func(w io.Writer) error { return Spotters(w, r) })
	assert.Contains(t, out, "flight heron-01: 90 % of the chance lies in 2.5 ha with nobody watching\n")
	assert.Contains(t, out, "(too many sets to try all")
	assert.Contains(t, out, "  gate: landing at 80 s on 000 (350 to 010), 0 deg up\n")
}

func TestWind(t *testing.T) {
	f := flight(t)
	z := 700.0
	r := sources.Reading{Choices: append(f.Flight.Wind, f.Flight.Wind...), Name: "heron-01", Cautions: []string{"old"},
		Options: sources.Options{When: f.Flight.When, Elevation: &z}}
	out := printed(t, func(w io.Writer) error { return Wind(w, r, []string{"out/wind.png"}) })
	assert.Contains(t, out, "wind of heron-01\nvalid 2026-05-02 10:00 UTC, heights above the pad\n")
	assert.Regexp(t, `\n +2 +702 +210 +4\.0 +7\.8 `, out) // 9 mph = 4.02 m/s = 7.8 kn
	assert.Contains(t, out, "above 4000 m: 1 more, which --json has\n")
	assert.Contains(t, out, "2 alternatives, of which each run draws one\n\ncaution: old\nwrote out/wind.png\n")
	low := sources.Reading{Reports: []sources.Report{{Source: "report", FromLowest: true,
		Levels: []sources.Level{{Height: 0, Elevation: math.NaN(), FromDeg: math.NaN()}}}}}
	out = printed(t, func(w io.Writer) error { return Wind(w, low, nil) })
	assert.Contains(t, out, "heights above the lowest level reported\n")
	assert.Regexp(t, `\n +0 +- +VRB `, out)
}
