package evidence

import (
	"bytes"
	"encoding/json"
	"errors"
	"strings"

	"windfall/geo"
)

// Decode reads what the logbook keeps of a sighting: the kind of its entry
// (sighting, timing, height, nothing-in; find for a part's place) and its
// body. ok is false for entries that are no evidence here: tracks, and the
// find of the vehicle itself. Errors name the field that is wrong.
func Decode(id int64, by, kind string, body []byte) (s Sighting, ok bool, err error) {
	if kind == "find" {
		return decodeFind(id, by, body)
	}
	dec := json.NewDecoder(bytes.NewReader(body))
	dec.DisallowUnknownFields()
	switch kind {
	case "sighting", string(Timing), string(Height), string(NothingIn):
	default:
		return s, false, nil
	}
	if err := dec.Decode(&s); err != nil {
		return s, false, errors.New(strings.TrimPrefix(err.Error(), "json: "))
	}
	s.ID, s.By, s.Kind = id, by, Kind(kind)
	if kind == "sighting" {
		s.Kind = Bearing
		if s.Looked != "" {
			s.Kind = Looks
		}
	}
	if err := s.Ready(); err != nil {
		return s, false, err
	}
	return s, true, nil
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
	s = Sighting{ID: id, By: by, Kind: PartFound, Part: f.Part, Found: &geo.Place{Lat: *f.Lat, Lon: *f.Lon}}
	return s, true, s.Ready()
}
