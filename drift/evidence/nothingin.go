package evidence

import (
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"

	"windfall/drift"
	"windfall/geo/plane"
)

// NothingIn is ground where the vehicle is not.
type NothingIn struct {
	Observer
	Moment
	Geometry *geojson.Geometry `json:"geometry,omitempty"` // Polygon or MultiPolygon, longitude and latitude
}

// Name is how messages call it.
func (NothingIn) Name() string { return "nothing-in" }

// Entry is the kind of its logbook entries.
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
	law := &nothingLaw{area: plane.FromLonLat(m.Frame(), n.area())}
	for _, p := range law.area {
		law.bounds = append(law.bounds, p.Bound())
	}
	return law, nil
}

// nothingLaw holds or not: outside the area it is right, and inside it the
// vehicle was overlooked, with the chance that nobody is sure of it.
type nothingLaw struct {
	noMoment
	area   plane.Polygons // in the model's frame
	bounds []plane.Box    // of its pieces
}

func (n *nothingLaw) mistaken() float64 { return math.Inf(-1) }

func (n *nothingLaw) right(l *drift.Landing, _ *drift.Work) float64 {
	for i, p := range n.area {
		if n.bounds[i].Contains(l.At) && p.Contains(l.At) {
			return math.Inf(-1)
		}
	}
	return 0
}
