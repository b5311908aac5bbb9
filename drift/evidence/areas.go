package evidence

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
)

// Read takes the ground from a GeoJSON document, longitude and latitude in
// degrees; one without any polygon, or with one that is none, is an error.
func (n *NothingIn) Read(data []byte) error {
	area, err := readAreas(data)
	if err == nil {
		n.Geometry = geojson.NewGeometry(area)
	}
	return err
}

// readAreas returns the polygons of a GeoJSON document (RFC 7946): a geometry,
// a feature or a collection of features, longitude and latitude in degrees.
// Lines and points are left out; a document without any polygon, a ring of
// fewer than three different points, or a place off the Earth is an error.
func readAreas(data []byte) (orb.MultiPolygon, error) {
	var head struct {
		Type string `json:"type"`
	}
	if err := json.Unmarshal(data, &head); err != nil {
		return nil, fmt.Errorf("is not JSON (%w): give a GeoJSON file with polygons", err)
	}
	var out orb.MultiPolygon
	add := func(g orb.Geometry) {
		switch v := g.(type) {
		case orb.Polygon:
			out = append(out, v)
		case orb.MultiPolygon:
			out = append(out, v...)
		}
	}
	switch head.Type {
	case "FeatureCollection":
		fc, err := geojson.UnmarshalFeatureCollection(data)
		if err != nil {
			return nil, fmt.Errorf("is not GeoJSON: %w", err)
		}
		for _, f := range fc.Features {
			if f != nil {
				add(f.Geometry)
			}
		}
	case "Feature":
		f, err := geojson.UnmarshalFeature(data)
		if err != nil {
			return nil, fmt.Errorf("is not GeoJSON: %w", err)
		}
		add(f.Geometry)
	case "Polygon", "MultiPolygon":
		g, err := geojson.UnmarshalGeometry(data)
		if err != nil {
			return nil, fmt.Errorf("is not GeoJSON: %w", err)
		}
		add(g.Geometry())
	default:
		return nil, fmt.Errorf("type %q holds no polygon: draw the area as a polygon", head.Type)
	}
	if len(out) == 0 {
		return nil, errors.New("holds no polygon: draw the area as a polygon")
	}
	for i, p := range out {
		if len(p) == 0 {
			return nil, fmt.Errorf("polygon %d has no ring: draw the area as a polygon", i+1)
		}
		for j, ring := range p {
			closed, err := closeRing(ring)
			if err != nil {
				return nil, fmt.Errorf("polygon %d: %w", i+1, err)
			}
			out[i][j] = closed
		}
	}
	return out, nil
}

// closeRing checks a ring and repeats its first point at its end.
func closeRing(r orb.Ring) (orb.Ring, error) {
	different := map[orb.Point]bool{}
	for _, p := range r {
		if !(math.Abs(p.Lon()) <= 180 && math.Abs(p.Lat()) <= 90) {
			return nil, fmt.Errorf("%g,%g is not longitude, latitude in degrees", p.Lon(), p.Lat())
		}
		different[p] = true
	}
	if len(different) < 3 {
		return nil, fmt.Errorf("a ring of %d different points is not an area: give at least three", len(different))
	}
	if r[0] != r[len(r)-1] {
		r = append(r, r[0])
	}
	return r, nil
}
