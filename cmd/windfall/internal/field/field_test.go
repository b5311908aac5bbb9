package field

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/situation"
	"windfall/drift/logbook"
	"windfall/geo"
	"windfall/search"
)

const flightText = `
flight: a-1
when: 2026-04-18T11:20:00+02:00
site: {pad: "41.9050, -4.9210", elevation: 741 m}
rail: {length: 2.4 m, lean: 3 deg, toward: 190 deg}
vehicle: {mass: 1.46 kg, diameter: 66 mm, length: 1.42 m, drag: 0.55}
motor: {designation: H134-8, impulse: 208 N s, burn: 1.55 s, propellant: 110 g}
recovery:
  - {device: streamer, trigger: ejection, width: 220 mm, length: 4.2 m, drag: 0.15}
wind:
  - {height: 10 m, from: 185 deg, speed: 5 m/s}
parts:
  - {name: camera pod, mass: 65 g, drag_area: 45 cm2, sheds: {between: [burnout, apogee]}, chance: 6 %}
searchers:
  - {name: Ines, kind: walker, speed: 3.6 km/h, available: 60 min}
  - {name: Tomas, kind: walker, speed: 3 km/h, available: 60 min}
`

var noon = time.Date(2026, 4, 18, 10, 0, 0, 0, time.UTC)

type tb interface {
	require.TestingT
	Helper()
}

// crew is a field of the flight in a folder of its own.
type crew struct {
	t      tb
	path   string
	flight *record.Flight
	field  *Field
	n      int
}

func newCrew(t *testing.T) *crew { return crewIn(t, t.TempDir()) }

func crewIn(t tb, dir string) *crew {
	t.Helper()
	path := filepath.Join(dir, "flight.yaml")
	require.NoError(t, os.WriteFile(path, []byte(flightText), 0o644))
	f, err := record.Read(record.Source{Flight: path, Logbook: filepath.Join(dir, "none.db")})
	require.NoError(t, err)
	c := &crew{t: t, path: filepath.Join(dir, "logbook.db"), flight: f}
	c.open()
	return c
}

func (c *crew) open() {
	c.field = New(Options{Logbook: c.path, Flight: "a-1", Version: "test"})
}

type object = map[string]any

// entry is what a phone sends, at so many seconds after noon.
func (c *crew) entry(kind Kind, at float64, more object) json.RawMessage {
	c.n++
	o := object{"key": fmt.Sprintf("key-%06d", c.n), "at": noon.Add(time.Duration(at * float64(time.Second))), "kind": kind}
	for k, v := range more {
		o[k] = v
	}
	b, err := json.Marshal(o)
	require.NoError(c.t, err)
	return b
}

// say logs entries of somebody at ten minutes after noon.
func (c *crew) say(who string, entries ...json.RawMessage) []Result {
	c.t.Helper()
	now := noon.Add(10 * time.Minute)
	out, _, err := c.field.Log(c.flight, Who{who}, Batch{now, entries}, now)
	require.NoError(c.t, err)
	require.Len(c.t, out, len(entries))
	return out
}

func (c *crew) view() *View {
	v, err := c.field.View()
	require.NoError(c.t, err)
	return v
}

// says are the lines of what counts, sorted.
func (c *crew) says() (out []string) {
	for _, e := range c.view().Entries {
		if !e.Withdrawn {
			out = append(out, fmt.Sprintf("%s %s %s", e.Kind, e.By, e.Says))
		}
	}
	sort.Strings(out)
	return out
}

// planned is a plan of blocks beside the pad whose lanes go north and south, and
// of one expanding rectangle.
func planned() Plan {
	block := func(name string, lanes int) search.Block {
		return search.Block{Name: name, Kind: search.Lanes, Lanes: lanes, LaneM: 200, SpacingM: 30, OutDeg: 0, BackDeg: 180,
			SideDeg: 90, Begin: geo.Place{Lat: 41.905, Lon: -4.921}}
	}
	legs := func(block string, corners ...float64) (out []search.Leg) {
		for i := 2; i < len(corners); i += 2 {
			out = append(out, search.Leg{Kind: search.SearchLeg, Block: block, From: geo.Place{East: corners[i-2], North: corners[i-1]},
				To: geo.Place{East: corners[i], North: corners[i+1]}})
		}
		return out
	}
	square := search.Block{Name: "B1", Kind: search.Rectangle, Lanes: 4, LaneM: 100, SpacingM: 30, BackDeg: 180, SideDeg: 90}
	return Plan{Key: "k1", Plan: &search.Plan{Minutes: 60, Searchers: []search.Route{
		{Name: "Ines", Kind: search.Walker, Blocks: []search.Block{block("A1", 3), block("A2", 2)},
			Legs: append(legs("A1", 0, 0, 0, 200, 30, 200, 30, 0, 60, 0, 60, 200), legs("A2", 90, 200, 90, 0, 120, 0, 120, 200)...)},
		{Name: "Tomas", Kind: search.Walker, Blocks: []search.Block{square}, Legs: legs("B1", 300, 0, 300, 100, 330, 100, 330, -30, 270, -30)}}}}
}

func (c *crew) plan(who string, p Plan, was int) *Plan {
	out, err := c.field.AddPlan(c.flight, Who{who}, p, was, noon.Add(5*time.Minute))
	require.NoError(c.t, err)
	return out
}

// Times count from the ignition, whatever order they come in, less what a press
// is late, with the spreads of both.
func TestClock(t *testing.T) {
	c := newCrew(t)
	r := c.say("Ines", c.entry(kindTiming, 11, object{"event": "ejection"}))
	assert.Contains(t, r[0].Message, "no ignition has been pressed yet")
	ignition := c.entry(kindIgnition, 0, nil)
	c.say("Ines", ignition, c.entry(kindTiming, 60, object{"event": "lost"}))
	assert.Equal(t, []string{"ignition Ines ignition", "timing Ines Ines: ejection at 10.77 s", "timing Ines Ines: landing after 60 s"}, c.says())
	var body struct {
		SD float64 `json:"time_sd_s"`
	}
	for _, e := range c.view().Entries {
		if e.Says == "Ines: ejection at 10.77 s" {
			require.NoError(t, json.Unmarshal(e.Body, &body))
			assert.NotEmpty(t, e.Key)
		}
	}
	assert.InDelta(t, 0.5, body.SD, 1e-9, "0.4 s of the press and 0.3 s of the ignition's")

	// One tap takes the ignition back, another press begins anew.
	c.say("Ines", c.entry(kindWithdraw, 70, object{"of": key(ignition)}))
	assert.Equal(t, []string{"timing Ines ejection: does not count without an ignition before it",
		"timing Ines lost: does not count without an ignition before it"}, c.says())
	c.say("Ines", c.entry(kindIgnition, 1, nil))
	assert.Equal(t, []string{"ignition Ines ignition", "timing Ines Ines: ejection at 9.77 s", "timing Ines Ines: landing after 59 s"}, c.says())

	// Another phone's presses count from its own ignition, where it pressed one.
	c.say("Ana", c.entry(kindTiming, 41, object{"event": "landing"}))
	assert.Contains(t, c.says(), "timing Ana Ana: landing at 39.77 s")
	r = c.say("Ana", c.entry(kindIgnition, 1.5, nil))
	assert.Equal(t, Conflict, r[0].State)
	assert.Contains(t, r[0].Message, "Ines has pressed ignition too, 0.5 s away")
	assert.Contains(t, c.says(), "timing Ana Ana: landing at 39.27 s")
	assert.Contains(t, c.says(), "timing Ines Ines: ejection at 9.77 s")
	require.Len(t, c.view().Conflicts, 1)
	r = c.say("Ana", c.entry(kindTiming, 0.5, object{"event": "burnout"}))
	assert.Contains(t, r[0].Message, "before the ignition")

	// One that is taken back stays so, whatever the ignition does; also one that
	// was taken back with the commands.
	id := c.say("Ines", c.entry(kindTiming, 50, object{"event": "opening"}))[0].ID
	b, err := logbook.Open(c.path)
	require.NoError(t, err)
	_, err = b.Withdraw(id, "Ana", noon)
	require.NoError(t, err)
	require.NoError(t, b.Close())
	c.say("Ines", c.entry(kindIgnition, 0.2, nil))
	assert.NotContains(t, fmt.Sprint(c.says()), "opening")
	for _, bad := range []object{{}, {"event": "takeoff"}, {"event": "landing", "heard": true}, {"event": "landing", "time_sd_s": -1}} {
		assert.Equal(t, Refused, c.say("Ana", c.entry(kindTiming, 30, bad))[0].State, "%v", bad)
	}
}

func key(raw json.RawMessage) string {
	var k struct{ Key string }
	json.Unmarshal(raw, &k)
	return k.Key
}

// Every kind of sighting is what saw would log of the same.
func TestSightings(t *testing.T) {
	c := newCrew(t)
	from := object{"lat": 41.904, "lon": -4.93}
	area := object{"type": "Polygon", "coordinates": [][][2]float64{{{-4.93, 41.9}, {-4.92, 41.9}, {-4.92, 41.91}, {-4.93, 41.9}}}}
	r := c.say("Ines",
		c.entry(kindBearing, 90, object{"from": from, "bearing_deg": 100, "north": "true", "event": "landing", "elevation_deg": 3}),
		c.entry(kindBearing, 90, object{"from": from, "bearing_deg": 100, "north": "magnetic", "event": "landing"}),
		c.entry(kindHeight, 90, object{"height_m": 300, "height_sd_m": 20}),
		c.entry(kindNothing, 90, object{"geometry": area, "from": from, "sure": 0.9}),
		c.entry(kindLooked, 90, object{"looked": "open", "from": from}),
		c.entry(kindBearing, 90, object{"from": from, "bearing_deg": 100, "north": "true", "timed": true}),
		c.entry(kindIgnition, 0, nil),
		c.entry(kindBearing, 90, object{"from": from, "bearing_deg": 100, "north": "true", "event": "lost"}))
	for i, x := range r {
		assert.Equal(t, Logged, x.State, "%d: %s", i, x.Message)
	}
	f := *c.flight
	require.NoError(t, f.LoadLogged(c.path))
	assert.Len(t, f.Input.Sightings, 7)
	assert.Empty(t, f.Input.Cautions[len(c.flight.Input.Cautions):])
	bodies := ""
	for _, e := range c.view().Entries {
		bodies += string(e.Body)
	}
	assert.Contains(t, bodies, `"bearing_deg":100,`)
	assert.Contains(t, bodies, `"said":"100 magnetic"`)
	assert.Contains(t, bodies, `"bearing_sd_deg":8`, "a compass of which nothing is known")
	assert.Contains(t, bodies, `"at_s":90,`)

	// What is amended keeps what was not said anew; what was is as it was.
	id := r[0].ID
	c.say("Ana", c.entry(kindAmend, 95, object{"id": id, "bearing_deg": 104, "north": "true"}))
	for _, e := range c.view().Entries {
		if e.ID == id {
			assert.Equal(t, 2, e.Revision)
			assert.Contains(t, e.Says, "104")
			assert.Contains(t, string(e.Body), `"elevation_deg":3`)
		}
	}
	key5 := fmt.Sprintf("key-%06d", 6)
	a := c.say("Ines", c.entry(kindAmend, 95, object{"of": key5, "bearing_deg": 90, "north": "true"}), c.entry(kindWithdraw, 96, object{"of": key5}),
		c.entry(kindWithdraw, 97, object{"of": key5}), c.entry(kindWithdraw, 97, object{"id": id}), c.entry(kindAmend, 97, object{"id": id, "bearing_deg": 3}))
	assert.Equal(t, []State{Logged, Logged, Refused, Logged, Refused}, states(a))
	for _, bad := range []struct {
		kind Kind
		more object
		says string
	}{
		{kindBearing, object{"from": from, "bearing_deg": 10}, "north is not said"},
		{kindBearing, object{"from": from, "bearing_deg": 400, "north": "true"}, "400 is not a direction"},
		{kindBearing, object{"bearing_deg": 10, "north": "true"}, "from"},
		{kindHeight, object{}, "height"},
		{kindHeight, object{"height_m": 60000}, "height 60000 is not possible: give metres above the pad, up to 50 km"},
		{kindHeight, object{"height_m": "240"}, "string"},
		{kindHeight, object{"height_m": 240, "event": "tea"}, `event "tea" is not known`},
		{kindNothing, object{"from": from}, "nothing-in needs an area"},
		{kindNothing, object{"geometry": ringed([2]float64{-4.93, 41.9}, [2]float64{-4.92, 41.9})}, "a ring of 2 different points is not an area"},
		{kindNothing, object{"geometry": ringed([2]float64{41.9, -493}, [2]float64{1, 1}, [2]float64{2, 0})}, "is not longitude, latitude"},
		{kindNothing, object{"geometry": object{"type": "Point", "coordinates": []float64{1, 2}}}, "holds no polygon"},
		{kindLooked, object{"looked": "nice"}, "open or fast"},
		{kindLooked, object{"bearing_deg": 3}, "a looked has no bearing_deg"},
		{"rumour", object{}, `kind "rumour" is not known`},
		{kindWithdraw, object{"of": "key-999999"}, "nothing came under the key"},
		{kindWithdraw, object{"id": 99}, "no entry 99"},
		{kindWithdraw, object{}, "which entry is not said"},
		{kindWithdraw, object{"id": 1, "of": "key-000001"}, "write one"},
		{kindAmend, object{"of": "key-000007", "bearing_deg": 1}, "take it back and say it anew"},
	} {
		r := c.say("Ines", c.entry(bad.kind, 99, bad.more))
		assert.Equal(t, Refused, r[0].State, "%v", bad)
		assert.Contains(t, r[0].Message, bad.says)
	}
	assert.Contains(t, c.say("Ines", json.RawMessage(`{"key":"short","kind":"ignition"}`), json.RawMessage(`7`))[0].Message, "has not 8 to 64 letters")
}

// ringed is a polygon of one ring.
func ringed(points ...[2]float64) object {
	return object{"type": "Polygon", "coordinates": [][][2]float64{points}}
}

func states(rs []Result) (out []State) {
	for _, r := range rs {
		out = append(out, r.State)
	}
	return out
}

// Two who find it at once are both kept, and shown.
func TestFinds(t *testing.T) {
	c := newCrew(t)
	r := c.say("Ines", c.entry(kindFind, 100, object{"lat": 41.9080, "lon": -4.92, "looks_like": "in a furrow", "accuracy_m": 5}))
	assert.Equal(t, Logged, r[0].State)
	r = c.say("Tomas", c.entry(kindFind, 101, object{"lat": 41.9081, "lon": -4.92}),
		c.entry(kindFind, 102, object{"lat": 41.909, "lon": -4.92, "part": "camera pod"}))
	assert.Equal(t, []State{Conflict, Logged}, states(r))
	assert.Contains(t, r[0].Message, "Ines has found the same at 10:01:40 UTC, 11 m away (entry 1); both are kept")
	v := c.view()
	assert.Len(t, v.Finds, 3)
	require.Len(t, v.Conflicts, 1)
	assert.Equal(t, []int64{1, 2}, v.Conflicts[0].IDs)
	c.say("Ines", c.entry(kindAmend, 110, object{"id": 1, "looks_like": "nose down"}), c.entry(kindWithdraw, 111, object{"id": 2}))
	v = c.view()
	assert.Len(t, v.Finds, 2)
	assert.Empty(t, v.Conflicts)
	assert.Contains(t, v.Finds[0].Says, "nose down")
	for _, bad := range []struct {
		more object
		says string
	}{
		{object{"lat": 41.9}, "without a place"}, {object{"lat": 43, "lon": -4.9}, "122 km from the pad"},
		{object{"lat": 91, "lon": 0}, "is no place"}, {object{"lat": 41.9, "lon": -4.9, "part": "fin"}, `part "fin"`},
	} {
		r := c.say("Ines", c.entry(kindFind, 120, bad.more))
		assert.Equal(t, Refused, r[0].State)
		assert.Contains(t, r[0].Message, bad.says)
	}
}

// A lane done by two, one that is open again, one of a plan that was replaced:
// each is kept and said.
func TestLanes(t *testing.T) {
	c := newCrew(t)
	lane := func(at float64, plan int, block string, n int, state string) json.RawMessage {
		return c.entry(kindLane, at, object{"plan": plan, "block": block, "lane": n, "state": state})
	}
	r := c.say("Ines", lane(1, 1, "A1", 1, "done"))
	assert.Contains(t, r[0].Message, "there is no plan 1")
	assert.Equal(t, 1, c.plan("Ana", planned(), 0).Number)
	r = c.say("Ines", lane(10, 1, "A1", 1, "done"), lane(11, 1, "A1", 2, "done"), lane(12, 1, "A1", 2, "open"), lane(13, 1, "A1", 3, "skipped"),
		lane(14, 1, "A1", 4, "done"), lane(14, 1, "C1", 1, "done"), lane(14, 1, "A1", 1, "walked"))
	assert.Equal(t, []State{Logged, Logged, Logged, Logged, Refused, Refused, Refused}, states(r))
	assert.Contains(t, r[5].Message, "it has A1, A2, B1")
	r = c.say("Tomas", lane(20, 1, "A1", 1, "done"), lane(5, 1, "A1", 3, "done"))
	assert.Equal(t, []State{Conflict, Logged}, states(r))
	assert.Contains(t, r[0].Message, "Ines has said that lane 1 of A1 is done")
	v := c.view()
	require.Len(t, v.Progress, 2)
	assert.Equal(t, "Ines", v.Progress[0].Also)
	assert.Equal(t, "skipped", v.Progress[1].State, "what was said later counts, whenever it comes in")
	assert.Equal(t, "lane 1 of A1 was done by Ines and by Tomas", v.Conflicts[0].Message)

	second := planned()
	second.Key = "k2"
	assert.Equal(t, 2, c.plan("Ana", second, 1).Number)
	_, err := c.field.AddPlan(c.flight, Who{"Tomas"}, planned(), 1, noon)
	assert.ErrorIs(t, err, ErrReplaced)
	assert.ErrorContains(t, err, "plan 2, made by Ana")
	r = c.say("Ines", lane(30, 1, "A2", 1, "done"))
	assert.Equal(t, Logged, r[0].State)
	assert.Contains(t, r[0].Message, "plan 1 was replaced by plan 2, made by Ana at 10:05 UTC: it is kept")
	v = c.view()
	assert.Empty(t, v.Progress)
	assert.Len(t, v.Done, 2)
	assert.True(t, v.HasPlan("k1"))
}

// Who is there, for how long and from where decides a plan; lanes done without a
// recording are not walked twice.
func TestSquad(t *testing.T) {
	c := newCrew(t)
	now := noon.Add(10 * time.Minute)
	squad := func(places map[string]Place) ([]search.Searcher, []string, error) {
		return Squad(c.flight.Input, c.flight.File.Frame, c.view(), places, now)
	}
	all, notes, err := squad(nil)
	require.NoError(t, err)
	assert.Len(t, all, 2)
	assert.Empty(t, notes)
	c.say("Ana", c.entry(kindArrive, 0, object{"searcher": "INES"}))
	assert.Equal(t, "Ines", c.view().SearcherOf("Ana"))
	some, notes, err := squad(map[string]Place{"Ana": {Point: Point{41.906, -4.921}, At: now}})
	require.NoError(t, err)
	require.Len(t, some, 1)
	assert.InDelta(t, 50*60, some[0].Available, 1e-6)
	require.NotNil(t, some[0].At)
	assert.InDelta(t, 111, some[0].At.Y, 0.5)
	assert.Equal(t, []string{"Tomas has not come and is left out"}, notes)
	stale, _, err := squad(map[string]Place{"Ana": {Point: Point{41.906, -4.921}, At: now.Add(-time.Hour)}})
	require.NoError(t, err)
	assert.Nil(t, stale[0].At)

	c.say("Tomas", c.entry(kindLate, 0, object{"searcher": "Tomas", "minutes": 15}))
	both, _, err := squad(nil)
	require.NoError(t, err)
	require.Len(t, both, 2)
	assert.InDelta(t, 5*60, both[1].Joins, 1e-6)
	assert.InDelta(t, 60*60, both[1].Available, 1e-6, "it counts from when they come")
	now = noon.Add(20 * time.Minute)
	both, _, err = squad(nil)
	require.NoError(t, err)
	assert.Zero(t, both[1].Joins)
	assert.InDelta(t, 55*60, both[1].Available, 1e-6)
	now = noon.Add(80 * time.Minute)
	_, notes, err = squad(nil)
	assert.ErrorContains(t, err, "nobody is there")
	assert.Contains(t, notes, "Tomas has no time left")
	now = noon.Add(10 * time.Minute)
	r := c.say("Bea", c.entry(kindArrive, 1, object{"searcher": "Ines"}), c.entry(kindLeave, 2, object{"searcher": "Tomas"}), c.entry(kindLate, 2, object{"searcher": "Ines"}))
	assert.Equal(t, []State{Conflict, Logged, Refused}, states(r))
	assert.Equal(t, "Ines", c.view().SearcherOf("Bea"))
	assert.Equal(t, "", c.view().SearcherOf("Ana"))
	c.say("Bea", c.entry(kindLeave, 3, object{"searcher": "Ines"}))
	_, _, err = squad(nil)
	assert.ErrorContains(t, err, "nobody is there to search")

	c.plan("Ana", planned(), 0)
	c.say("Bea", c.entry(kindLane, 30, object{"plan": 1, "block": "A1", "lane": 2, "state": "done"}),
		c.entry(kindLane, 30, object{"plan": 1, "block": "B1", "lane": 3, "state": "done"}))
	f := *c.flight
	tracks := Unrecorded(&f, c.view())
	require.Len(t, tracks, 2)
	assert.Equal(t, [][]geo.XY{{{X: 30, Y: 200}, {X: 30, Y: 0}}}, tracks[0].Lines, "the second lane, as it is walked")
	assert.Equal(t, [][]geo.XY{{{X: 330, Y: 100}, {X: 330, Y: -30}}}, tracks[1].Lines, "the third course")
	assert.Equal(t, "Tomas", tracks[1].By)
	f.Input.Tracks = []situation.Track{{Lines: [][]geo.XY{{{X: 35, Y: -10}, {X: 32, Y: 210}}}}}
	require.Len(t, Unrecorded(&f, c.view()), 1, "there is a recording of the lane")
	assert.Equal(t, "Tomas", Unrecorded(&f, c.view())[0].By)
}
