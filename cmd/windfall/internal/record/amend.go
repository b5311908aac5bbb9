package record

import (
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"reflect"
	"slices"
	"strings"
	"time"

	"windfall/cmd/windfall/internal/measured"
	"windfall/cmd/windfall/internal/situation"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/evidence"
	"windfall/drift/logbook"
)

// Amend puts keys into the body of an entry; null or nothing takes a key out.
// What would keep the entry from being used is refused.
func Amend(
	b *logbook.Book, id int64, by string, when time.Time, set map[string]json.RawMessage) (x logbook.Entry, err error) {
	all, err := b.Entries(logbook.Query{Withdrawn: true})
	if err != nil {
		return x, err
	}
	i := slices.IndexFunc(all, func(x logbook.Entry) bool { return x.ID == id })
	if i < 0 || all[i].Withdrawn {
		return b.Amend(id, by, when, []byte("{}")) // refused, with its reason
	}
	x = all[i]
	body, known := map[string]json.RawMessage{}, keysOf(x)
	if err := json.Unmarshal(x.Body, &body); err != nil {
		return x, err
	}
	for _, k := range slices.Sorted(maps.Keys(set)) {
		_, has := body[k]
		gone := string(set[k]) == "null" || string(set[k]) == `""`
		switch {
		case gone && !has:
			return x, usage.Errorf("entry %d has no %q to take out; it has %s", id, k,
				strings.Join(slices.Sorted(maps.Keys(body)), ", "))
		case gone:
			delete(body, k)
		case !slices.Contains(known, k):
			return x, usage.Errorf("entry %d is a %s, which has no %q; write one of %s", id, noun(x.Kind), k,
				strings.Join(known, ", "))
		default:
			body[k] = set[k]
		}
	}
	if x.Body, err = json.Marshal(body); err != nil {
		return x, err
	}
	if err := usable(b, x); err != nil {
		if CheckEntry(all[i]) != nil { // before, too
			err = fmt.Errorf("%w (--set may be repeated; --set KEY= takes a key out)", err)
		}
		return x, usage.Errorf("entry %d stays as it was: %w", id, err)
	}
	return b.Amend(id, by, when, x.Body)
}

// usable says what would keep an entry from being used, with its flight where
// the logbook has that.
func usable(b *logbook.Book, x logbook.Entry) error {
	if err := CheckEntry(x); err != nil {
		return err
	}
	if x.Kind == logbook.Track || x.Kind == logbook.Measured {
		return nil
	}
	f := stored(b, x)
	if f == nil {
		return nil
	}
	if x.Kind == logbook.Find {
		var find Find
		if err := json.Unmarshal(x.Body, &find); err != nil {
			return err
		}
		return situation.Find{Part: find.Part, Outcome: find.Outcome}.Unknown(f.Input)
	}
	s, _, err := evidence.Decode(0, x.By, string(x.Kind), x.Body)
	if err == nil {
		_, err = evidence.NewWeigher(f.Input.Model, []evidence.Sighting{s})
	}
	return err
}

// stored is the flight by the inputs in force for an entry; nil where the
// logbook has none that can be read.
func stored(b *logbook.Book, x logbook.Entry) *Flight {
	dir, err := os.MkdirTemp("", "windfall-amend-*")
	if err != nil {
		return nil
	}
	defer os.RemoveAll(dir)
	file, err := storedFile(b, x, dir)
	if err != nil {
		return nil
	}
	f, err := Prepare(file)
	if err != nil {
		return nil
	}
	return f
}

// remarks are the keys that a sighting of any kind has.
type remarks struct {
	Sure    *float64          `json:"sure"`
	Said    string            `json:"said"`
	Note    string            `json:"note"`
	Picture *evidence.Picture `json:"picture"`
}

// shapeOf is what the body of an entry is read into, a pointer to a struct; a
// sighting is what its body says it is.
func shapeOf(x logbook.Entry) any {
	switch x.Kind {
	case logbook.Find:
		return &Find{}
	case logbook.Track:
		if _, ok := decodeLook(x); ok {
			return &Look{}
		}
		return &Track{}
	case logbook.Measured:
		return measured.Shape(x.Body)
	case logbook.Timing:
		return &evidence.Timing{}
	case logbook.Height:
		return &evidence.Height{}
	case logbook.NothingIn:
		return &evidence.NothingIn{}
	}
	var has map[string]json.RawMessage
	if json.Unmarshal(x.Body, &has) == nil && has["looked"] != nil {
		return &evidence.Looks{}
	}
	return &evidence.Bearing{}
}

// keysOf are the keys that the body of an entry may have.
func keysOf(x logbook.Entry) (keys []string) {
	all := []reflect.Type{reflect.TypeOf(shapeOf(x)).Elem()}
	if slices.Contains(seen, x.Kind) {
		all = append(all, reflect.TypeFor[remarks]())
	}
	for i := 0; i < len(all); i++ {
		for _, f := range reflect.VisibleFields(all[i]) {
			if name, _, _ := strings.Cut(f.Tag.Get("json"), ","); name != "" && !f.Anonymous {
				keys = append(keys, name)
			}
		}
	}
	return keys
}

// readable is the sighting of an entry that cannot be used, without what of it
// cannot be read.
func readable(x logbook.Entry) (s evidence.Sighting) {
	var body map[string]json.RawMessage
	if json.Unmarshal(x.Body, &body) != nil {
		return s
	}
	shape, r := shapeOf(x), remarks{}
	for k, v := range body {
		one, err := json.Marshal(map[string]json.RawMessage{k: v})
		if err != nil {
			continue
		}
		for _, to := range []any{shape, &r} {
			was := reflect.New(reflect.TypeOf(to).Elem()).Elem()
			was.Set(reflect.ValueOf(to).Elem())
			if json.Unmarshal(one, to) != nil {
				reflect.ValueOf(to).Elem().Set(was)
			}
		}
	}
	s.ID, s.By, s.Sure, s.Said, s.Note, s.Picture = x.ID, x.By, r.Sure, r.Said, r.Note, r.Picture
	s.Kind, _ = reflect.ValueOf(shape).Elem().Interface().(evidence.Kind)
	return s
}
