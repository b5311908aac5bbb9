package ground

import (
	"fmt"

	"github.com/peterstace/simplefeatures/geom"

	"windfall/geo"
	"windfall/geo/plane"
)

// valid refuses polygons whose inside is in doubt: rings that cross themselves
// or each other, holes outside. Polygons of one feature may overlap.
func (r *reader) valid(p plane.Polygon) error {
	rings := make([]geom.LineString, len(p))
	for k, ring := range p {
		flat := make([]float64, 0, 2*len(ring))
		for _, q := range ring {
			flat = append(flat, q.X, q.Y)
		}
		rings[k] = geom.NewLineString(geom.NewSequence(flat, geom.DimXY))
		if !rings[k].IsSimple() {
			where := ""
			if at, ok := crossing(ring); ok {
				q := r.frame.ToLonLat(at)
				where = fmt.Sprintf(" near latitude %.5f, longitude %.5f", q.Lat(), q.Lon())
			}
			return r.errorf("the ring crosses or touches itself%s; draw its corners in order around the area, or make it two "+
				"areas", where)
		}
	}
	if geom.NewPolygon(rings).Validate() != nil {
		return r.errorf("a hole crosses the outer ring or lies outside it; draw it inside, or as an area of its own")
	}
	return nil
}

// crossing finds where two sides of a ring that are not neighbours meet; it
// looks at no more than the first few thousand.
func crossing(r plane.Ring) (geo.XY, bool) {
	n := min(len(r)-1, 4000)
	for i := range n {
		for j := i + 2; j < n; j++ {
			if i == 0 && j == len(r)-2 {
				continue // neighbours across the ring's end
			}
			if p, ok := plane.Meet(r[i], r[i+1], r[j], r[j+1]); ok {
				return p, true
			}
		}
	}
	return geo.XY{}, false
}
