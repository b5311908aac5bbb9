package page

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"path/filepath"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/record"
)

// draftBody is a flight as a page has it: a text of the flight file by its
// hash, changes of keys, and what is drawn.
type draftBody struct {
	Base  string               `json:"base"`
	Edits []flightfile.Edit    `json:"edits"`
	Drawn map[string]drawnBody `json:"drawn"`
}

// drawnBody is a drawing in place of the one with a hash; null shapes: none.
type drawnBody struct {
	Base   string          `json:"base"`
	Shapes json.RawMessage `json:"shapes"`
}

// draft is a flight as it would be if it were saved.
type draft struct {
	text  []byte
	files map[string][]byte // drawings by the name the flight file gives them
	names map[string]string // of the field's and the ground's file
}

// draft makes a draft of what a page has.
func (s *Server) draft(b draftBody) (*draft, error) {
	base, err := s.folder.version(b.Base)
	if err != nil {
		return nil, err
	}
	d := &draft{files: map[string][]byte{}, names: map[string]string{}}
	if d.text, err = flightfile.Apply(s.opt.Flight, base.text, b.Edits); err != nil {
		return nil, faulty(err)
	}
	values, err := flightfile.Values(s.opt.Flight, d.text)
	if err != nil {
		return nil, faulty(err)
	}
	for which, shapes := range b.Drawn {
		if which != "field" && which != "ground" {
			return nil, refuse(http.StatusBadRequest, "drawn %q is not known; write field or ground", which)
		}
		if string(shapes.Shapes) == "null" || len(shapes.Shapes) == 0 {
			continue
		}
		name := s.folder.drawing(which, values).name
		if d.files[name], err = shapeLines(shapes.Shapes); err != nil {
			return nil, faulty(fmt.Errorf("%s: %w", which, err))
		}
		d.names[which] = name
	}
	return d, nil
}

// read makes a draft ready to fly, as the commands do with the file.
func (s *Server) read(d *draft, set ...flightfile.Setting) (*record.Flight, error) {
	drafts := map[string][]byte{}
	for name, b := range d.files {
		abs, err := filepath.Abs(s.folder.side(name))
		if err != nil {
			return nil, err
		}
		drafts[abs] = b
	}
	f, err := flightfile.Parse(s.opt.Flight, d.text, drafts, set...)
	if err != nil {
		return nil, faulty(err)
	}
	l, err := record.LastLearned(record.Source{Logbook: s.opt.Logbook, NoLearning: s.opt.NoLearning})
	if err != nil {
		return nil, faulty(err)
	}
	l.Apply(f)
	out, err := record.Prepare(f)
	if err != nil {
		return nil, faulty(err)
	}
	return out, nil
}

// shapeLines writes drawn shapes one a line, as a person would keep them. What
// the collection holds besides its features stays.
func shapeLines(raw json.RawMessage) ([]byte, error) {
	var top map[string]json.RawMessage
	if err := json.Unmarshal(raw, &top); err != nil {
		return nil, fmt.Errorf("what is drawn is not a GeoJSON object")
	}
	var features []json.RawMessage
	if err := json.Unmarshal(top["features"], &features); err != nil {
		return nil, fmt.Errorf("what is drawn is not a FeatureCollection")
	}
	var b bytes.Buffer
	b.WriteString(`{"type": "FeatureCollection"`)
	for _, k := range sortedKeys(top) {
		if k != "type" && k != "features" {
			fmt.Fprintf(&b, ", %q: %s", k, top[k])
		}
	}
	b.WriteString(`, "features": [`)
	for i, f := range features {
		if i > 0 {
			b.WriteByte(',')
		}
		b.WriteString("\n ")
		if err := json.Compact(&b, f); err != nil {
			return nil, err
		}
	}
	b.WriteString("\n]}\n")
	return b.Bytes(), nil
}

// flightDoc is the flight as it is saved.
type flightDoc struct {
	Path      string                     `json:"path"`
	Hash      string                     `json:"hash"`
	Text      string                     `json:"text"`
	Values    map[string]any             `json:"values"`
	Drawn     map[string]json.RawMessage `json:"drawn"`
	DrawnHash map[string]string          `json:"drawn_hash"`
	DrawnFile map[string]string          `json:"drawn_file"`
	Pad       *latLon                    `json:"pad"`
	Files     []string                   `json:"files"`
	Fault     *fault                     `json:"fault,omitempty"`
	MayChange bool                       `json:"may_change"`
}

type latLon struct {
	Lat float64 `json:"lat"`
	Lon float64 `json:"lon"`
}

// flightDoc reads the flight as it is saved.
func (s *Server) flightDoc(r *http.Request) (*flightDoc, error) {
	v, err := s.folder.flight()
	if err != nil {
		return nil, err
	}
	who := s.doors.who(r)
	return s.docOf(v, who != nil && who.Host), nil
}

func (s *Server) docOf(v version, may bool) *flightDoc {
	d := &flightDoc{
		Path:      s.opt.Flight,
		Hash:      v.hash,
		Text:      string(v.text),
		Values:    map[string]any{},
		Files:     s.folder.names(),
		MayChange: may,
		Drawn:     map[string]json.RawMessage{},
		DrawnHash: map[string]string{},
		DrawnFile: map[string]string{},
	}
	values, err := flightfile.Values(s.opt.Flight, v.text)
	if err == nil {
		d.Values = values
	}
	for _, which := range drawings {
		g := s.folder.drawing(which, values)
		d.Drawn[which], d.DrawnHash[which], d.DrawnFile[which] = collection(g.bytes), hashOf(g.bytes), g.name
	}
	f, err := flightfile.Parse(s.opt.Flight, v.text, nil)
	if f != nil && f.Flight.Site.Pad != [2]float64{} {
		d.Pad = &latLon{f.Flight.Site.Pad.Lat(), f.Flight.Site.Pad.Lon()}
	}
	if err == nil {
		_, err = record.Prepare(f)
	}
	d.Fault = faultOf(err)
	return d
}

// collection is a drawing as a FeatureCollection; null for what is none.
func collection(b []byte) json.RawMessage {
	b = bytes.TrimPrefix(b, []byte("\xef\xbb\xbf"))
	var top struct {
		Type     string            `json:"type"`
		Features []json.RawMessage `json:"features"`
	}
	if json.Unmarshal(b, &top) != nil {
		return json.RawMessage("null")
	}
	switch top.Type {
	case "FeatureCollection":
		return b
	case "Feature":
		return fmt.Appendf(nil, `{"type":"FeatureCollection","features":[%s]}`, b)
	case "Polygon", "MultiPolygon":
		return fmt.Appendf(
			nil,
			`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":%s}]}`,
			b,
		)
	}
	return json.RawMessage("null")
}

func (s *Server) getFlight(r *http.Request) (any, error) { return s.flightDoc(r) }

// checkDoc is what a draft says without being flown.
type checkDoc struct {
	Fault   *fault   `json:"fault"`
	Assumed []string `json:"assumptions"`
	Caution []string `json:"cautions"`
}

func (s *Server) check(r *http.Request) (any, error) {
	var b draftBody
	if err := readJSON(r, &b); err != nil {
		return nil, err
	}
	d, err := s.draft(b)
	if err != nil {
		return nil, err
	}
	f, err := s.read(d)
	if err != nil {
		return nil, err
	}
	m := f.Input.Model
	return checkDoc{Assumed: append(append([]string{}, f.File.Assumed...), m.Assumptions()...),
		Caution: append(append([]string{}, f.File.Warnings...), m.Cautions()...)}, nil
}
