package record

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/compare"
	"windfall/drift/evidence"
	"windfall/drift/learn"
	"windfall/drift/logbook"
	"windfall/search"
	"windfall/search/detect"
)

const flightText = `flight: heron-01
when: 2026-05-02T12:00:00+02:00
site: {pad: "41.9050, -4.9210", elevation: 700 m, ground: ../ground.geojson}
vehicle: {mass: 600 g, diameter: 54 mm, length: 1.2 m}
motor: {impulse: 100 N s, burn: 1.2 s, delay: 7 s, propellant: 60 g}
recovery: [{device: parachute, trigger: ejection, descent_rate: 5 m/s}]
wind: [{height: 2 m, from: 210 deg, speed: 9 mph}]
searchers: [{name: scout, kind: drone, speed: 6 m/s, height: 30 m, camera: {field_of_view: 72 deg, pixels: 3840}, sortie: 18 min, available: 60 min}]
target: {size: 1.2 m by 54 mm, colour: lime, seen_at: {short grass: 17 m}}
`

const ground = `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"kind":"no-go","name":"pond"},
"geometry":{"type":"Polygon","coordinates":[[[-4.90,41.90],[-4.89,41.90],[-4.89,41.91],[-4.90,41.90]]]}}]}`

const gpx = `<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>
<trkpt lat="41.9050" lon="-4.9210"></trkpt><trkpt lat="41.9060" lon="-4.9210"></trkpt></trkseg></trk></gpx>`

var stamp = Stamp{By: "Ines", Now: time.Date(2026, 5, 2, 14, 0, 0, 0, time.UTC), Version: "0", Seed: 1}

// heron is a flight in a folder of its own, the ground file above it, with an
// empty logbook.
func heron(t *testing.T) Source {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.Mkdir(filepath.Join(dir, "heron"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "ground.geojson"), []byte(ground), 0o644))
	path := filepath.Join(dir, "heron", "flight.yaml")
	require.NoError(t, os.WriteFile(path, []byte(flightText), 0o644))
	return Source{Flight: path, Logbook: filepath.Join(dir, "logbook.db")}
}

func read(t *testing.T, src Source) *Flight {
	t.Helper()
	f, err := Load(src)
	require.NoError(t, err)
	return f
}

func TestReading(t *testing.T) {
	src := heron(t)
	f := read(t, src)
	assert.Equal(t, "heron-01", f.Input.Flight.ID)
	assert.Nil(t, f.Input.Learned)
	assert.Empty(t, f.Input.Tracks)
	no := Source{Flight: "nowhere.yaml"}
	_, err := Load(no)
	assert.True(t, usage.Is(err))
	no = src
	no.Settings = []flightfile.Setting{{Key: "vehicle.mass", Value: "1 g"}}
	_, err = Load(no)
	assert.True(t, usage.Is(err), "heavier propellant than the whole")

	// A file that is no logbook is refused by all that would read or write it.
	require.NoError(t, os.WriteFile(src.Logbook, []byte("no logbook"), 0o644))
	_, err = Load(src)
	assert.Error(t, err)
	assert.Error(t, f.LoadLogged(src.Logbook))
	_, err = LearnFrom(context.Background(), src.Logbook)
	assert.Error(t, err)
	_, err = ReadVariants(src)
	assert.Error(t, err)
	_, err = AddTrack(src.Logbook, f.File, &Track{}, false, stamp)
	assert.Error(t, err)
	_, _, err = AddFind(src.Logbook, f.File, Find{}, 0, stamp)
	assert.Error(t, err)
	_, _, err = AddSighting(src.Logbook, f.File, evidence.Sighting{}, 0, stamp)
	assert.Error(t, err)
	_, err = Logged(src.Logbook, f.File)
	assert.Error(t, err)
	_, err = AddLearned(src.Logbook, "", &learn.Result{}, stamp)
	assert.Error(t, err)
}

// A track keeps who went it, how and by which law; a track of before laws were
// kept counts by the exponential one.
func TestTrackIsKept(t *testing.T) {
	src := heron(t)
	f := read(t, src)
	for _, c := range []struct {
		by    string
		kind  search.Kind
		notes int
	}{{"scout", search.Drone, 0}, {"Rui", search.Walker, 1}} {
		tr, err := ReadTrack(strings.NewReader(gpx), "walk.gpx", f, c.by, detect.InverseCube)
		require.NoError(t, err)
		assert.Equal(t, c.kind, tr.Searcher.Kind)
		assert.Len(t, tr.Notes, c.notes)
		assert.InDelta(t, 111.1, tr.LengthM, 0.2) // 0.001 degrees of latitude: 111.1 km a degree there (WGS 84)
		assert.Positive(t, tr.SweepWidth)
		st := stamp
		st.By = c.by
		_, err = AddTrack(src.Logbook, f.File, tr, c.by == "Rui", st)
		require.NoError(t, err)
		_, err = AddTrack(src.Logbook, f.File, tr, false, st)
		assert.ErrorContains(t, err, "this track is logged already, as entry 1")
	}
	got := read(t, src).Input.Tracks
	require.Len(t, got, 2)
	assert.Equal(t, "scout", got[0].By)
	assert.Equal(t, detect.InverseCube, got[0].Law)
	assert.Equal(t, search.Drone, got[0].Searcher.Kind)
	assert.InDelta(t, 111.1, got[0].Lines[0][1].Sub(got[0].Lines[0][0]).Norm(), 0.2)

	b, err := logbook.Open(src.Logbook)
	require.NoError(t, err)
	_, err = Amend(b, 1, "Ines", stamp.Now, map[string]json.RawMessage{"detection": []byte("null")})
	require.NoError(t, err)
	require.NoError(t, b.Close())
	assert.Equal(t, detect.Law(""), read(t, src).Input.Tracks[0].Law)

	_, err = ReadTrack(strings.NewReader("<gpx/>"), "walk.gpx", f, "Rui", "")
	assert.True(t, usage.Is(err))
}

// A track that cannot be read is left out, and said: it keeps no other from the
// map.
func TestUnreadableTracks(t *testing.T) {
	for body, says := range map[string]string{
		`{}`: "it has no geometry",
		`{"geometry":{"type":"Point","coordinates":[1,2]}}`:                                         "its geometry is no MultiLineString",
		`{"geometry":{"type":"MultiLineString","coordinates":[[[1,2],[1,3]]]},"detection":"eagle"}`: `detection "eagle" is not known`,
	} {
		src := heron(t)
		b, err := logbook.Open(src.Logbook)
		require.NoError(t, err)
		_, err = b.Add(nil, logbook.Entry{Flight: "heron-01", Kind: logbook.Track, When: stamp.Now, Body: []byte(body)})
		require.NoError(t, err)
		require.NoError(t, b.Close())
		f := read(t, src)
		assert.Empty(t, f.Input.Tracks)
		assert.Contains(t, strings.Join(f.Input.Cautions, "\n"), "entry 1 of the logbook is left out: "+says)
		assert.Error(t, CheckEntry(logbook.Entry{Kind: logbook.Track, Body: []byte(body)}))
	}
}

func TestSightingsAreKept(t *testing.T) {
	src := heron(t)
	f := read(t, src)
	deg, at := 80.0, f.File.Frame.Place(f.File.Frame.ToXY(f.Input.Flight.Site.Pad))
	s := evidence.Sighting{Kind: evidence.Bearing{Observer: evidence.Observer{From: &at}, BearingDeg: &deg}}
	require.NoError(t, s.Ready())
	entry, _, err := AddSighting(src.Logbook, f.File, s, 0, stamp)
	require.NoError(t, err)
	assert.Equal(t, logbook.Sighting, entry.Kind)
	assert.Contains(t, Sentence(entry), "bearing 80 deg")

	old, by, err := OldSighting(src.Logbook, f.File, entry.ID)
	require.NoError(t, err)
	assert.Equal(t, "Ines", by)
	assert.Equal(t, 80.0, *old.Kind.(evidence.Bearing).BearingDeg)
	sure := 0.5
	old.Sure = &sure
	entry, _, err = AddSighting(src.Logbook, f.File, old, entry.ID, stamp)
	require.NoError(t, err)
	assert.Equal(t, 2, entry.Revision)
	require.Len(t, read(t, src).Input.Sightings, 1)

	_, _, err = OldSighting(src.Logbook, f.File, 7)
	assert.ErrorContains(t, err, "flight heron-01 has no entry 7; it has 1")
	_, _, err = AddSighting(src.Logbook, f.File, s, 7, stamp)
	assert.ErrorContains(t, err, "has no entry 7")
	_, err = Withdraw(src.Logbook, f.File, 1, stamp)
	require.NoError(t, err)
	_, err = Withdraw(src.Logbook, f.File, 1, stamp)
	assert.ErrorContains(t, err, "entry 1 is withdrawn already")
	all, err := Logged(src.Logbook, f.File)
	require.NoError(t, err)
	assert.Empty(t, all)
	assert.NotNil(t, all)
}

// What cannot be used of a spoilt entry is left out when it is amended, and a
// correction that would spoil one is refused.
func TestSpoiltEntries(t *testing.T) {
	src := heron(t)
	f := read(t, src)
	b, err := logbook.Open(src.Logbook)
	require.NoError(t, err)
	defer b.Close()
	text := func(v string) json.RawMessage { return json.RawMessage(v) }
	_, err = b.Add(nil, logbook.Entry{Flight: "heron-01", Kind: logbook.Sighting, By: "Ana", When: stamp.Now,
		Body: text(`{"from":{"lat":41.9,"lon":-4.92},"bearing_deg":400,"at_s":"soon","colour":"red","note":"x"}`)},
		logbook.Entry{Flight: "heron-01", Kind: logbook.Track, When: stamp.Now,
			Body: text(`{"geometry":{"type":"MultiLineString","coordinates":[[[1,2],[1,3]]]}}`)})
	require.NoError(t, err)
	s, by, err := OldSighting(src.Logbook, f.File, 1)
	require.NoError(t, err)
	assert.Equal(t, "Ana", by)
	assert.Equal(t, "x", s.Note)
	was, ok := s.Kind.(evidence.Bearing)
	require.True(t, ok)
	assert.Equal(t, 400.0, *was.BearingDeg)
	assert.Equal(t, 41.9, was.From.Lat)
	assert.Nil(t, was.At)

	amend := func(id int64, set map[string]json.RawMessage) error {
		_, err := Amend(b, id, "Ines", stamp.Now, set)
		return err
	}
	err = amend(1, map[string]json.RawMessage{"bearing_deg": text("40")})
	assert.ErrorContains(t, err, `unknown field "colour"`)
	assert.ErrorContains(t, err, "--set KEY= takes a key out")
	require.NoError(t, amend(1, map[string]json.RawMessage{"bearing_deg": text("40"), "at_s": text(`""`),
		"colour": text("null")}))
	require.Len(t, read(t, src).Input.Sightings, 1)

	for key, c := range map[string][2]string{
		"sweep_width_m": {"-5", "sweep_width_m -5 is below zero"},
		"length_m":      {`"far"`, "length_m is a string"},
		"searcher":      {`{"kind":"dog"}`, `searcher.kind "dog" is not known; write walker or drone`},
		"colour":        {`"red"`, "entry 2 is a track, which has no \"colour\"; write one of geometry, searcher"},
		"geometry":      {"", "has no geometry"},
	} {
		err := amend(2, map[string]json.RawMessage{key: text(cmp.Or(c[0], "null"))})
		assert.ErrorContains(t, err, c[1])
		assert.True(t, usage.Is(err))
	}
	h, err := b.History(2)
	require.NoError(t, err)
	assert.Len(t, h, 1)
}

func TestFindsAndLearning(t *testing.T) {
	src := heron(t)
	f := read(t, src)
	find := Find{Lat: 41.9096, Lon: -4.9180}
	entry, cautions, err := AddFind(src.Logbook, f.File, find, 0, stamp)
	require.NoError(t, err)
	assert.Empty(t, cautions)
	_, cautions, err = AddFind(src.Logbook, f.File, Find{Lat: 41.9, Lon: -4.9, Part: "pod"}, 0, stamp)
	require.NoError(t, err)
	assert.Empty(t, cautions, "a part is another thing")
	_, cautions, err = AddFind(src.Logbook, f.File, find, 0, stamp)
	require.NoError(t, err)
	require.Len(t, cautions, 1)
	assert.Contains(t, cautions[0], "entry 1 is a find of the same already")
	entry, _, err = AddFind(src.Logbook, f.File, Find{Lat: 41.91, Lon: -4.918, Outcome: "tangled"}, entry.ID, stamp)
	require.NoError(t, err)
	assert.Equal(t, 2, entry.Revision)
	_, _, err = AddFind(src.Logbook, f.File, find, 2000, stamp)
	assert.ErrorContains(t, err, "--instead-of 2000: that is not a find of heron-01")
	assert.True(t, usage.Is(err))
	_, _, err = OldSighting(src.Logbook, f.File, 1)
	assert.ErrorContains(t, err, "entry 1 is a find, not a sighting")

	// The last find of the vehicle is the case, by the inputs stored with it,
	// whatever becomes of the files.
	require.NoError(t, os.WriteFile(src.Flight, []byte("spoilt"), 0o644))
	finds, err := LearnFrom(context.Background(), src.Logbook)
	require.NoError(t, err)
	require.Len(t, finds.Cases, 1)
	require.Len(t, finds.LeftOut, 1, "the pod is no part of the flight")
	assert.Contains(t, finds.LeftOut[0], `the flight file has no part "pod"`)
	assert.Equal(t, "heron-01", finds.Cases[0].Flight)
	require.NoError(t, os.WriteFile(src.Flight, []byte(flightText), 0o644))

	post, err := learn.Fit(context.Background(), finds.Cases, nil, learn.Options{Seed: 1})
	require.NoError(t, err)
	r, err := post.Report(context.Background(), learn.Options{Seed: 1})
	require.NoError(t, err)
	id, err := AddLearned(src.Logbook, finds.Digest, r, stamp)
	require.NoError(t, err)
	f = read(t, src)
	require.NotNil(t, f.Input.Learned)
	assert.Equal(t, id, f.Input.Learned.ID)
	assert.NotContains(t, strings.Join(f.Input.Cautions, "\n"), "has changed since")
	src.NoLearning = true
	assert.Nil(t, read(t, src).Input.Learned)
	src.NoLearning = false

	_, _, err = AddFind(src.Logbook, f.File, find, 0, stamp)
	require.NoError(t, err)
	f = read(t, src)
	assert.Contains(t, strings.Join(f.Input.Cautions, "\n"), "what the logbook teaches has changed since the last learning")

	v, err := ReadVariants(src)
	require.NoError(t, err)
	c, err := v.Flight([]compare.Setting{{Key: "motor.delay", Value: "8 s"}})
	require.NoError(t, err)
	assert.Equal(t, 8.0, *c.Model.Flight().Motor.Delay)
	_, err = v.File(compare.Setting{Key: "motor.delay", Value: "eight"})
	assert.True(t, usage.Is(err))
}

// A find without inputs of its own takes the flight's latest, and one of a
// flight that the logbook does not know is left out with the reason.
func TestFindsWithoutInputs(t *testing.T) {
	src := heron(t)
	f := read(t, src)
	in, err := Inputs(f.File, stamp)
	require.NoError(t, err)
	b, err := logbook.Open(src.Logbook)
	require.NoError(t, err)
	body := []byte(`{"lat":41.9096,"lon":-4.918}`)
	_, err = b.Add(in, logbook.Entry{Flight: "heron-01", Kind: logbook.Timing, When: stamp.Now, Body: []byte(`{"event":"landing","at_s":90}`)})
	require.NoError(t, err)
	_, err = b.Add(nil, logbook.Entry{Flight: "heron-01", Kind: logbook.Find, When: stamp.Now, Body: body},
		logbook.Entry{Flight: "egret-02", Kind: logbook.Find, When: stamp.Now, Body: body})
	require.NoError(t, err)
	require.NoError(t, b.Close())
	finds, err := LearnFrom(context.Background(), src.Logbook)
	require.NoError(t, err)
	assert.Len(t, finds.Cases, 1)
	require.Len(t, finds.LeftOut, 1)
	assert.Contains(t, finds.LeftOut[0], "egret-02 (entry 3): its flight file is not in the logbook")
}

// Inputs come back byte for byte, those above the flight's folder above it; one
// that would lie outside is not written.
func TestInputsComeBack(t *testing.T) {
	src := heron(t)
	in, err := Inputs(read(t, src).File, stamp)
	require.NoError(t, err)
	dir := t.TempDir()
	main, err := WriteInputs(in, dir)
	require.NoError(t, err)
	got, err := os.ReadFile(main)
	require.NoError(t, err)
	assert.Equal(t, flightText, string(got))
	got, err = os.ReadFile(filepath.Join(dir, "ground.geojson"))
	require.NoError(t, err)
	assert.Equal(t, ground, string(got))

	in.Files = append(in.Files, logbook.File{Name: "/etc/passwd", Bytes: []byte("x")})
	_, err = WriteInputs(in, t.TempDir())
	assert.NoError(t, err, "a full path stays where it is")
	in.Files = append(in.Files, logbook.File{Name: strings.Repeat("../", 30) + "x", Bytes: []byte("x")})
	_, err = WriteInputs(in, t.TempDir())
	assert.ErrorContains(t, err, "would lie outside")
}

func TestList(t *testing.T) {
	src := heron(t)
	f := read(t, src)
	list := func(q logbook.Query, format string) (string, error) {
		b, err := logbook.OpenRead(src.Logbook)
		require.NoError(t, err)
		defer b.Close()
		var out bytes.Buffer
		err = List(&out, b, q, format)
		return out.String(), err
	}
	out, err := list(logbook.Query{}, "")
	require.NoError(t, err)
	assert.Equal(t, "the logbook is empty\n", out)
	_, _, err = AddFind(src.Logbook, f.File, Find{Lat: 41.9096, Lon: -4.918}, 0, stamp)
	require.NoError(t, err)
	_, _, err = AddFind(src.Logbook, f.File, Find{Lat: 41.9097, Lon: -4.918}, 1, stamp)
	require.NoError(t, err)
	at := stamp.Now.Local().Format(minute)
	for _, c := range []struct {
		q      logbook.Query
		format string
		want   []string
	}{
		{logbook.Query{}, "", []string{"heron-01", "         0      0     1\n"}},
		{logbook.Query{Flight: "heron-01"}, "", []string{"seed 1, auto runs\n", "flight.yaml", "Ines found it at 41.909700, -4.918000", "amended " + at + " Ines", "Ines found it at 41.909600"}},
		{logbook.Query{By: "Ines"}, "", []string{"    1  " + at + "  heron-01  Ines found it at 41.909700, -4.918000\n"}},
		{logbook.Query{}, "csv", []string{"heron-01,find,Ines,"}},
		{logbook.Query{}, "geojson", []string{`"FeatureCollection"`}},
		{logbook.Query{Flight: "heron-01"}, "json", []string{`"entries"`, `"inputs"`, `"../ground.geojson"`}},
	} {
		out, err := list(c.q, c.format)
		require.NoError(t, err)
		for _, w := range c.want {
			assert.Contains(t, out, w)
		}
	}
	b, err := logbook.Open(src.Logbook)
	require.NoError(t, err)
	defer b.Close()
	require.NoError(t, b.Write(func(tx *logbook.Tx) error {
		_, err := tx.AddNote(logbook.Note{Flight: "heron-09", Kind: "arrive", By: "Ana", When: stamp.Now, Body: []byte(`{"searcher":"west"}`)})
		return err
	}))
	out, err = list(logbook.Query{Flight: "heron-09"}, "")
	require.NoError(t, err)
	assert.Equal(t, "heron-09\n note  "+at+"  arrive by Ana  searcher:west\n", out)
	out, err = list(logbook.Query{Flight: "heron-09"}, "json")
	require.NoError(t, err)
	assert.Contains(t, out, `"searcher": "west"`)
	_, err = list(logbook.Query{Flight: "egret-02"}, "")
	assert.ErrorContains(t, err, `the logbook has no flight "egret-02"`)
}
