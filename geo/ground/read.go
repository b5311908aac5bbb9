package ground

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"

	"windfall/geo"
	"windfall/geo/plane"
	"windfall/geo/textin"
)

// Limits of what Read takes.
const (
	MaxBytes  = 32 << 20 // size of a file
	MaxAwayM  = 200e3    // m from the frame's origin: beyond it the drawing is of another site
	SnapM     = 25.0     // m: a crossing farther than this from every barrier is an error
	maxPoints = 200000   // points of all features together
	maxShapes = 2000     // features: planning time grows with them
)

// Read reads a ground file: a FeatureCollection whose features carry the
// property "kind". name stands in messages, which give the feature's number
// counted from 1, the field, the value and what to write instead. Features of
// a kind not known are errors.
func Read(r io.Reader, name string, f geo.Frame) (*Ground, error) {
	feats, err := features(r, name)
	if err != nil {
		return nil, err
	}
	g := &Ground{}
	rd := reader{name: name, frame: f}
	var crossings []numbered
	for i, raw := range feats {
		rd.n = i + 1
		ft, err := rd.feature(raw)
		if err != nil {
			return nil, err
		}
		kind, err := rd.text(ft, "kind", "cover, no-go, place, barrier, crossing or line")
		if err != nil {
			return nil, err
		}
		switch kind {
		case "cover":
			err = rd.cover(g, ft)
		case "no-go":
			err = rd.noGo(g, ft)
		case "place":
			err = rd.place(g, ft)
		case "barrier":
			err = rd.barrier(g, ft)
		case "line":
			err = rd.line(g, ft)
		case "crossing":
			var found []numbered
			found, err = rd.crossings(ft)
			crossings = append(crossings, found...)
		default:
			err = rd.errorf("kind %q is not known; write cover, no-go, place, barrier, crossing or line", kind)
		}
		if err != nil {
			return nil, err
		}
	}
	for _, c := range crossings {
		rd.n = c.n
		if err := rd.snap(g, c.p); err != nil {
			return nil, err
		}
		g.Gates = append(g.Gates, c.name)
	}
	return g, nil
}

// ReadField reads the ground we have leave to use: every polygon of a GeoJSON
// file, whatever its properties, in metres of the frame.
func ReadField(r io.Reader, name string, f geo.Frame) (plane.Polygons, error) {
	feats, err := features(r, name)
	if err != nil {
		return nil, err
	}
	var out plane.Polygons
	rd := reader{name: name, frame: f}
	for i, raw := range feats {
		rd.n = i + 1
		ft, err := rd.feature(raw)
		if err != nil {
			return nil, err
		}
		mp, err := rd.area(ft)
		if err != nil {
			return nil, err
		}
		out = append(out, mp...)
	}
	return out, nil
}

// numbered is a crossing of feature n.
type numbered struct {
	p    geo.XY
	n    int
	name string
}

// crossings reads the points of a feature.
func (r *reader) crossings(ft *feature) (out []numbered, err error) {
	ps, err := r.pointsOf(ft)
	if err != nil {
		return nil, err
	}
	name, err := r.optional(ft, "name", "")
	for _, p := range ps {
		out = append(out, numbered{p, r.n, name})
	}
	return out, err
}

// features splits a file into its raw features, so that each can be named by
// its number.
func features(r io.Reader, name string) ([]json.RawMessage, error) {
	b, err := textin.Read(r, name, MaxBytes, "draw fewer or simpler shapes")
	if err != nil {
		return nil, err
	}
	var top struct {
		Type     string            `json:"type"`
		Features []json.RawMessage `json:"features"`
	}
	if err := json.Unmarshal(b, &top); err != nil {
		return nil, fmt.Errorf("%s:%d: not GeoJSON (%v); write a FeatureCollection", name, lineOf(b, err), err)
	}
	switch top.Type {
	case "FeatureCollection":
		if len(top.Features) == 0 {
			return nil, fmt.Errorf("%s: holds no features; draw at least one, or leave the file out", name)
		}
		if len(top.Features) > maxShapes {
			return nil, fmt.Errorf("%s: holds %d features; draw at most %d, those near the pad", name, len(top.Features),
				maxShapes)
		}
		return top.Features, nil
	case "Feature":
		return []json.RawMessage{b}, nil
	case "Polygon", "MultiPolygon":
		return []json.RawMessage{[]byte(`{"type":"Feature","properties":{},"geometry":` + string(b) + `}`)}, nil
	}
	return nil, fmt.Errorf("%s: type %q is not a FeatureCollection; write one (RFC 7946)", name, top.Type)
}

// lineOf returns the line of a JSON error, 1 if it does not say.
func lineOf(b []byte, err error) int {
	var off int64
	switch e := err.(type) {
	case *json.SyntaxError:
		off = e.Offset
	case *json.UnmarshalTypeError:
		off = e.Offset
	}
	if off > int64(len(b)) {
		off = int64(len(b))
	}
	return 1 + bytes.Count(b[:off], []byte("\n"))
}
