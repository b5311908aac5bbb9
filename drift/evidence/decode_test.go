package evidence

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/geo"
)

// What the logbook keeps comes back as it was.
func TestDecode(t *testing.T) {
	s := Sighting{ID: 3, By: "Ana", Kind: Bearing{Observer: Observer{From: &geo.Place{Lat: 39, Lon: -5}}, BearingDeg: ptr(47), Moment: Moment{Event: "landing"}}, Note: "behind the barn"}
	require.NoError(t, s.Ready())
	body, err := json.Marshal(s)
	require.NoError(t, err)
	assert.NotContains(t, string(body), "Ana", "name, kind and id are the entry's")
	got, ok, err := Decode(3, "Ana", "sighting", body)
	require.NoError(t, err)
	require.True(t, ok)
	assert.Equal(t, s, got)

	_, ok, err = Decode(3, "Ana", "track", []byte("{}"))
	assert.NoError(t, err)
	assert.False(t, ok)
	_, ok, err = Decode(3, "Ana", "find", []byte(`{"lat":39,"lon":-5}`))
	assert.NoError(t, err)
	assert.False(t, ok, "the vehicle itself is no evidence")
	_, _, err = Decode(3, "Ana", "timing", []byte(`{"event":"landing","at_s":31,"mood":"good"}`))
	assert.ErrorContains(t, err, "mood")
}

// From the logbook an error names its key, from elsewhere the field.
func TestErrorsNameFields(t *testing.T) {
	for body, says := range map[string]string{
		`{"event":"landing","at_s":-1}`:                          "at_s -1 is not possible",
		`{"event":"landing","at_s":1,"time_sd_s":-1}`:            "time_sd_s -1 is not possible",
		`{"event":"landing"}`:                                    "event with at_s, after_s or before_s",
		`{"event":"landing","at_s":1,"since":"lunch"}`:           `since "lunch" is not known`,
		`{"event":"landing","at_s":9,"from":{"lat":91,"lon":0}}`: "from 91 is not possible",
		`{"event":"{at}","at_s":9}`:                              `event "{at}" is not known`,
		`{"event":"landing","at_s":9,"before_s":9}`:              "at_s 9 s and an interval (after_s, before_s)",
		`{"event":"landing","at_s":9,"heard":true}`:              "heard needs from",
		`{"event":"landing","after_s":9,"before_s":8,"sure":1}`:  "after_s 9 s is not earlier than before_s 8 s",
	} {
		_, _, err := Decode(1, "", "timing", []byte(body))
		assert.ErrorContains(t, err, says)
	}
	s := Sighting{Kind: Bearing{BearingDeg: ptr(7)}}
	assert.EqualError(t, s.Ready(), "a bearing needs from (a place) and bearing (degrees)")
}

func TestReadAreas(t *testing.T) {
	const ring = `[[[0,0],[1,0],[1,1]]]`
	for _, good := range []string{
		`{"type":"Polygon","coordinates":` + ring + `}`,
		`{"type":"Feature","properties":null,"geometry":{"type":"Polygon","coordinates":` + ring + `}}`,
		`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":{"type":"MultiPolygon","coordinates":[` + ring + `]}}]}`,
	} {
		area, err := readAreas([]byte(good))
		require.NoError(t, err, good)
		require.Len(t, area, 1)
		assert.Len(t, area[0][0], 4, "closed")
	}
	for text, want := range map[string]string{
		`[`:                                    "not JSON",
		`{"type":"Point","coordinates":[0,0]}`: "holds no polygon",
		`{"type":"FeatureCollection","features":[]}`:                "holds no polygon",
		`{"type":"Polygon","coordinates":[]}`:                       "no ring",
		`{"type":"Polygon","coordinates":[[[0,0],[1,0],[0,0]]]}`:    "2 different points",
		`{"type":"Polygon","coordinates":[[[0,0],[500,0],[0,30]]]}`: "not longitude, latitude",
	} {
		_, err := readAreas([]byte(text))
		assert.ErrorContains(t, err, want, text)
	}
}

// Whatever the bytes, the reader does not panic, and what it accepts it
// accepts again as it would be written.
func FuzzReadAreas(f *testing.F) {
	f.Add([]byte(`{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1]]]}`))
	f.Add([]byte(`{"type":"FeatureCollection","features":[null,{"type":"Feature","geometry":null}]}`))
	f.Add([]byte(`{"type":"GeometryCollection","geometries":[]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		area, err := readAreas(data)
		if err != nil {
			return
		}
		out, err := json.Marshal(map[string]any{"type": "MultiPolygon", "coordinates": area})
		require.NoError(t, err)
		again, err := readAreas(out)
		require.NoError(t, err)
		assert.Equal(t, area, again)
	})
}

// The same for a logbook body.
func FuzzDecode(f *testing.F) {
	f.Add("sighting", []byte(`{"from":{"lat":39,"lon":-5,"east_m":0,"north_m":0},"bearing_deg":47,"event":"landing"}`))
	f.Add("timing", []byte(`{"event":"landing","at_s":92}`))
	f.Add("height", []byte(`{"event":"apogee","height_m":310}`))
	f.Add("nothing-in", []byte(`{"geometry":{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,0]]]},"sure":0.8}`))
	f.Add("find", []byte(`{"part":"pod","lat":39,"lon":-5}`))
	f.Fuzz(func(t *testing.T, kind string, body []byte) {
		s, ok, err := Decode(1, "x", kind, body)
		if err != nil || !ok || kind == "find" {
			return
		}
		out, err := json.Marshal(s)
		require.NoError(t, err)
		again, ok, err := Decode(1, "x", kind, out)
		require.NoError(t, err)
		require.True(t, ok)
		assert.Equal(t, s, again)
	})
}
