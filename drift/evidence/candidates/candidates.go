// Package candidates reads places where observers could stand: GeoJSON points,
// GeoJSON lines along which they could stand, or text with a place on each line.
package candidates

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"

	"windfall/drift/evidence"
	"windfall/geo"
	"windfall/geo/place"
	"windfall/geo/textin"
)

const (
	maxBytes = 4 << 20
	// Most is how many places a file may hold.
	Most     = 200
	farthest = 60e3 // m from the pad
)

// Options say how places are read.
type Options struct {
	Frame geo.Frame // at the pad
	Every float64   // m between places along a line
}

// Read reads the places of a file called name. They lie within 60 km of the
// pad and are at most Most. Errors are one line that begins with the name.
func Read(r io.Reader, name string, o Options) ([]evidence.Candidate, error) {
	data, err := textin.Read(r, name, maxBytes, "give a list of places")
	if err != nil {
		return nil, err
	}
	var out []evidence.Candidate
	if bytes.HasPrefix(bytes.TrimSpace(data), []byte("{")) {
		out, err = readJSON(data, o)
	} else {
		out, err = readText(data)
	}
	if err == nil {
		err = check(out, o.Frame)
	}
	if err != nil {
		return nil, fmt.Errorf("%s%w", name, err)
	}
	return out, nil
}

// check holds the places against their number and their distance.
func check(out []evidence.Candidate, f geo.Frame) error {
	switch {
	case len(out) == 0:
		return fmt.Errorf(": holds no place; draw points or a line, or write a place on each line")
	case len(out) > Most:
		return fmt.Errorf(": %d places are more than %d; leave some out, or space them wider along the line", len(out), Most)
	}
	for i, c := range out {
		if d := f.ToXY(c.At).Norm(); !(d <= farthest) {
			return fmt.Errorf(": place %d (%s) is %.0f km from the pad; give places within 60 km", i+1, c.Name, d/1000)
		}
	}
	return nil
}

// readText reads "place" or "name, place" lines; # starts a comment.
func readText(data []byte) ([]evidence.Candidate, error) {
	var out []evidence.Candidate
	sc := bufio.NewScanner(bytes.NewReader(data))
	for n := 1; sc.Scan(); n++ {
		line, _, _ := strings.Cut(sc.Text(), "#")
		if line = strings.TrimSpace(line); line == "" {
			continue
		}
		p, err := place.Parse(line)
		name := fmt.Sprintf("place %d", len(out)+1)
		if err != nil {
			head, rest, found := strings.Cut(line, ",")
			q, err2 := place.Parse(strings.TrimSpace(rest))
			if !found || err2 != nil {
				return nil, fmt.Errorf(":%d: %q is not a place, nor a name, a comma and a place: "+
					"write such as gate, 41.9086 -4.9183", n, line)
			}
			p, name = q, strings.TrimSpace(head)
		}
		out = append(out, evidence.Candidate{Name: name, At: p})
	}
	if err := sc.Err(); err != nil {
		return nil, fmt.Errorf(": %w", err)
	}
	return out, nil
}

// readJSON reads points, and places every so many metres along lines.
func readJSON(data []byte, o Options) ([]evidence.Candidate, error) {
	features, err := featuresOf(data)
	if err != nil {
		return nil, err
	}
	var out []evidence.Candidate
	for i, ft := range features {
		if ft == nil {
			continue
		}
		name, _ := ft.Properties["name"].(string)
		pts, err := standsOf(ft.Geometry, o)
		if err != nil {
			return nil, fmt.Errorf(": feature %d: %w", i+1, err)
		}
		for j, p := range pts {
			label := name
			if label == "" {
				label = fmt.Sprintf("place %d", len(out)+1)
			} else if len(pts) > 1 {
				label = fmt.Sprintf("%s %d", name, j+1)
			}
			out = append(out, evidence.Candidate{Name: label, At: p})
			if len(out) > Most {
				return out, nil
			}
		}
	}
	return out, nil
}

// featuresOf takes a collection, a feature or a bare geometry.
func featuresOf(data []byte) ([]*geojson.Feature, error) {
	var head struct {
		Type string `json:"type"`
	}
	if err := json.Unmarshal(data, &head); err != nil {
		return nil, fmt.Errorf(": is not JSON: %w", err)
	}
	var out []*geojson.Feature
	var err error
	switch head.Type {
	case "FeatureCollection":
		var fc *geojson.FeatureCollection
		if fc, err = geojson.UnmarshalFeatureCollection(data); err == nil {
			out = fc.Features
		}
	case "Feature":
		var f *geojson.Feature
		f, err = geojson.UnmarshalFeature(data)
		out = append(out, f)
	default:
		var g *geojson.Geometry
		if g, err = geojson.UnmarshalGeometry(data); err == nil {
			out = append(out, geojson.NewFeature(g.Geometry()))
		}
	}
	if err != nil {
		return nil, fmt.Errorf(": is not GeoJSON: %w", err)
	}
	return out, nil
}

// standsOf lists the places of a geometry.
func standsOf(g orb.Geometry, o Options) ([]orb.Point, error) {
	var points []orb.Point
	var lines []orb.LineString
	switch v := g.(type) {
	case orb.Point:
		points = append(points, v)
	case orb.MultiPoint:
		points = append(points, v...)
	case orb.LineString:
		lines = append(lines, v)
	case orb.MultiLineString:
		lines = v
	default:
		return nil, fmt.Errorf("is neither a point nor a line; draw where observers could stand as points or a line")
	}
	if err := inDegrees(points); err != nil {
		return nil, err
	}
	for _, l := range lines {
		if err := inDegrees(l); err != nil {
			return nil, err
		}
		points = append(points, along(l, o)...)
	}
	return points, nil
}

func inDegrees(points []orb.Point) error {
	for _, p := range points {
		if !(math.Abs(p.Lon()) <= 180 && math.Abs(p.Lat()) <= 90) {
			return fmt.Errorf("%g,%g is not longitude, latitude in degrees", p.Lon(), p.Lat())
		}
	}
	return nil
}

// along returns places on a line, every so many metres from its start on; no
// more of them than show that there are too many.
func along(l orb.LineString, o Options) []orb.Point {
	var out []orb.Point
	left := 0.0 // m until the next place
	for i := 1; i < len(l); i++ {
		a, b := o.Frame.ToXY(l[i-1]), o.Frame.ToXY(l[i])
		d := b.Sub(a).Norm()
		for left <= d && len(out) <= Most {
			out = append(out, o.Frame.ToLonLat(a.Add(b.Sub(a).Scale(left/math.Max(d, 1e-9)))))
			left += o.Every
		}
		left -= d
	}
	return out
}
