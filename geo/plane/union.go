package plane

import (
	"github.com/peterstace/simplefeatures/geom"

	"windfall/geo"
)

// mostUnited is how many pieces Union takes on; melting more takes seconds.
const mostUnited = 400

// Union melts pieces that overlap into one, their holes filled. More than some
// hundreds, and pieces that the overlay refuses, stay as they are.
func (ps Polygons) Union() Polygons {
	if len(ps) < 2 || len(ps) > mostUnited {
		return ps
	}
	var gs []geom.Geometry
	for _, p := range ps {
		gs = append(gs, geom.NewPolygon([]geom.LineString{p[0].geom()}).AsGeometry())
	}
	g, err := geom.UnaryUnion(geom.NewGeometryCollection(gs).AsGeometry())
	if err != nil {
		return ps
	}
	var out Polygons
	for _, part := range g.Dump() {
		if p, ok := part.AsPolygon(); ok && !p.IsEmpty() {
			out = append(out, polygonOf(p))
		}
	}
	return out
}

func (r Ring) geom() geom.LineString {
	xy := make([]float64, 0, 2*len(r))
	for _, q := range r {
		xy = append(xy, q.X, q.Y)
	}
	return geom.NewLineString(geom.NewSequence(xy, geom.DimXY))
}

func polygonOf(p geom.Polygon) Polygon {
	out := Polygon{ringOf(p.ExteriorRing())}
	for i := range p.NumInteriorRings() {
		out = append(out, ringOf(p.InteriorRingN(i)))
	}
	return out
}

func ringOf(ls geom.LineString) Ring {
	s := ls.Coordinates()
	out := make(Ring, s.Length())
	for i := range out {
		q := s.GetXY(i)
		out[i] = geo.XY{X: q.X, Y: q.Y}
	}
	return out
}
