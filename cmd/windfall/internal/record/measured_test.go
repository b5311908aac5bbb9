package record

import (
	"bytes"
	"context"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/measured"
	"windfall/drift"
	"windfall/drift/logbook"
	"windfall/geo"
)

// What was measured and cannot be read counts for nothing, which is said; a
// withdrawn drop leaves the flight as it was.
func TestMeasuredEntries(t *testing.T) {
	src := heron(t)
	f := read(t, src)
	assert.Empty(t, f.Input.Measured)
	m, err := measured.Read(measured.Words{"drop": "30 m", "time": "5.6 s"}, f.File, f.Input.Model)
	require.NoError(t, err)
	x, _, err := AddMeasured(src.Logbook, f.File, m, stamp)
	require.NoError(t, err)
	assert.Contains(t, Sentence(x), "Ines: the parachute fell 30 m in 5.60 s under 540 g")
	f = read(t, src)
	require.Len(t, f.Input.Measured, 1)
	assert.Contains(t, f.Input.Measured[0], "parachute drag: ")
	assert.Len(t, f.Input.Flight.Learned.Devices, 1)

	b, err := logbook.Open(src.Logbook)
	require.NoError(t, err)
	_, err = b.Add(nil, logbook.Entry{Flight: "heron-01", Kind: logbook.Measured, When: stamp.Now, Body: []byte(`{"what":"mass"}`)})
	require.NoError(t, err)
	require.NoError(t, b.Close())
	f = read(t, src)
	assert.Len(t, f.Input.Measured, 1)
	assert.Contains(t, strings.Join(f.Input.Cautions, "\n"), "entry 2 of the logbook is left out: of is missing")

	_, err = Withdraw(src.Logbook, f.File, x.ID, stamp)
	assert.ErrorContains(t, err, "entry 1 is a measurement, not a sighting")
	_, err = Withdraw(src.Logbook, f.File, x.ID, stamp, logbook.Measured)
	require.NoError(t, err)
	assert.Empty(t, read(t, src).Input.Measured)
	src.NoLearning = true
	assert.Empty(t, read(t, src).Input.Cautions)
}

// The lists say how well a map had done, for finds that were judged alone.
func TestJudgedFindsAreSaid(t *testing.T) {
	src := heron(t)
	f := read(t, src)
	e, _, err := AddFind(src.Logbook, f.File, Find{Lat: 41.9096, Lon: -4.918, Outcome: "nominal"}, 0, stamp)
	require.NoError(t, err)
	list := func(q logbook.Query) string {
		b, err := logbook.OpenRead(src.Logbook)
		require.NoError(t, err)
		defer b.Close()
		var out bytes.Buffer
		require.NoError(t, List(&out, b, q, ""))
		return out.String()
	}
	assert.NotContains(t, list(logbook.Query{}), "the last find lay")
	for body, says := range map[string]string{
		`{"miss_m":121.6,"level":0.6,"inside":[0.75,0.9,0.95]}`: "inside the 75 % area, 122 m from the map's middle",
		`{"miss_m":900,"level":0.99,"inside":[]}`:               "outside the 95 % area, 900 m from the map's middle",
	} {
		b, err := logbook.Open(src.Logbook)
		require.NoError(t, err)
		require.NoError(t, b.Judge(e, stamp.Now, []byte(body)))
		require.NoError(t, b.Close())
		assert.Contains(t, list(logbook.Query{Flight: "heron-01"}), "Ines found it at 41.909600, -4.918000, nominal; "+says)
		assert.Contains(t, list(logbook.Query{}), "the last find lay\nheron-01")
		assert.Contains(t, list(logbook.Query{}), says)
		e, _, err = AddFind(src.Logbook, f.File, Find{Lat: 41.9097, Lon: -4.918}, e.ID, stamp) // corrected: judged anew
		require.NoError(t, err)
		assert.NotContains(t, list(logbook.Query{}), "m from the map's middle")
		e, _, err = AddFind(src.Logbook, f.File, Find{Lat: 41.9096, Lon: -4.918, Outcome: "nominal"}, e.ID, stamp)
		require.NoError(t, err)
	}
}

// A flight that is learned from was as heavy as the scales say.
func TestLessonsAreAsMeasured(t *testing.T) {
	src := heron(t)
	f := read(t, src)
	_, _, err := AddFind(src.Logbook, f.File, Find{Lat: 41.9096, Lon: -4.9180}, 0, stamp)
	require.NoError(t, err)
	lands := func() geo.XY {
		all, err := LearnFrom(context.Background(), src.Logbook)
		require.NoError(t, err)
		require.Len(t, all.Cases, 1)
		c := &all.Cases[0]
		at, ok := c.Fly()(drift.Input{Z: make([]float64, c.Dim)})
		require.True(t, ok)
		return at
	}
	was := lands()
	m, err := measured.Read(measured.Words{"mass": "700 g"}, f.File, f.Input.Model)
	require.NoError(t, err)
	_, _, err = AddMeasured(src.Logbook, f.File, m, stamp)
	require.NoError(t, err)
	now := lands()
	assert.Less(t, now.Norm(), was.Norm()-10, "a heavier one goes less high and sinks faster")
	weighed := read(t, src)
	at := weighed.Input.Model.Fly(drift.Input{Z: make([]float64, len(weighed.Input.Model.Coords()))}, &drift.Work{}).At
	assert.InDelta(t, 0, at.Sub(now).Norm(), 1e-6, "as the maps have it")
}

// What is read of a flight is said key by key, with what it takes for granted.
func TestUnderstand(t *testing.T) {
	src := heron(t)
	text := strings.Replace(flightText, "site: {", "site: {map: club.mbtiles, ", 1)
	require.NoError(t, os.WriteFile(src.Flight, []byte(text), 0o644))
	f := read(t, src)
	m, err := measured.Read(measured.Words{"mass": "620 g"}, f.File, f.Input.Model)
	require.NoError(t, err)
	_, _, err = AddMeasured(src.Logbook, f.File, m, stamp)
	require.NoError(t, err)
	r := Understand(read(t, src))
	said := map[string]string{}
	for _, l := range r.Understood {
		said[l.Key] = l.Says
	}
	assert.Equal(t, "heron-01", said["flight"])
	assert.Contains(t, said["vehicle"], "0.62 kg, 54 mm across")
	assert.Contains(t, said["ground"], "1 no-go area")
	assert.Contains(t, said["base map"], "club.mbtiles")
	assert.Contains(t, said["measured"], "mass of the vehicle: 620 g as weighed, the file has 600 g")
	assert.Contains(t, said["searcher"], "scout, drone")
	assert.NotEmpty(t, r.Assumptions)
	assert.Contains(t, r.Files, f.File.Path)
}

// Entries read from elsewhere are held to what the commands hold them to.
func TestCheckEntry(t *testing.T) {
	for _, c := range []struct {
		kind       logbook.Kind
		body, says string // "": taken
	}{
		{logbook.Measured, `{"what":"delay","delay_s":6.4,"delay_sd_s":0.2,"file_delay_s":7}`, ""},
		{logbook.Measured, `{"what":"delay","delay_s":640,"delay_sd_s":0.2,"file_delay_s":7}`, "delay_s 640"},
		{logbook.Measured, `{"what":"colour"}`, "write drag, mass, delay or lean"},
		{logbook.Timing, `{"event":"landing","at_s":92}`, ""},
		{logbook.Timing, `{"event":"landing","at_s":"late"}`, "at_s is a string"},
		{logbook.Track, `{"geometry":7}`, "geometry"},
	} {
		err := CheckEntry(logbook.Entry{Flight: "heron-01", Kind: c.kind, By: "Ines", When: stamp.Now, Body: []byte(c.body)})
		if c.says == "" {
			assert.NoError(t, err, c.body)
		} else {
			assert.ErrorContains(t, err, c.says, c.body)
		}
	}
}
