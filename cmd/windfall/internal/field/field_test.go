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
	"pgregory.net/rapid"

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

func planned() Plan {
	block := func(name string, lanes int) search.Block {
		return search.Block{Name: name, Kind: search.Lanes, Lanes: lanes, LaneM: 200, SpacingM: 30, OutDeg: 0, BackDeg: 180,
			SideDeg: 90, Begin: geo.Place{Lat: 41.905, Lon: -4.921}}
	}
	return Plan{Key: "k1", Plan: &search.Plan{Minutes: 60, Searchers: []search.Route{
		{Name: "Ines", Kind: search.Walker, Blocks: []search.Block{block("A1", 3), block("A2", 2)}},
		{Name: "Tomas", Kind: search.Walker, Blocks: []search.Block{block("B1", 4)}}}}}
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
	r := c.say("Ines", c.entry(Timing, 11, object{"event": "ejection"}))
	assert.Contains(t, r[0].Message, "no ignition has been pressed yet")
	ignition := c.entry(Ignition, 0, nil)
	c.say("Ines", ignition, c.entry(Timing, 60, object{"event": "lost"}))
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
	c.say("Ines", c.entry(Withdraw, 70, object{"of": key(ignition)}))
	assert.Equal(t, []string{"timing Ines ejection: does not count without an ignition before it",
		"timing Ines lost: does not count without an ignition before it"}, c.says())
	c.say("Ines", c.entry(Ignition, 1, nil))
	assert.Equal(t, []string{"ignition Ines ignition", "timing Ines Ines: ejection at 9.77 s", "timing Ines Ines: landing after 59 s"}, c.says())

	// Another phone's presses count from its own ignition, where it pressed one.
	c.say("Ana", c.entry(Timing, 41, object{"event": "landing"}))
	assert.Contains(t, c.says(), "timing Ana Ana: landing at 39.77 s")
	r = c.say("Ana", c.entry(Ignition, 1.5, nil))
	assert.Equal(t, Conflict, r[0].State)
	assert.Contains(t, r[0].Message, "Ines has pressed ignition too, 0.5 s away")
	assert.Contains(t, c.says(), "timing Ana Ana: landing at 39.27 s")
	assert.Contains(t, c.says(), "timing Ines Ines: ejection at 9.77 s")
	require.Len(t, c.view().Conflicts, 1)
	r = c.say("Ana", c.entry(Timing, 0.5, object{"event": "burnout"}))
	assert.Contains(t, r[0].Message, "before the ignition")
	for _, bad := range []object{{}, {"event": "takeoff"}, {"event": "landing", "heard": true}, {"event": "landing", "time_sd_s": -1}} {
		assert.Equal(t, Refused, c.say("Ana", c.entry(Timing, 30, bad))[0].State, "%v", bad)
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
		c.entry(Bearing, 90, object{"from": from, "bearing_deg": 100, "north": "true", "event": "landing", "elevation_deg": 3}),
		c.entry(Bearing, 90, object{"from": from, "bearing_deg": 100, "north": "magnetic", "event": "landing"}),
		c.entry(Height, 90, object{"height_m": 300, "height_sd_m": 20}),
		c.entry(Nothing, 90, object{"geometry": area, "from": from, "sure": 0.9}),
		c.entry(Looked, 90, object{"looked": "open", "from": from}),
		c.entry(Bearing, 90, object{"from": from, "bearing_deg": 100, "north": "true", "timed": true}),
		c.entry(Ignition, 0, nil))
	for i, x := range r {
		assert.Equal(t, Logged, x.State, "%d: %s", i, x.Message)
	}
	f := *c.flight
	require.NoError(t, f.LoadLogged(c.path))
	assert.Len(t, f.Input.Sightings, 6)
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
	c.say("Ana", c.entry(Amend, 95, object{"id": id, "bearing_deg": 104, "north": "true"}))
	for _, e := range c.view().Entries {
		if e.ID == id {
			assert.Equal(t, 2, e.Revision)
			assert.Contains(t, e.Says, "104")
			assert.Contains(t, string(e.Body), `"elevation_deg":3`)
		}
	}
	key5 := fmt.Sprintf("key-%06d", 6)
	a := c.say("Ines", c.entry(Amend, 95, object{"of": key5, "bearing_deg": 90, "north": "true"}), c.entry(Withdraw, 96, object{"of": key5}),
		c.entry(Withdraw, 97, object{"of": key5}), c.entry(Withdraw, 97, object{"id": id}), c.entry(Amend, 97, object{"id": id, "bearing_deg": 3}))
	assert.Equal(t, []State{Logged, Logged, Refused, Logged, Refused}, states(a))
	for _, bad := range []struct {
		kind Kind
		more object
		says string
	}{
		{Bearing, object{"from": from, "bearing_deg": 10}, "north is not said"},
		{Bearing, object{"from": from, "bearing_deg": 400, "north": "true"}, "400 is not a direction"},
		{Bearing, object{"bearing_deg": 10, "north": "true"}, "from"},
		{Height, object{}, "height"},
		{Nothing, object{"from": from}, "nothing-in needs an area"},
		{Looked, object{"looked": "nice"}, "open or fast"},
		{Looked, object{"bearing_deg": 3}, "a looked has no bearing_deg"},
		{"rumour", object{}, `kind "rumour" is not known`},
		{Withdraw, object{"of": "key-999999"}, "nothing came under the key"},
		{Withdraw, object{"id": 99}, "no entry 99"},
		{Withdraw, object{}, "which entry is not said"},
		{Withdraw, object{"id": 1, "of": "key-000001"}, "write one"},
		{Amend, object{"of": "key-000007", "bearing_deg": 1}, "take it back and say it anew"},
	} {
		r := c.say("Ines", c.entry(bad.kind, 99, bad.more))
		assert.Equal(t, Refused, r[0].State, "%v", bad)
		assert.Contains(t, r[0].Message, bad.says)
	}
	assert.Contains(t, c.say("Ines", json.RawMessage(`{"key":"short","kind":"ignition"}`), json.RawMessage(`7`))[0].Message, "has not 8 to 64 letters")
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
	r := c.say("Ines", c.entry(Find, 100, object{"lat": 41.9080, "lon": -4.92, "looks_like": "in a furrow", "accuracy_m": 5}))
	assert.Equal(t, Logged, r[0].State)
	r = c.say("Tomas", c.entry(Find, 101, object{"lat": 41.9081, "lon": -4.92}),
		c.entry(Find, 102, object{"lat": 41.909, "lon": -4.92, "part": "camera pod"}))
	assert.Equal(t, []State{Conflict, Logged}, states(r))
	assert.Contains(t, r[0].Message, "Ines has found the same at 10:01:40 UTC, 11 m away (entry 1); both are kept")
	v := c.view()
	assert.Len(t, v.Finds, 3)
	require.Len(t, v.Conflicts, 1)
	assert.Equal(t, []int64{1, 2}, v.Conflicts[0].IDs)
	c.say("Ines", c.entry(Amend, 110, object{"id": 1, "looks_like": "nose down"}), c.entry(Withdraw, 111, object{"id": 2}))
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
		r := c.say("Ines", c.entry(Find, 120, bad.more))
		assert.Equal(t, Refused, r[0].State)
		assert.Contains(t, r[0].Message, bad.says)
	}
}

// A lane done by two, one that is open again, one of a plan that was replaced:
// each is kept and said.
func TestLanes(t *testing.T) {
	c := newCrew(t)
	lane := func(at float64, plan int, block string, n int, state string) json.RawMessage {
		return c.entry(Lane, at, object{"plan": plan, "block": block, "lane": n, "state": state})
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
	c.say("Ana", c.entry(Arrive, 0, object{"searcher": "INES"}))
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

	c.say("Tomas", c.entry(Late, 0, object{"searcher": "Tomas", "minutes": 15}))
	both, _, err := squad(nil)
	require.NoError(t, err)
	require.Len(t, both, 2)
	assert.InDelta(t, 5*60, both[1].Joins, 1e-6)
	assert.InDelta(t, 50*60, both[1].Available, 1e-6)
	r := c.say("Bea", c.entry(Arrive, 1, object{"searcher": "Ines"}), c.entry(Leave, 2, object{"searcher": "Tomas"}), c.entry(Late, 2, object{"searcher": "Ines"}))
	assert.Equal(t, []State{Conflict, Logged, Refused}, states(r))
	assert.Equal(t, "Ines", c.view().SearcherOf("Bea"))
	assert.Equal(t, "", c.view().SearcherOf("Ana"))
	c.say("Bea", c.entry(Leave, 3, object{"searcher": "Ines"}))
	_, _, err = squad(nil)
	assert.ErrorContains(t, err, "nobody is there to search")

	c.plan("Ana", planned(), 0)
	c.say("Bea", c.entry(Lane, 30, object{"plan": 1, "block": "A1", "lane": 2, "state": "done"}))
	f := *c.flight
	tracks := Unrecorded(&f, c.view())
	require.Len(t, tracks, 1)
	assert.InDelta(t, 30, tracks[0].Lines[0][0].X, 1e-6, "the second lane lies a spacing to the side")
	assert.InDelta(t, 200, tracks[0].Lines[0][1].Y, 1e-6)
	f.Input.Tracks = []situation.Track{{Lines: [][]geo.XY{{{X: 35, Y: -10}, {X: 32, Y: 210}}}}}
	assert.Empty(t, Unrecorded(&f, c.view()), "there is a recording of it")
}

// fixes walk along a bearing at 1 m/s, one every five seconds.
func (c *crew) fixes(from, seconds int, deg float64) (out []object) {
	for i := from; i <= seconds; i += 5 {
		p := c.flight.File.Frame.ToLonLat(course(deg, float64(i)))
		out = append(out, object{"at": noon.Add(time.Duration(i) * time.Second), "lat": p.Lat(), "lon": p.Lon(), "accuracy_m": 4})
	}
	return out
}

// A recording in pieces, whatever order they come in, is the track that it would
// have been in one; jumps and gaps are said.
func TestRecording(t *testing.T) {
	one, many := newCrew(t), newCrew(t)
	all := one.fixes(0, 300, 30)
	one.say("Ines", one.entry(Track, 300, object{"fixes": all}))
	recorded := func(part []object) json.RawMessage {
		return many.entry(Track, 300, object{"recording": "walk-0001", "fixes": part})
	}
	first, second, third := recorded(all[:20]), recorded(all[20:40]), recorded(all[40:])
	r := many.say("Ines", third)
	assert.Equal(t, Logged, r[0].State)
	r = many.say("Ines", first, second, first)
	assert.Equal(t, []State{Logged, Logged, Known}, states(r))
	assert.Equal(t, r[0].ID, r[2].ID)
	a, b := one.view().Entries, many.view().Entries
	require.Len(t, a, 1)
	require.Len(t, b, 1)
	assert.JSONEq(t, string(a[0].Body), string(b[0].Body))
	assert.Equal(t, "Ines", b[0].By)

	r = many.say("Tomas", recorded(all[:2]))
	assert.Equal(t, Refused, r[0].State)
	assert.Contains(t, r[0].Message, "walk-0001\" is Ines's")
	far := one.fixes(0, 300, 120)
	jump := object{"at": noon.Add(102 * time.Second), "lat": 42.0, "lon": -4.921}
	far = append(far[:21], append([]object{jump}, far[21:]...)...)
	r = one.say("Ines", one.entry(Track, 310, object{"fixes": far}))
	assert.Equal(t, Logged, r[0].State)
	assert.Contains(t, r[0].Message, "1 fix that jumps away and back left out")
	gap := one.fixes(0, 300, 200)
	gap[30]["gap"] = true
	gap[40]["accuracy_m"] = 300
	r = one.say("Ines", one.entry(Track, 320, object{"fixes": gap}))
	assert.Contains(t, r[0].Message, "1 fixes left out: they say they are more than 50 m off")
	var body record.Track
	for _, e := range one.view().Entries {
		if e.ID == r[0].ID {
			require.NoError(t, json.Unmarshal(e.Body, &body))
		}
	}
	gone, err := body.Gone("Ines", one.flight.File.Frame)
	require.NoError(t, err)
	assert.Len(t, gone.Lines, 2, "what was not recorded was not walked")

	r = one.say("Ines", one.entry(Track, 330, object{"fixes": all[:1]}))
	assert.Contains(t, r[0].Message, "kept, and not yet a search")
	w := one.say("Ines", one.entry(Withdraw, 340, object{"of": "key-000001"}), one.entry(Track, 350, object{"recording": "key-000001", "fixes": all[:3]}),
		one.entry(Withdraw, 340, object{"of": "key-000001"}))
	assert.Equal(t, []State{Logged, Logged, Refused}, states(w))
	assert.Contains(t, w[1].Message, "this track was withdrawn")
	for _, bad := range []object{{}, {"fixes": []object{{"at": noon, "lat": 99, "lon": 0}}}, {"fixes": all, "recording": fmt.Sprintf("%0100d", 1)}} {
		assert.Equal(t, Refused, one.say("Ines", one.entry(Track, 1, bad))[0].State)
	}
}

// Positions are not logged; one that jumps is refused until the next agrees.
func TestPositions(t *testing.T) {
	c := newCrew(t)
	at := func(s, lat float64) json.RawMessage { return c.entry(Position, s, object{"lat": lat, "lon": -4.921}) }
	r := c.say("Ines", at(0, 41.905), at(10, 41.9051), at(5, 41.9050), at(15, 42.0), at(20, 41.9052), at(25, 42.0), at(30, 42.0001), at(35, 95))
	assert.Equal(t, []State{Logged, Logged, Known, Refused, Logged, Refused, Logged, Refused}, states(r))
	assert.Contains(t, r[3].Message, "10.5 km in 5 s: a position that jumps")
	places, n := c.field.Positions.All()
	assert.InDelta(t, 42.0001, places["Ines"].Lat, 1e-9)
	assert.NoFileExists(t, c.path, "nothing of it is logged")
	c.field.Positions.Forget("Ines")
	_, after := c.field.Positions.All()
	assert.Greater(t, after, n)
	c.say("Ines", at(40, 41.905))
	assert.Equal(t, 1, c.field.Positions.Wipe())
	places, _ = c.field.Positions.All()
	assert.Empty(t, places)
}

// A phone whose clock is an hour wrong is put right, and told.
func TestWrongClock(t *testing.T) {
	c := newCrew(t)
	now := noon.Add(10 * time.Minute)
	log := func(ahead time.Duration, entries ...json.RawMessage) ([]Result, time.Duration) {
		r, off, err := c.field.Log(c.flight, Who{"Ines"}, Batch{now.Add(ahead), entries}, now)
		require.NoError(t, err)
		return r, off
	}
	_, off := log(time.Hour, c.entry(Ignition, 3600, nil), c.entry(Timing, 3611, object{"event": "ejection"}))
	assert.Equal(t, time.Hour, off)
	assert.Contains(t, ClockWords(off), "1h0m0s ahead")
	assert.Contains(t, ClockWords(-off), "behind")
	assert.Empty(t, ClockWords(time.Second))
	assert.Equal(t, noon, c.view().Ignition.At.UTC())
	assert.Contains(t, c.says(), "timing Ines Ines: ejection at 10.77 s")
	late := c.entry(Find, 9999, object{"lat": 41.908, "lon": -4.92})
	log(0, late)
	assert.Equal(t, now, c.view().Finds[0].At.UTC(), "nothing is said in the future")
	again, _ := log(time.Hour, late)
	assert.Equal(t, Known, again[0].State, "the clock was set meanwhile")
}

// The same entries in any order, in batches of any size, any number of times,
// before and after a restart, come to the same, and each is there once.
func TestAnyOrder(t *testing.T) {
	dir := t.TempDir()
	n := 0
	rapid.Check(t, func(t *rapid.T) {
		n++
		sub := filepath.Join(dir, fmt.Sprint(n))
		require.NoError(t, os.MkdirAll(sub, 0o755))
		c := crewIn(t, sub)
		defer func() { c.field.Close() }()
		from := object{"lat": 41.904, "lon": -4.93}
		c.plan("Ana", planned(), 0)
		all := []json.RawMessage{
			c.entry(Ignition, 0, nil), c.entry(Timing, 11, object{"event": "ejection"}), c.entry(Timing, 40, object{"event": "landing"}),
			c.entry(Bearing, 30, object{"from": from, "bearing_deg": 80, "north": "true", "timed": true}),
			c.entry(Looked, 30, object{"looked": "open"}), c.entry(Find, 90, object{"lat": 41.908, "lon": -4.92}),
			c.entry(Lane, 50, object{"plan": 1, "block": "A1", "lane": 1, "state": "done"}),
			c.entry(Lane, 55, object{"plan": 1, "block": "A1", "lane": 1, "state": "open"}),
			c.entry(Lane, 60, object{"plan": 1, "block": "A1", "lane": 2, "state": "done"}),
			c.entry(Arrive, 1, object{"searcher": "Ines"}), c.entry(Leave, 70, object{"searcher": "Ines"}),
			c.entry(Track, 80, object{"recording": "walk-0001", "fixes": c.fixes(0, 100, 10)}),
			c.entry(Track, 85, object{"recording": "walk-0001", "fixes": c.fixes(105, 200, 10)}),
		}
		order := make([]int, len(all))
		for i := range order {
			order[i] = i
		}
		order = append(rapid.Permutation(order).Draw(t, "order"), rapid.SliceOfN(rapid.IntRange(0, len(all)-1), 0, 12).Draw(t, "again")...)
		var queue []json.RawMessage
		for _, i := range order {
			queue = append(queue, all[i])
		}
		seen := map[string]bool{}
		for len(queue) > 0 {
			k := rapid.IntRange(1, len(queue)).Draw(t, "batch")
			for i, r := range c.say("Ines", queue[:k]...) {
				want := Logged
				if seen[key(queue[i])] {
					want = Known
				}
				require.Equal(t, want, r.State, r.Message)
				seen[r.Key] = true
			}
			if rapid.Bool().Draw(t, "restart") {
				require.NoError(t, c.field.Close())
				c.open()
			}
			queue = queue[k:]
		}
		require.Equal(t, []string{
			"bearing Ines Ines: bearing 80 deg from 41.90400,-4.93000 at 30 s", "find Ines Ines found it at 41.908000, -4.920000", "ignition Ines ignition",
			"looked Ines Ines: looked open", "timing Ines Ines: ejection at 10.77 s", "timing Ines Ines: landing at 39.77 s",
			"track Ines Ines went over 0.2 km without a find, sweep width 38 m, in 3 min",
		}, c.says())
		v := c.view()
		require.Len(t, v.Progress, 1)
		require.Equal(t, 2, v.Progress[0].Lane)
		require.Equal(t, "left", v.Crew["Ines"].State)
	})
}

// The same key for something else is not logged, and said.
func TestKeyUsedTwice(t *testing.T) {
	c := newCrew(t)
	c.say("Ines", json.RawMessage(`{"key":"one-and-only","at":"2026-04-18T10:00:00Z","kind":"looked","looked":"open"}`))
	r := c.say("Ines", json.RawMessage(`{"key":"one-and-only","at":"2026-04-18T10:00:00Z","kind":"looked","looked":"fast"}`),
		json.RawMessage(`{"kind":"looked","looked":"open", "key":"one-and-only","at":"2026-04-18T10:00:00Z"}`))
	assert.Equal(t, []State{Conflict, Known}, states(r), "however it is written")
	assert.Contains(t, r[0].Message, "used before for something else")
	assert.Equal(t, []string{"looked Ines Ines: looked open"}, c.says())
}

// What others write into the logbook meanwhile is seen.
func TestWrittenElsewhere(t *testing.T) {
	c := newCrew(t)
	c.say("Ines", c.entry(Ignition, 0, nil))
	before := c.view().Version
	b, err := logbook.Open(c.path)
	require.NoError(t, err)
	defer b.Close()
	_, err = b.Add(nil, logbook.Entry{Flight: "a-1", Kind: logbook.Timing, By: "Ana", When: noon, Body: []byte(`{"event":"landing","at_s":90}`)})
	require.NoError(t, err)
	v := c.view()
	assert.Greater(t, v.Version, before)
	assert.Contains(t, c.says(), "timing Ana Ana: landing at 90 s")
	c.say("Ines", c.entry(Withdraw, 1, object{"id": 1}))
	assert.Len(t, c.says(), 1)
}

// A queue of ten thousand goes through, and is known when it comes again.
func TestLongQueue(t *testing.T) {
	c := newCrew(t)
	c.plan("Ana", planned(), 0)
	var queue []json.RawMessage
	for i := range 5000 {
		queue = append(queue, c.entry(Lane, float64(i)/100, object{"plan": 1, "block": "A1", "lane": 1 + i%3, "state": "done"}),
			c.entry(Track, 60, object{"recording": "walk-0001", "fixes": c.fixes(i*5, i*5, float64(i)/100)}))
	}
	for i, r := range c.say("Ines", queue...) {
		require.Equal(t, Logged, r.State, "%d: %s", i, r.Message)
	}
	for i, r := range c.say("Ines", queue...) {
		require.Equal(t, Known, r.State, "%d: %s", i, r.Message)
	}
	assert.Len(t, c.view().Progress, 3)
}
