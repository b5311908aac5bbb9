package evidence

import (
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
	"github.com/paulmach/orb/planar"

	"windfall/drift"
	"windfall/geo"
)

// NothingIn is ground where the vehicle is not.
type NothingIn struct {
	Observer
	Moment
	Geometry *geojson.Geometry `json:"geometry,omitempty"` // Polygon or MultiPolygon, longitude and latitude
}

func (NothingIn) Name() string  { return "nothing-in" }
func (NothingIn) Entry() string { return "nothing-in" }

func (n NothingIn) filled() (Kind, float64) {
	n.Moment = n.Moment.filled()
	return n, 0.8
}

func (NothingIn) limits() []limit { return nil }

func (n NothingIn) check() error {
	if len(n.area()) == 0 {
		return errors.New("nothing-in needs an area: a GeoJSON file with at least one polygon")
	}
	return nil
}

func (n NothingIn) words(sure float64) string {
	return fmt.Sprintf("nothing in %d area(s), sure %.2g", len(n.area()), sure)
}

// disagrees says what it is for such ground to be held against the rest.
func (NothingIn) disagrees() string { return ", which put the vehicle there with chance %.2f" }

// area returns the polygons, longitude and latitude; nil without any.
func (n NothingIn) area() orb.MultiPolygon {
	if n.Geometry == nil {
		return nil
	}
	switch g := n.Geometry.Geometry().(type) {
	case orb.Polygon:
		return orb.MultiPolygon{g}
	case orb.MultiPolygon:
		return g
	}
	return nil
}

func (n NothingIn) ready(m model, _ post) (law, error) {
	law := &nothingLaw{}
	for _, poly := range n.area() {
		law.rings = append(law.rings, localPolygon(poly, m.Frame()))
		law.bounds = append(law.bounds, law.rings[len(law.rings)-1].Bound())
	}
	return law, nil
}

func localPolygon(p orb.Polygon, f geo.Frame) orb.Polygon {
	out := make(orb.Polygon, len(p))
	for i, ring := range p {
		out[i] = make(orb.Ring, len(ring))
		for j, q := range ring {
			xy := f.ToXY(q)
			out[i][j] = orb.Point{xy.X, xy.Y}
		}
	}
	return out
}

// nothingLaw holds or not: outside the area it is right, and inside it the
// vehicle was overlooked, with the chance that nobody is sure of it.
type nothingLaw struct {
	noMoment
	rings  orb.MultiPolygon // m in the model's frame
	bounds []orb.Bound
}

func (n *nothingLaw) mistaken() float64 { return math.Inf(-1) }

func (n *nothingLaw) right(l *drift.Landing, _ *drift.Work) float64 {
	q := orb.Point{l.At.X, l.At.Y}
	for i, poly := range n.rings {
		if n.bounds[i].Contains(q) && planar.PolygonContains(poly, q) {
			return math.Inf(-1)
		}
	}
	return 0
}
