package mapfile

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/geom"
)

// cut splits a polygon whose longitudes run past 180 at the antimeridian and
// brings the pieces into [-180, 180]; one that stays inside comes back whole.
// A hole with a pole in it is filled: the files then show too much, never too
// little.
func cut(rings []orb.Ring) orb.MultiPolygon {
	for _, r := range rings { // corners a hair off the meridian confuse the overlay
		for i, p := range r {
			r[i] = orb.Point{round8(p[0]), round8(p[1])}
		}
	}
	west, east := math.Inf(1), math.Inf(-1)
	polar := false
	for _, p := range rings[0] {
		west, east = math.Min(west, p[0]), math.Max(east, p[0])
		polar = polar || math.Abs(p[1]) == 90
	}
	if polar { // a hole around the pole itself would share the outer ring's way along it
		rings = append(rings[:1:1], slices.DeleteFunc(rings[1:], func(r orb.Ring) bool {
			return slices.ContainsFunc(r, func(p orb.Point) bool { return math.Abs(p[1]) == 90 })
		})...)
	}
	for i := 1; i < len(rings); i++ { // holes follow their outer ring
		shift(rings[i], 360*math.Round(((west+east)/2-rings[i][0][0])/360))
	}
	first, last := math.Floor((west+180)/360), math.Ceil((east-180)/360)
	if last <= first && !polar {
		for _, r := range rings {
			shift(r, -360*first)
		}
		return orb.MultiPolygon{orb.Polygon(rings)}
	}
	var out orb.MultiPolygon
	for k := first; k <= last; k++ {
		for _, pg := range window(rings, polar, 360*k-180, 360*k+180) {
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

// window returns the part of a polygon between two meridians. Around a pole,
// and where the overlay refuses rings, as when they cross themselves, the rings
// are clipped one by one.
func window(rings []orb.Ring, polar bool, west, east float64) orb.MultiPolygon {
	if !polar {
		if m, err := overlaid(rings, west, east); err == nil {
			return m
		}
	}
	inside := func(r orb.Ring) orb.Ring { return closed(beyond(beyond(r, west, 1), east, -1)) }
	outer := inside(rings[0])
	if outer == nil {
		return nil
	}
	pg := orb.Polygon{outer}
	for _, hole := range rings[1:] {
		for _, turn := range []float64{-360, 0, 360} { // around a pole a hole may be a turn away
			h := append(orb.Ring(nil), hole...)
			shift(h, turn)
			if h = inside(h); h != nil && outer.Bound().Intersects(h.Bound()) {
				pg = append(pg, h)
			}
		}
	}
	return orb.MultiPolygon{pg}
}

// overlaid takes the holes out first and the window last, so that nothing
// sticks out of it.
func overlaid(rings []orb.Ring, west, east float64) (orb.MultiPolygon, error) {
	g := area2d(rings[0])
	var err error
	for _, hole := range rings[1:] {
		if g, err = geom.Difference(g, area2d(hole)); err != nil {
			return nil, err
		}
	}
	box := orb.Ring{{west, -91}, {east, -91}, {east, 91}, {west, 91}, {west, -91}}
	if g, err = geom.Intersection(g, area2d(box)); err != nil {
		return nil, err
	}
	return polygonsOf(g), nil
}

// beyond keeps what lies east (side 1) or west (side -1) of a meridian
// (Sutherland and Hodgman 1974); pieces stay joined along it.
func beyond(r orb.Ring, lon, side float64) orb.Ring {
	var out orb.Ring
	for i := 1; i < len(r); i++ {
		a, b := r[i-1], r[i]
		da, db := side*(a[0]-lon), side*(b[0]-lon)
		if da >= 0 {
			out = append(out, a)
		}
		if (da > 0) != (db > 0) && da != 0 && db != 0 {
			out = append(out, orb.Point{lon, a[1] + (b[1]-a[1])*da/(da-db)})
		}
	}
	if len(out) > 0 {
		out = append(out, out[0])
	}
	return out
}

// area2d is the ground inside one ring.
func area2d(r orb.Ring) geom.Geometry {
	return geom.NewPolygon([]geom.LineString{lineString(r)}).AsGeometry()
}

// polygonsOf keeps the polygons of g.
func polygonsOf(g geom.Geometry) orb.MultiPolygon {
	var out orb.MultiPolygon
	for _, part := range g.Dump() {
		if p, ok := part.AsPolygon(); ok && !p.IsEmpty() {
			out = append(out, polygonOf(p))
		}
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
