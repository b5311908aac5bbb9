package field

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"

	"github.com/paulmach/orb/geojson"
)

// Kind is what an entry from the field tells.
type Kind string

// The kinds.
const (
	kindIgnition Kind = "ignition"
	kindTiming   Kind = "timing"
	kindBearing  Kind = "bearing"
	kindHeight   Kind = "height"
	kindNothing  Kind = "nothing"
	kindLooked   Kind = "looked"
	kindLane     Kind = "lane"
	kindTrack    Kind = "track"
	kindPosition Kind = "position"
	kindFind     Kind = "find"
	kindWithdraw Kind = "withdraw"
	kindAmend    Kind = "amend"
	kindArrive   Kind = "arrive"
	kindLeave    Kind = "leave"
	kindLate     Kind = "late"
)

// Said is an entry as a phone sends it. Fields that its kind has not are
// refused; those not said are nil or empty.
type Said struct {
	Key  string    `json:"key"`
	At   time.Time `json:"at"` // by the phone's clock
	Kind Kind      `json:"kind"`
	Note string    `json:"note,omitempty"`

	Event     string            `json:"event,omitempty"`
	Heard     bool              `json:"heard,omitempty"`
	Timed     bool              `json:"timed,omitempty"` // seen at At
	AtS       *float64          `json:"at_s,omitempty"`  // s after ignition
	TimeSD    *float64          `json:"time_sd_s,omitempty"`
	From      *Point            `json:"from,omitempty"`
	BearingD  *float64          `json:"bearing_deg,omitempty"`
	North     string            `json:"north,omitempty"` // true or magnetic
	BearingSD *float64          `json:"bearing_sd_deg,omitempty"`
	Elevation *float64          `json:"elevation_deg,omitempty"`
	ElevSD    *float64          `json:"elevation_sd_deg,omitempty"`
	HeightM   *float64          `json:"height_m,omitempty"`
	HeightSD  *float64          `json:"height_sd_m,omitempty"`
	Geometry  *geojson.Geometry `json:"geometry,omitempty"`
	Looks     string            `json:"looked,omitempty"` // open or fast
	Sure      *float64          `json:"sure,omitempty"`

	Plan  int    `json:"plan,omitempty"`
	Block string `json:"block,omitempty"`
	Lane  int    `json:"lane,omitempty"`
	State string `json:"state,omitempty"` // done, skipped or open

	Recording string `json:"recording,omitempty"`
	Fixes     []Fix  `json:"fixes,omitempty"`
	Loaded    bool   `json:"loaded,omitempty"` // fixes of another receiver, by its own clock

	Searcher string   `json:"searcher,omitempty"`
	Minutes  *float64 `json:"minutes,omitempty"`

	Lat       *float64 `json:"lat,omitempty"`
	Lon       *float64 `json:"lon,omitempty"`
	Accuracy  *float64 `json:"accuracy_m,omitempty"`
	LooksLike string   `json:"looks_like,omitempty"`
	Part      string   `json:"part,omitempty"`
	Outcome   string   `json:"outcome,omitempty"`

	Of string `json:"of,omitempty"` // key of the entry that is meant
	ID int64  `json:"id,omitempty"` // its number
}

// Point is a place, degrees.
type Point struct {
	Lat float64 `json:"lat"`
	Lon float64 `json:"lon"`
}

// Fix is a recorded position.
type Fix struct {
	At       time.Time `json:"at"`
	Lat      float64   `json:"lat"`
	Lon      float64   `json:"lon"`
	Accuracy float64   `json:"accuracy_m,omitempty"`
	Gap      bool      `json:"gap,omitempty"` // the recording stopped before it
}

// The fields of the kinds, beside key, at, kind and note.
var fieldsOf = map[Kind]string{
	kindIgnition: "",
	kindTiming:   "event heard from time_sd_s sure",
	kindBearing: "from bearing_deg north bearing_sd_deg elevation_deg elevation_sd_deg event at_s timed time_sd_s " +
		"sure",
	kindHeight:   "height_m height_sd_m event from sure",
	kindNothing:  "geometry from event at_s timed sure",
	kindLooked:   "looked from event sure",
	kindLane:     "plan block lane state",
	kindTrack:    "recording fixes loaded searcher",
	kindPosition: "lat lon accuracy_m",
	kindFind:     "lat lon accuracy_m looks_like part outcome",
	kindWithdraw: "of id",
	kindAmend: "of id event heard from at_s time_sd_s sure bearing_deg north bearing_sd_deg elevation_deg " +
		"elevation_sd_deg height_m height_sd_m geometry looked lat lon accuracy_m looks_like part outcome",
	kindArrive: "searcher",
	kindLeave:  "searcher",
	kindLate:   "searcher minutes",
}

const (
	leastKey = 8
	mostKey  = 64
	mostText = 500
)

// read reads an entry and holds it against its kind.
func read(raw json.RawMessage) (s Said, err error) {
	var has map[string]json.RawMessage
	if err := json.Unmarshal(raw, &has); err != nil {
		return s, fmt.Errorf("an entry is no JSON object")
	}
	json.Unmarshal(has["key"], &s.Key) // so that what is wrong can be answered for
	d := json.NewDecoder(bytes.NewReader(raw))
	d.DisallowUnknownFields()
	if err := d.Decode(&s); err != nil {
		return s, fmt.Errorf("%s; docs/api.yaml says how entries are written", strings.TrimPrefix(err.Error(), "json: "))
	}
	if n := len(s.Key); n < leastKey || n > mostKey || strings.ContainsFunc(s.Key, unicode.IsControl) {
		return s, fmt.Errorf("key %.70q has not %d to %d letters; make one such as a UUID", s.Key, leastKey, mostKey)
	}
	fields, ok := fieldsOf[s.Kind]
	if !ok {
		return s, fmt.Errorf("kind %.40q is not known; write one of those in docs/api.yaml", s.Kind)
	}
	own := append(strings.Fields(fields), "key", "at", "kind", "note")
	for name := range has {
		if !slices.Contains(own, name) {
			return s, fmt.Errorf("a %s has no %s; it has %s", s.Kind, name, strings.Join(strings.Fields(fields), ", "))
		}
	}
	switch {
	case s.At.IsZero():
		return s, fmt.Errorf("no time; write at, such as 2026-03-14T10:30:00Z")
	case len(s.Note) > 4*mostText || len(s.LooksLike) > 4*mostText:
		return s, fmt.Errorf("the text is longer than %d letters; say it shorter", mostText)
	}
	return s, nil
}

// digest is that of what was said, whatever way it was written.
func (s Said) digest() string {
	text, err := json.Marshal(s)
	if err != nil { // a number that is none: refused where it is used
		return ""
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

// State is what became of an entry.
type State string

// The states of entries.
const (
	Logged   State = "logged"   // on the disk now
	Known    State = "known"    // it was there before
	Conflict State = "conflict" // at odds with what others said, or with its own key
	Refused  State = "refused"  // not kept
)

// Result says what became of an entry.
type Result struct {
	Key     string `json:"key"`
	ID      int64  `json:"id,omitempty"` // of the logbook's entry
	State   State  `json:"state"`
	Message string `json:"message,omitempty"`
}
