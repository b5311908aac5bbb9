package mapfile

import (
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"
	"github.com/peterstace/simplefeatures/geom"
)

// cut splits a polygon whose longitudes run past 180 at the antimeridian and
// brings the pieces into [-180, 180]; one that stays inside comes back whole.
func cut(rings []orb.Ring) orb.MultiPolygon {
	west, east := math.Inf(1), math.Inf(-1)
	for _, p := range rings[0] {
		west, east = math.Min(west, p[0]), math.Max(east, p[0])
	}
	for i := 1; i < len(rings); i++ { // holes follow their outer ring
		shift(rings[i], 360*math.Round(((west+east)/2-rings[i][0][0])/360))
	}
	first, last := math.Floor((west+180)/360), math.Ceil((east-180)/360)
	if last <= first {
		for _, r := range rings {
			shift(r, -360*first)
		}
		return orb.MultiPolygon{orb.Polygon(rings)}
	}
	var out orb.MultiPolygon
	for k := first; k <= last; k++ {
		for _, pg := range window(rings, 360*k-180, 360*k+180) {
			for _, r := range pg {
				shift(r, -360*k)
			}
			out = append(out, pg)
		}
	}
	return out
}

func shift(r orb.Ring, by float64) {
	for i := range r {
		r[i][0] += by
	}
}

// window returns the part of a polygon between two meridians. Rings that cross
// themselves, which the overlay may refuse, are clipped ring by ring instead.
func window(rings []orb.Ring, west, east float64) orb.MultiPolygon {
	var lines []geom.LineString
	for _, r := range rings {
		lines = append(lines, lineString(r))
	}
	box := orb.Ring{{west, -91}, {east, -91}, {east, 91}, {west, 91}, {west, -91}}
	g, err := geom.Intersection(geom.NewPolygon(lines).AsGeometry(),
		geom.NewPolygon([]geom.LineString{lineString(box)}).AsGeometry())
	if err != nil {
		pg := clip.Polygon(box.Bound(), orb.Polygon(rings).Clone())
		if len(pg) == 0 {
			return nil
		}
		return orb.MultiPolygon{pg}
	}
	var out orb.MultiPolygon
	for _, part := range g.Dump() {
		p, ok := part.AsPolygon()
		if !ok || p.IsEmpty() {
			continue
		}
		out = append(out, polygonOf(p))
	}
	return out
}

func lineString(r orb.Ring) geom.LineString {
	xy := make([]float64, 0, 2*len(r))
	for _, p := range r {
		xy = append(xy, p[0], p[1])
	}
	return geom.NewLineString(geom.NewSequence(xy, geom.DimXY))
}

func polygonOf(p geom.Polygon) orb.Polygon {
	rings := []geom.LineString{p.ExteriorRing()}
	for i := range p.NumInteriorRings() {
		rings = append(rings, p.InteriorRingN(i))
	}
	var out orb.Polygon
	for _, ls := range rings {
		s := ls.Coordinates()
		var r orb.Ring
		for i := range s.Length() {
			xy := s.GetXY(i)
			r = append(r, orb.Point{xy.X, xy.Y})
		}
		out = append(out, r)
	}
	return out
}

// union melts overlapping polygons into one shape; beyond some hundreds, where
// that takes long, and when it fails they stay apart.
func union(parts orb.MultiPolygon) orb.MultiPolygon {
	if len(parts) < 2 || len(parts) > 400 {
		return parts
	}
	var gs []geom.Geometry
	for _, pg := range parts {
		gs = append(gs, geom.NewPolygon([]geom.LineString{lineString(pg[0])}).AsGeometry())
	}
	g, err := geom.UnaryUnion(geom.NewGeometryCollection(gs).AsGeometry())
	if err != nil {
		return parts
	}
	var out orb.MultiPolygon
	for _, part := range g.Dump() {
		if p, ok := part.AsPolygon(); ok && !p.IsEmpty() {
			out = append(out, polygonOf(p))
		}
	}
	return out
}
