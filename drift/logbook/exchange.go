package logbook

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"

	"windfall/geo/textin"
)

const maxImport = 32 << 20 // bytes of GeoJSON: some ten thousand entries

// own are the keys of an entry beside its body.
var own = []string{"id", "flight", "kind", "by", "when", "revision", "withdrawn", "judged"}

var csvHead = []string{"id", "flight", "kind", "by", "when", "withdrawn", "lat", "lon", "body"}

// WriteCSV writes entries as CSV (RFC 4180) with one header line: id, flight,
// kind, by, when, withdrawn, lat, lon (empty where the entry has no single
// place) and body, the JSON object.
func WriteCSV(w io.Writer, entries []Entry) error {
	c := csv.NewWriter(w)
	if err := c.Write(csvHead); err != nil {
		return err
	}
	for _, e := range entries {
		lat, lon := "", ""
		if p, ok := e.Geometry().(orb.Point); ok {
			lat, lon = strconv.FormatFloat(p.Lat(), 'f', -1, 64), strconv.FormatFloat(p.Lon(), 'f', -1, 64)
		}
		row := []string{strconv.FormatInt(e.ID, 10), e.Flight, string(e.Kind), guard(e.By),
			e.When.UTC().Format(time.RFC3339Nano), strconv.FormatBool(e.Withdrawn), lat, lon, string(e.Body)}
		if err := c.Write(row); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// guard keeps a spreadsheet from taking text for a formula.
func guard(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r'", rune(s[0])) {
		return "'" + s
	}
	return s
}

func unguard(s string) string { return strings.TrimPrefix(s, "'") }

// ReadCSV reads what WriteCSV writes, or a table made by hand: a header line
// with at least flight, kind and when, columns in any order. Without a body, a
// row's lat and lon become its place. name is for messages;
// check, where it is not nil, says what else is wrong with an entry.
func ReadCSV(r io.Reader, name string, check func(Entry) error) ([]Entry, error) {
	in, err := textin.Reader(r, name)
	if err != nil {
		return nil, err
	}
	c := csv.NewReader(in)
	c.FieldsPerRecord = -1
	head, err := c.Read()
	if err != nil {
		return nil, fmt.Errorf("%s:1: no header line; write flight,kind,by,when,lat,lon", name)
	}
	at := map[string]int{}
	for i, h := range head {
		if !slices.Contains(csvHead, h) {
			return nil, fmt.Errorf("%s:1: column %q is not known; the columns are %s", name, h, strings.Join(csvHead, ", "))
		}
		at[h] = i
	}
	for _, h := range []string{"flight", "kind", "when"} {
		if _, ok := at[h]; !ok {
			return nil, fmt.Errorf("%s:1: no column %q; the columns are %s", name, h, strings.Join(csvHead, ", "))
		}
	}
	var out []Entry
	for {
		row, err := c.Read()
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		if err != nil {
			var pe *csv.ParseError
			if errors.As(err, &pe) {
				return nil, fmt.Errorf("%s:%d: %v", name, pe.Line, pe.Err)
			}
			return nil, fmt.Errorf("%s: %v", name, err)
		}
		line, _ := c.FieldPos(0)
		if len(row) != len(head) {
			return nil, fmt.Errorf("%s:%d: %d fields where the header has %d", name, line, len(row), len(head))
		}
		e, err := csvEntry(func(h string) string {
			if i, ok := at[h]; ok {
				return strings.TrimSpace(row[i])
			}
			return ""
		})
		if err == nil && check != nil {
			err = check(e)
		}
		if err != nil {
			return nil, fmt.Errorf("%s:%d: %v", name, line, err)
		}
		out = append(out, e)
	}
}

func csvEntry(get func(string) string) (Entry, error) {
	e := Entry{Flight: get("flight"), Kind: Kind(get("kind")), By: unguard(get("by")), Body: json.RawMessage(get("body"))}
	var err error
	if e.When, err = readTime(get("when")); err != nil {
		return e, err
	}
	if w := get("withdrawn"); w != "" {
		if e.Withdrawn, err = strconv.ParseBool(w); err != nil {
			return e, fmt.Errorf("withdrawn %q; write true or false", w)
		}
	}
	if len(e.Body) == 0 {
		if e.Body, err = placeBody(get("lat"), get("lon")); err != nil {
			return e, err
		}
	}
	return e, e.whole()
}

func placeBody(lat, lon string) (json.RawMessage, error) {
	if lat == "" && lon == "" {
		return json.RawMessage("{}"), nil
	}
	la, err := strconv.ParseFloat(lat, 64)
	if err != nil || !(la >= -90 && la <= 90) {
		return nil, fmt.Errorf("lat %q; write degrees from -90 to 90, such as 39.0512", lat)
	}
	lo, err := strconv.ParseFloat(lon, 64)
	if err != nil || !(lo >= -180 && lo <= 180) {
		return nil, fmt.Errorf("lon %q; write degrees from -180 to 180, such as -5.5831", lon)
	}
	return json.Marshal(map[string]float64{"lat": la, "lon": lo})
}

func readTime(s string) (time.Time, error) {
	t, err := time.Parse(time.RFC3339Nano, s)
	if err != nil || t.Year() < 1900 || t.Year() > 9999 {
		return t, fmt.Errorf("when %q; write a time such as 2026-03-14T10:30:00+01:00", s)
	}
	return t, nil
}

// WriteGeoJSON writes entries as one RFC 7946 FeatureCollection: the geometry
// is the entry's place (null without one), the properties are its JSON.
func WriteGeoJSON(w io.Writer, entries []Entry) error {
	fc := geojson.NewFeatureCollection()
	for _, e := range entries {
		f := geojson.NewFeature(e.Geometry())
		text, err := json.Marshal(e)
		if err != nil {
			return err
		}
		if err := json.Unmarshal(text, &f.Properties); err != nil {
			return err
		}
		fc.Append(f)
	}
	text, err := json.MarshalIndent(fc, "", " ")
	if err != nil {
		return err
	}
	_, err = w.Write(append(text, '\n'))
	return err
}

// ReadGeoJSON reads what WriteGeoJSON writes, or features made by hand, whose
// properties must have flight, kind and when; a geometry that no property
// tells becomes the entry's "geometry". name and check are as for ReadCSV.
func ReadGeoJSON(r io.Reader, name string, check func(Entry) error) ([]Entry, error) {
	text, err := textin.Read(r, name, maxImport, "import it in parts")
	if err != nil {
		return nil, err
	}
	var fc struct {
		Type     string
		Features []struct {
			Geometry   json.RawMessage
			Properties map[string]json.RawMessage
		}
	}
	if err := json.Unmarshal(text, &fc); err != nil || fc.Type != "FeatureCollection" {
		return nil, fmt.Errorf("%s: not a GeoJSON FeatureCollection; write one, such as 'windfall log --geojson' does", name)
	}
	var out []Entry
	for i, f := range fc.Features {
		e, err := geoEntry(f.Properties, f.Geometry)
		if err == nil && check != nil {
			err = check(e)
		}
		if err != nil {
			return nil, fmt.Errorf("%s: feature %d: %v", name, i+1, err)
		}
		out = append(out, e)
	}
	return out, nil
}

func geoEntry(props map[string]json.RawMessage, geometry json.RawMessage) (Entry, error) {
	var e Entry
	text := func(key string) (s string) {
		if json.Unmarshal(props[key], &s) != nil {
			return ""
		}
		return s
	}
	e.Flight, e.Kind, e.By = text("flight"), Kind(text("kind")), text("by")
	e.Withdrawn = string(bytes.TrimSpace(props["withdrawn"])) == "true"
	var err error
	if e.When, err = readTime(text("when")); err != nil {
		return e, err
	}
	rest := map[string]json.RawMessage{}
	for k, v := range props {
		if !slices.Contains(own, k) {
			rest[k] = v
		}
	}
	if e.Body, err = json.Marshal(rest); err != nil {
		return e, err
	}
	if g, err := geojson.UnmarshalGeometry(geometry); err == nil && e.Geometry() == nil {
		if e.Body, err = withPlace(rest, g); err != nil {
			return e, err
		}
	}
	return e, e.whole()
}

// withPlace is a body with a geometry added: a point as lat and lon, as a table
// gives it, so that the same find from both is one.
func withPlace(body map[string]json.RawMessage, g *geojson.Geometry) (json.RawMessage, error) {
	var err error
	if p, ok := g.Geometry().(orb.Point); ok {
		if body["lat"], err = json.Marshal(p.Lat()); err == nil {
			body["lon"], err = json.Marshal(p.Lon())
		}
	} else {
		body["geometry"], err = json.Marshal(g)
	}
	if err != nil {
		return nil, err
	}
	return json.Marshal(body)
}

// Import logs entries read from elsewhere, all or none, and returns those that
// were new: one with the same flight, kind, by, when and body is there already.
func (b *Book) Import(entries []Entry) ([]Entry, error) {
	have, err := b.Entries(Query{Withdrawn: true})
	if err != nil {
		return nil, err
	}
	known := map[string]bool{}
	for _, e := range have {
		known[e.sameness()] = true
	}
	var fresh []Entry
	for _, e := range entries {
		if k := e.sameness(); !known[k] {
			known[k] = true
			e.Inputs = 0
			fresh = append(fresh, e)
		}
	}
	withdrawn := make([]bool, len(fresh))
	for i := range fresh {
		withdrawn[i] = fresh[i].Withdrawn
	}
	return b.add(nil, fresh, withdrawn)
}

func (e Entry) sameness() string {
	var v any
	text := []byte(e.Body)
	if json.Unmarshal(e.Body, &v) == nil { // key order and spaces do not matter
		text, _ = json.Marshal(v)
	}
	return strings.Join([]string{e.Flight, string(e.Kind), e.By, stampTime(e.When), string(text)}, "\x00")
}
