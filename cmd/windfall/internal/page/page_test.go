package page

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/getkin/kin-openapi/routers/legacy"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const flightText = `# ours
flight: a-1
when: 2026-04-18T11:20:00+02:00
site:
  pad: 41.9050, -4.9210   # by the oak
  elevation: 741 m
  field: field.geojson
rail: {length: 2.4 m, lean: 3 deg, toward: 190 deg}
vehicle: {mass: 1.46 kg, diameter: 66 mm, length: 1.42 m, drag: 0.55}
motor: {designation: H134-8, impulse: 208 N s, burn: 1.55 s, propellant: 110 g}
recovery:
  - {device: streamer, trigger: ejection, width: 220 mm, length: 4.2 m, drag: 0.15}
wind:
  - {height: 10 m, from: 185 deg, speed: 5 m/s}
`

const fieldText = `{"type": "FeatureCollection", "features": [
 {"type": "Feature", "properties": {"name": "ours"}, "geometry": {"type": "Polygon", "coordinates": [[[-4.93, 41.90], [-4.91, 41.90], [-4.91, 41.912], [-4.93, 41.912], [-4.93, 41.90]]]}}
]}
`

// client speaks to a page in a folder of its own, and holds every request and
// answer to docs/api.yaml.
type client struct {
	t    *testing.T
	dir  string
	page *Server
	api  routers.Router
	now  func() time.Time
	said int // keys made
}

func newClient(t *testing.T, change ...func(*Options)) *client {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "flight.yaml"), []byte(flightText), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "field.geojson"), []byte(fieldText), 0o644))
	o := Options{Flight: filepath.Join(dir, "flight.yaml"), Logbook: filepath.Join(dir, "logbook.db"), Run: func(context.Context, Command) error { return nil }}
	for _, c := range change {
		c(&o)
	}
	s, err := New(o)
	require.NoError(t, err)
	t.Cleanup(s.Close)
	s.doors.hosts["page.test"] = true
	doc, err := openapi3.NewLoader().LoadFromFile("../../../../docs/api.yaml")
	require.NoError(t, err)
	require.NoError(t, doc.Validate(context.Background()))
	api, err := legacy.NewRouter(doc)
	require.NoError(t, err)
	return &client{t: t, dir: dir, page: s, api: api, now: time.Now}
}

// ask sends a request and returns the answer's status and body.
func (c *client) ask(method, path string, body any, change ...func(*http.Request)) (int, []byte) {
	c.t.Helper()
	var in []byte
	switch b := body.(type) {
	case nil:
	case []byte:
		in = b
	default:
		var err error
		in, err = json.Marshal(b)
		require.NoError(c.t, err)
	}
	r := httptest.NewRequest(method, "http://page.test/api/v1"+path, bytes.NewReader(in))
	if _, raw := body.([]byte); raw {
		r.Header.Set("Content-Type", "application/octet-stream")
	} else if body != nil {
		r.Header.Set("Content-Type", "application/json")
	}
	for _, f := range change {
		f(r)
	}
	w := httptest.NewRecorder()
	c.page.Handler().ServeHTTP(w, r)
	r.Body = io.NopCloser(bytes.NewReader(in))
	c.held(r, w)
	return w.Code, w.Body.Bytes()
}

// held checks an exchange against docs/api.yaml.
func (c *client) held(r *http.Request, w *httptest.ResponseRecorder) {
	c.t.Helper()
	r.URL = &url.URL{Path: r.URL.Path, RawQuery: r.URL.RawQuery}
	route, params, err := c.api.FindRoute(r)
	if !assert.NoError(c.t, err, "%s %s is not in docs/api.yaml", r.Method, r.URL.Path) {
		return
	}
	in := &openapi3filter.RequestValidationInput{Request: r, PathParams: params, Route: route, Options: &openapi3filter.Options{IncludeResponseStatus: true, ExcludeRequestBody: strings.HasPrefix(r.URL.Path, "/api/v1/files/")}}
	if w.Code < 300 {
		assert.NoError(c.t, openapi3filter.ValidateRequest(context.Background(), in), "%s %s", r.Method, r.URL.Path)
	}
	if strings.HasPrefix(r.URL.Path, "/api/v1/files/") && r.Method == http.MethodGet && w.Code == 200 {
		return // any file
	}
	out := &openapi3filter.ResponseValidationInput{RequestValidationInput: in, Status: w.Code, Header: w.Header(), Options: in.Options}
	out.SetBodyBytes(w.Body.Bytes())
	assert.NoError(c.t, openapi3filter.ValidateResponse(context.Background(), out), "%s %s: %s", r.Method, r.URL.Path, w.Body)
}

// get asks for a document that must be there.
func get[T any](c *client, method, path string, body any) T {
	c.t.Helper()
	status, out := c.ask(method, path, body)
	require.Less(c.t, status, 300, "%s %s: %s", method, path, out)
	var v T
	require.NoError(c.t, json.Unmarshal(out, &v))
	return v
}

type object = map[string]any

// draft is what a page sends of the flight as it is saved, with changes.
func (c *client) draft(edits ...object) object {
	f := get[flightDoc](c, "GET", "/flight", nil)
	if edits == nil {
		edits = []object{}
	}
	return object{"base": f.Hash, "edits": edits}
}

func with(o object, more object) object {
	for k, v := range more {
		o[k] = v
	}
	return o
}

func (c *client) file(name string) string {
	b, err := os.ReadFile(filepath.Join(c.dir, name))
	require.NoError(c.t, err)
	return string(b)
}

// message is what an answer says is wrong.
func message(b []byte) string {
	var v struct{ Message string }
	json.Unmarshal(b, &v)
	return v.Message
}

func TestFlight(t *testing.T) {
	c := newClient(t)
	f := get[flightDoc](c, "GET", "/flight", nil)
	assert.Equal(t, flightText, f.Text)
	assert.Equal(t, "1.46 kg", f.Values["vehicle"].(object)["mass"])
	assert.JSONEq(t, fieldText, string(f.Drawn["field"]))
	assert.Equal(t, "null", string(f.Drawn["ground"]))
	assert.Equal(t, map[string]string{"field": "field.geojson", "ground": "ground.geojson"}, f.DrawnFile)
	assert.InDelta(t, 41.905, f.Pad.Lat, 1e-12)
	assert.Nil(t, f.Fault)
	assert.True(t, f.MayChange)
}

// What is saved is what was asked for, with every other byte as it was.
func TestSave(t *testing.T) {
	c := newClient(t)
	ground := `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"kind":"barrier","name":"wall"},"geometry":{"type":"LineString","coordinates":[[-4.92,41.906],[-4.915,41.907]]}}]}`
	f := get[flightDoc](c, "PUT", "/flight", with(c.draft(object{"key": "rail.lean", "value": `"6 deg"`}, object{"key": "site.ground", "value": `"ground.geojson"`}),
		object{"drawn": object{"ground": object{"base": "", "shapes": json.RawMessage(ground)}}}))
	want := strings.Replace(strings.Replace(flightText, "lean: 3 deg", "lean: 6 deg", 1), "  field: field.geojson\n", "  field: field.geojson\n  ground: ground.geojson\n", 1)
	assert.Equal(t, want, c.file("flight.yaml"))
	assert.Equal(t, want, f.Text)
	assert.JSONEq(t, ground, c.file("ground.geojson"))
	assert.Equal(t, 3, strings.Count(c.file("ground.geojson"), "\n"), "a shape a line")
	assert.Equal(t, fieldText, c.file("field.geojson"))
}

// What is wrong is said with its place, and nothing is written.
func TestSaveRefuses(t *testing.T) {
	c := newClient(t)
	bow := `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":{"type":"Polygon","coordinates":[[[-4.93,41.90],[-4.91,41.912],[-4.91,41.90],[-4.93,41.912],[-4.93,41.90]]]}}]}`
	for _, x := range []struct {
		name  string
		draft object
		field string
		says  string
	}{
		{"no unit", c.draft(object{"key": "rail.lean", "value": `"6"`}), "rail.lean", "has no unit"},
		{"cannot be", c.draft(object{"key": "vehicle.mass", "value": `"5000 kg"`}), "vehicle.mass", "cannot be"},
		{"not a key", c.draft(object{"key": "vehicle.mas", "value": `"5 kg"`}), "vehicle.mas", "did you mean mass"},
		{"a later stage", c.draft(object{"key": "motor.impulse", "value": `"0.3 N s"`}), "", ""},
		{"a drawing that crosses itself", with(c.draft(), object{"drawn": object{"field": object{"base": hashOf([]byte(fieldText)), "shapes": json.RawMessage(bow)}}}), "", "field.geojson: feature 1: "},
		{"a side file that is not there", c.draft(object{"key": "wind", "value": `"gone.csv"`}), "wind", "no such file"},
	} {
		status, b := c.ask("PUT", "/flight", x.draft)
		assert.Equal(t, http.StatusUnprocessableEntity, status, "%s: %s", x.name, b)
		var doc struct{ Fault fault }
		require.NoError(t, json.Unmarshal(b, &doc), x.name)
		if x.says != "" {
			assert.Equal(t, x.field, doc.Fault.Field, x.name)
			assert.Contains(t, doc.Fault.Message, x.says, x.name)
		}
	}
	assert.Equal(t, flightText, c.file("flight.yaml"))
	assert.Equal(t, fieldText, c.file("field.geojson"))
	status, b := c.ask("PUT", "/flight", object{"base": "nonsense", "edits": []object{}})
	assert.Equal(t, http.StatusGone, status)
	assert.Contains(t, message(b), "load the page again")
}

// A change made elsewhere is never overwritten: both are shown, and the change
// can be put into the newer file.
func TestSaveAfterAChangeElsewhere(t *testing.T) {
	c := newClient(t)
	mine := c.draft(object{"key": "rail.lean", "value": `"6 deg"`})
	theirs := strings.Replace(flightText, "mass: 1.46 kg", "mass: 1.5 kg", 1)
	require.NoError(t, os.WriteFile(filepath.Join(c.dir, "flight.yaml"), []byte(theirs), 0o644))
	status, b := c.ask("PUT", "/flight", mine)
	require.Equal(t, http.StatusConflict, status)
	assert.Equal(t, theirs, c.file("flight.yaml"))
	var doc conflictDoc
	require.NoError(t, json.Unmarshal(b, &doc))
	assert.Equal(t, []difference{{"rail.lean", "3 deg", "6 deg", "3 deg"}, {"vehicle.mass", "1.46 kg", "1.46 kg", "1.5 kg"}}, doc.Differences)
	assert.Contains(t, doc.Message, "flight.yaml was changed")
	mine["base"] = doc.Theirs.Hash
	get[flightDoc](c, "PUT", "/flight", mine)
	assert.Equal(t, strings.Replace(theirs, "lean: 3 deg", "lean: 6 deg", 1), c.file("flight.yaml"))
}

func TestDrawingChangedElsewhere(t *testing.T) {
	c := newClient(t)
	mine := with(c.draft(), object{"drawn": object{"field": object{"base": hashOf([]byte(fieldText)), "shapes": json.RawMessage(strings.Replace(fieldText, "41.912", "41.913", 2))}}})
	theirs := strings.Replace(fieldText, "ours", "theirs", 1)
	require.NoError(t, os.WriteFile(filepath.Join(c.dir, "field.geojson"), []byte(theirs), 0o644))
	status, b := c.ask("PUT", "/flight", mine)
	assert.Equal(t, http.StatusConflict, status)
	assert.Contains(t, message(b), "field.geojson was changed")
	assert.Equal(t, theirs, c.file("field.geojson"))
}

// A drawing does not take the place of a file that the flight does not name.
func TestDrawingTakesAFreeName(t *testing.T) {
	c := newClient(t)
	require.NoError(t, os.WriteFile(filepath.Join(c.dir, "ground.geojson"), []byte("another's"), 0o644))
	f := get[flightDoc](c, "GET", "/flight", nil)
	assert.Equal(t, "ground-2.geojson", f.DrawnFile["ground"])
	assert.Empty(t, f.DrawnHash["ground"])
}

func TestFlightFileVanishes(t *testing.T) {
	c := newClient(t)
	mine := c.draft(object{"key": "rail.lean", "value": `"6 deg"`})
	require.NoError(t, os.Remove(filepath.Join(c.dir, "flight.yaml")))
	status, b := c.ask("PUT", "/flight", mine)
	assert.Equal(t, http.StatusNotFound, status)
	assert.Contains(t, message(b), "nothing was saved")
	assert.Contains(t, message(b), "no such file")
	assert.NoFileExists(t, filepath.Join(c.dir, "flight.yaml"))
}

func TestReadOnlyFolder(t *testing.T) {
	for _, err := range []error{fmt.Errorf("x: %w; choose another folder with --out", os.ErrPermission), fmt.Errorf("x: read-only file system")} {
		got := writeError(err)
		assert.ErrorContains(t, got, "nothing was saved")
		assert.ErrorContains(t, got, "can only be read")
		assert.NotContains(t, got.Error(), "--out")
	}
	assert.NoError(t, writeError(nil))
}

func TestCheck(t *testing.T) {
	c := newClient(t)
	d := get[checkDoc](c, "POST", "/check", c.draft(object{"key": "vehicle.drag"}))
	assert.Contains(t, strings.Join(d.Assumed, "\n"), "drag")
	away := strings.ReplaceAll(fieldText, "-4.9", "-4.8")
	d = get[checkDoc](c, "POST", "/check", with(c.draft(), object{"drawn": object{"field": object{"base": hashOf([]byte(fieldText)), "shapes": json.RawMessage(away)}}}))
	assert.Contains(t, strings.Join(d.Caution, "\n"), "does not contain the pad")
}

func TestTry(t *testing.T) {
	c := newClient(t)
	base := get[tryDoc](c, "POST", "/tries", with(c.draft(), object{"runs": 500}))
	assert.Equal(t, 500, base.Result.Runs)
	assert.InDelta(t, 3, base.Rail.Lean, 1e-9)
	assert.Equal(t, "field", base.Result.Places[0].Name)
	assert.Contains(t, string(base.Shapes), `"probability":0.9`)
	assert.Len(t, base.Wind[0].Points, curvePoints)
	assert.Greater(t, base.Sinks[0].Mps, 5.0)
	p := get[pointDoc](c, "GET", fmt.Sprintf("/tries/%s/point?lat=%f&lon=%f", base.ID, base.Result.Landing.Mean.Lat, base.Result.Landing.Mean.Lon), nil)
	assert.Greater(t, p.Probability, 0.0)
	assert.Less(t, p.Level, 0.5)
	assert.Regexp(t, `^30TUM\d{10}$`, p.Grid)
	other := get[tryDoc](c, "POST", "/tries", with(c.draft(object{"key": "rail.lean", "value": `"10 deg"`}), object{"runs": 500}))
	assert.NotEqual(t, base.Result.Landing.Mean, other.Result.Landing.Mean)
	again := get[tryDoc](c, "POST", "/tries", with(c.draft(), object{"runs": 500}))
	assert.Equal(t, base.Result, again.Result)
	for _, bad := range []string{"/tries/77/point?lat=1&lon=2", "/tries/" + base.ID + "/point?lat=x&lon=2"} {
		status, _ := c.ask("GET", bad, nil)
		assert.GreaterOrEqual(t, status, 400, bad)
	}
	status, _ := c.ask("POST", "/tries", with(c.draft(), object{"runs": 1 << 40}))
	assert.Equal(t, 400, status)
}

// Whoever goes away stops the work.
func TestTryIsCancelled(t *testing.T) {
	c := newClient(t)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	status, _ := c.ask("POST", "/tries", with(c.draft(), object{"runs": 200000}), func(r *http.Request) { *r = *r.WithContext(ctx) })
	assert.Equal(t, 499, status)
}

func TestCompareTries(t *testing.T) {
	c := newClient(t)
	d := c.draft()
	try := func(label string, edits ...object) object { return with(c.draft(edits...), object{"label": label}) }
	got := get[compareDoc](c, "POST", "/compare", with(d, object{"runs": 400, "tries": []object{try("as it is"), try("steep", object{"key": "rail.lean", "value": `"20 deg"`}, object{"key": "rail.toward", "value": `"10 deg"`})}}))
	require.Len(t, got.Rows, 2)
	assert.Equal(t, "field", got.RankedBy)
	assert.Equal(t, "as it is", got.Rows[0].Label)
	assert.GreaterOrEqual(t, *got.Rows[0].Probability, *got.Rows[1].Probability)
	for _, bad := range []object{with(c.draft(), object{"runs": 400}), with(c.draft(), object{"hours": "all", "tries": []object{try("x")}})} {
		status, _ := c.ask("POST", "/compare", bad)
		assert.Equal(t, 400, status)
	}
	status, b := c.ask("POST", "/compare", with(c.draft(), object{"hours": "all"}))
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	assert.Contains(t, message(b), "forecast")
}

func TestCompareHours(t *testing.T) {
	c := newClient(t)
	forecast, err := os.ReadFile("../../../../testdata/garza/forecast.json")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(c.dir, "forecast.json"), forecast, 0o644))
	got := get[compareDoc](c, "POST", "/compare", with(c.draft(object{"key": "wind", "value": `"forecast.json"`}), object{"hours": "9..12", "runs": 300}))
	require.Len(t, got.Rows, 4)
	assert.True(t, got.Rows[0].Best)
	for i, r := range got.Rows[1:] {
		assert.LessOrEqual(t, *r.Probability, *got.Rows[i].Probability)
		assert.NotNil(t, r.Hour)
	}
}

func TestRequestsThatAreNone(t *testing.T) {
	c := newClient(t)
	for _, x := range []struct {
		method, path string
		body         any
		status       int
	}{
		{"PUT", "/flight", []byte("{"), 400},
		{"PUT", "/flight", []byte(`{"base":"","edits":[],"other":1}`), 400},
		{"PUT", "/flight", []byte(`{"base":"","edits":[]} {}`), 400},
		{"PUT", "/flight", bytes.Repeat([]byte(" "), mostJSON+1), 413},
		{"POST", "/jobs", object{"command": "rm"}, 400},
		{"GET", "/jobs/9", nil, 404},
		{"GET", "/grid?west=a&south=1&east=2&north=3", nil, 400},
	} {
		status, b := c.ask(x.method, x.path, x.body)
		assert.Equal(t, x.status, status, "%s %s: %s", x.method, x.path, b)
		assert.NotEmpty(t, message(b))
	}
}
