package ground

import (
	"fmt"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/geom"

	"windfall/geo"
)

// valid refuses polygons whose inside is in doubt: rings that cross themselves
// or each other, holes outside. Polygons of one feature may overlap.
func (r *reader) valid(p orb.Polygon) error {
	rings := make([]geom.LineString, len(p))
	for k, ring := range p {
		flat := make([]float64, 0, 2*len(ring))
		for _, q := range ring {
			flat = append(flat, q[0], q[1])
		}
		rings[k] = geom.NewLineString(geom.NewSequence(flat, geom.DimXY))
		if !rings[k].IsSimple() {
			where := ""
			if at, ok := crossing(ring); ok {
				q := r.frame.ToLonLat(geo.XY{X: at[0], Y: at[1]})
				where = fmt.Sprintf(" near latitude %.5f, longitude %.5f", q.Lat(), q.Lon())
			}
			return r.errorf("the ring crosses or touches itself%s; draw its corners in order around the area, or make it two areas", where)
		}
	}
	if geom.NewPolygon(rings).Validate() != nil {
		return r.errorf("a hole crosses the outer ring or lies outside it; draw it inside, or as an area of its own")
	}
	return nil
}

// crossing finds where two sides of a ring that are not neighbours meet; it
// looks at no more than the first few thousand.
func crossing(r orb.Ring) (orb.Point, bool) {
	n := min(len(r)-1, 4000)
	for i := range n {
		for j := i + 2; j < n; j++ {
			if i == 0 && j == len(r)-2 {
				continue // neighbours across the ring's end
			}
			if p, ok := meet(r[i], r[i+1], r[j], r[j+1]); ok {
				return p, true
			}
		}
	}
	return orb.Point{}, false
}

// meet returns where the segments a-b and c-d meet.
func meet(a, b, c, d orb.Point) (orb.Point, bool) {
	rx, ry, sx, sy := b[0]-a[0], b[1]-a[1], d[0]-c[0], d[1]-c[1]
	cross := rx*sy - ry*sx
	if cross == 0 {
		return orb.Point{}, false
	}
	t := ((c[0]-a[0])*sy - (c[1]-a[1])*sx) / cross
	u := ((c[0]-a[0])*ry - (c[1]-a[1])*rx) / cross
	if t < 0 || t > 1 || u < 0 || u > 1 {
		return orb.Point{}, false
	}
	return orb.Point{a[0] + t*rx, a[1] + t*ry}, true
}
