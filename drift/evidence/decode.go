package evidence

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"

	"windfall/geo"
)

// Decode reads what the logbook keeps of a sighting: the kind of its entry
// (sighting, timing, height, nothing-in; find for a part's place) and its
// body. ok is false for entries that are no evidence here: tracks, and the
// find of the vehicle itself. Errors name the field that is wrong. Fields that
// belong to other kinds are passed over: older logbooks kept them.
func Decode(id int64, by, entry string, body []byte) (s Sighting, ok bool, err error) {
	if entry == (PartFound{}).Entry() {
		return decodeFind(id, by, body)
	}
	var fields map[string]json.RawMessage
	for _, k := range kinds {
		if k.kind.Entry() != entry {
			continue
		}
		if fields == nil {
			if err := json.Unmarshal(body, &fields); err != nil {
				return s, false, wrongJSON(err)
			}
			if err := known(fields); err != nil {
				return s, false, err
			}
		}
		if _, has := fields[k.field]; k.field != "" && !has {
			continue
		}
		s, err := decode(body, k.read)
		s.ID, s.By = id, by
		return s, err == nil, err
	}
	return s, false, nil
}

// decode reads a body of a known kind.
func decode(body []byte, read func([]byte) (Kind, error)) (s Sighting, err error) {
	if s.Kind, err = read(body); err != nil {
		return s, wrongJSON(err)
	}
	var r remarks
	if err := json.Unmarshal(body, &r); err != nil {
		return s, wrongJSON(err)
	}
	s.Sure, s.Said, s.Note, s.Picture = r.Sure, r.Said, r.Note, r.Picture
	return s, byKey(s.Ready())
}

// wrongJSON says in words what a body's JSON has wrong.
func wrongJSON(err error) error {
	var t *json.UnmarshalTypeError
	if errors.As(err, &t) {
		return fmt.Errorf("%s is a %s; write a %s", t.Field[strings.LastIndex(t.Field, ".")+1:], t.Value,
			plainType(t.Type.Kind()))
	}
	return fmt.Errorf("it is not JSON of a sighting (%s); write it as 'windfall log --json' does",
		strings.TrimPrefix(err.Error(), "json: "))
}

func plainType(k reflect.Kind) string {
	switch k {
	case reflect.Float64, reflect.Int, reflect.Int64:
		return "number"
	case reflect.Bool:
		return "true or false"
	case reflect.String:
		return "text"
	}
	return "value of another kind"
}

// known refuses a field that no kind has.
func known(fields map[string]json.RawMessage) error {
	all := map[string]bool{}
	names(reflect.TypeFor[remarks](), all)
	for _, k := range kinds {
		names(reflect.TypeOf(k.kind), all)
	}
	for _, name := range slices.Sorted(maps.Keys(fields)) {
		if !all[strings.ToLower(name)] {
			return fmt.Errorf("unknown field %q; known are %s", name, strings.Join(slices.Sorted(maps.Keys(all)), ", "))
		}
	}
	return nil
}

// names gathers the JSON names of a struct's fields, those of embedded ones too.
func names(t reflect.Type, into map[string]bool) {
	for i := range t.NumField() {
		f := t.Field(i)
		if f.Anonymous {
			names(f.Type, into)
			continue
		}
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		into[name] = true
	}
}

// decodeFind makes evidence of the find of a part: {"part": ..., "lat": ..., "lon": ...}.
func decodeFind(id int64, by string, body []byte) (s Sighting, ok bool, err error) {
	var f struct {
		Part string   `json:"part"`
		Lat  *float64 `json:"lat"`
		Lon  *float64 `json:"lon"`
	}
	if err := json.Unmarshal(body, &f); err != nil {
		return s, false, err
	}
	if f.Part == "" || f.Lat == nil || f.Lon == nil {
		return s, false, nil
	}
	s = Sighting{ID: id, By: by, Kind: PartFound{f.Part, &geo.Place{Lat: *f.Lat, Lon: *f.Lon}}}
	return s, true, byKey(s.Ready())
}
