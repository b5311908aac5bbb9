package logbook

import (
	"encoding/json"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
)

// Geometry returns the place an entry tells of, nil without one: its
// "geometry", its "area" (polygon rings), its "lat" and "lon", or the place
// under "found", "at" or "from", in that order.
func (e Entry) Geometry() orb.Geometry {
	type place struct{ Lat, Lon *float64 }
	// A body with other things under these names is a body without a place.
	var all map[string]json.RawMessage
	if json.Unmarshal(e.Body, &all) != nil {
		return nil
	}
	if g, err := geojson.UnmarshalGeometry(all["geometry"]); err == nil && g.Geometry() != nil {
		return g.Geometry()
	}
	var area orb.MultiPolygon
	if json.Unmarshal(all["area"], &area) == nil && len(area) > 0 {
		return area
	}
	point := func(p place) (orb.Geometry, bool) {
		if p.Lat == nil || p.Lon == nil {
			return nil, false
		}
		return orb.Point{*p.Lon, *p.Lat}, true
	}
	var p place
	if json.Unmarshal(e.Body, &p) == nil {
		if g, ok := point(p); ok {
			return g
		}
	}
	for _, key := range []string{"found", "at", "from"} {
		var p place
		if json.Unmarshal(all[key], &p) == nil {
			if g, ok := point(p); ok {
				return g
			}
		}
	}
	return nil
}
