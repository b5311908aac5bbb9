package ground

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"

	"windfall/geo"
	"windfall/geo/plane"
	"windfall/geo/quantity"
)

// reader reads one feature after another; n is the number of the present one,
// points counts those of the whole file.
type reader struct {
	name   string
	frame  geo.Frame
	n      int
	points int
}

func (r *reader) errorf(format string, a ...any) error {
	return fmt.Errorf("%s: feature %d: %s", r.name, r.n, fmt.Sprintf(format, a...))
}

// feature is a GeoJSON feature with its geometry read as an orb shape in
// longitude and latitude.
type feature struct {
	Properties map[string]any
	Kind       string
	Geometry   orb.Geometry
}

func (r *reader) feature(raw json.RawMessage) (*feature, error) {
	var in struct {
		Type       string         `json:"type"`
		Properties map[string]any `json:"properties"`
		Geometry   *struct {
			Type        string          `json:"type"`
			Coordinates json.RawMessage `json:"coordinates"`
		} `json:"geometry"`
	}
	if err := json.Unmarshal(raw, &in); err != nil {
		return nil, r.errorf("not a GeoJSON feature (%v)", err)
	}
	if in.Type != "Feature" {
		return nil, r.errorf("type %q is not Feature; write a feature with a geometry", in.Type)
	}
	if in.Geometry == nil {
		return nil, r.errorf("has no geometry; draw a shape for it")
	}
	g, err := geometry(in.Geometry.Type, in.Geometry.Coordinates)
	if err != nil {
		return nil, r.errorf("geometry %q cannot be read (%v)", in.Geometry.Type, err)
	}
	return &feature{in.Properties, in.Geometry.Type, g}, nil
}

// position is a GeoJSON position: two numbers, more are ignored (RFC 7946, 3.1.1).
type position orb.Point

func (p *position) UnmarshalJSON(b []byte) error {
	var v []float64
	if err := json.Unmarshal(b, &v); err != nil {
		return err
	}
	if len(v) < 2 {
		return fmt.Errorf("a position has %d numbers; write [longitude, latitude]", len(v))
	}
	*p = position{v[0], v[1]}
	return nil
}

func geometry(kind string, raw json.RawMessage) (orb.Geometry, error) {
	var (
		p1  position
		p2  []position
		p3  [][]position
		p4  [][][]position
		err error
	)
	line := func(ps []position) orb.LineString {
		out := make(orb.LineString, len(ps))
		for i, p := range ps {
			out[i] = orb.Point(p)
		}
		return out
	}
	polygon := func(rs [][]position) orb.Polygon {
		var out orb.Polygon
		for _, r := range rs {
			out = append(out, orb.Ring(line(r)))
		}
		return out
	}
	switch kind {
	case "Point":
		err = json.Unmarshal(raw, &p1)
		return orb.Point(p1), err
	case "MultiPoint":
		err = json.Unmarshal(raw, &p2)
		return orb.MultiPoint(line(p2)), err
	case "LineString":
		err = json.Unmarshal(raw, &p2)
		return line(p2), err
	case "MultiLineString":
		err = json.Unmarshal(raw, &p3)
		var out orb.MultiLineString
		for _, l := range p3 {
			out = append(out, line(l))
		}
		return out, err
	case "Polygon":
		err = json.Unmarshal(raw, &p3)
		return polygon(p3), err
	case "MultiPolygon":
		err = json.Unmarshal(raw, &p4)
		var out orb.MultiPolygon
		for _, p := range p4 {
			out = append(out, polygon(p))
		}
		return out, err
	}
	return nil, fmt.Errorf("a type not known here; write Point, LineString or Polygon")
}

// text returns a property that must be there and be text.
func (r *reader) text(ft *feature, key, write string) (string, error) {
	v, ok := ft.Properties[key]
	if !ok || v == nil {
		return "", r.errorf("has no %q; write %s", key, write)
	}
	s, ok := v.(string)
	if !ok || strings.TrimSpace(s) == "" {
		return "", r.errorf("%s %v is not text; write %s", key, v, write)
	}
	return strings.TrimSpace(s), nil
}

// optional returns a property that may be left out, and its default then.
func (r *reader) optional(ft *feature, key, otherwise string) (string, error) {
	if v, ok := ft.Properties[key]; !ok || v == nil {
		return otherwise, nil
	}
	return r.text(ft, key, "text, or leave it out")
}

func (r *reader) cover(g *Ground, ft *feature) error {
	class, err := r.text(ft, "cover", "a class such as short grass, crop, scrub or woodland")
	if err != nil {
		return err
	}
	a, err := r.area(ft)
	g.Covers = append(g.Covers, Cover{strings.ToLower(class), a})
	return err
}

func (r *reader) noGo(g *Ground, ft *feature) error {
	name, err := r.optional(ft, "name", "no-go area")
	if err != nil {
		return err
	}
	who, err := r.optional(ft, "for", string(All))
	if err != nil {
		return err
	}
	if who != string(All) && who != string(Walkers) && who != string(Drones) {
		return r.errorf("for %q is not known; write all, walkers or drones", who)
	}
	a, err := r.area(ft)
	g.NoGo = append(g.NoGo, NoGo{name, Who(who), a})
	return err
}

func (r *reader) place(g *Ground, ft *feature) error {
	name, err := r.text(ft, "name", "the name of the place")
	if err != nil {
		return err
	}
	a, err := r.area(ft)
	g.Places = append(g.Places, Place{name, a})
	return err
}

func (r *reader) barrier(g *Ground, ft *feature) error {
	name, err := r.optional(ft, "name", "barrier")
	if err != nil {
		return err
	}
	ls, err := r.lines(ft)
	for _, l := range ls {
		g.Barriers = append(g.Barriers, Barrier{name, l})
	}
	return err
}

func (r *reader) line(g *Ground, ft *feature) error {
	name, err := r.text(ft, "name", "the name of the line")
	if err != nil {
		return err
	}
	w, err := r.text(ft, "width", "a width such as 12 m")
	if err != nil {
		return err
	}
	width, err := quantity.Parse(w, quantity.Length)
	if err != nil {
		return r.errorf("width %q: %v", w, err)
	}
	if !(width > 0 && width <= 10e3) {
		return r.errorf("width %q is out of range; write more than 0 m and at most 10 km", w)
	}
	ls, err := r.lines(ft)
	for _, l := range ls {
		g.Lines = append(g.Lines, Line{name, l, width})
	}
	return err
}

// snap puts a crossing onto the nearest barrier.
func (r *reader) snap(g *Ground, p geo.XY) error {
	best, at := math.Inf(1), p
	for _, b := range g.Barriers {
		if q, d := b.Line.Nearest(p); d < best {
			best, at = d, q
		}
	}
	if best > SnapM {
		if math.IsInf(best, 1) {
			return r.errorf("a crossing, but no barrier is drawn; draw the barrier or take the crossing out")
		}
		return r.errorf("the crossing is %.0f m from the nearest barrier; put it on the barrier", best)
	}
	g.Crossings = append(g.Crossings, at)
	return nil
}

// local brings one position into the frame.
func (r *reader) local(p orb.Point) (geo.XY, error) {
	if !(math.Abs(p[0]) <= 180 && math.Abs(p[1]) <= 90) {
		return geo.XY{}, r.errorf("position [%g, %g] is not on the globe; write [longitude, latitude] in degrees", p[0], p[1])
	}
	if r.points++; r.points > maxPoints {
		return geo.XY{}, r.errorf("more than %d positions in the file; simplify the shapes", maxPoints)
	}
	q := r.frame.ToXY(p)
	if q.Norm() > MaxAwayM {
		return geo.XY{}, r.errorf("position [%g, %g] is %.0f km from the pad; GeoJSON wants longitude first, then latitude",
			p[0], p[1], q.Norm()/1000)
	}
	return q, nil
}

func (r *reader) locals(in []orb.Point) (plane.Line, error) {
	out := make(plane.Line, 0, len(in))
	for _, p := range in {
		q, err := r.local(p)
		if err != nil {
			return nil, err
		}
		if n := len(out); n > 0 && out[n-1] == q {
			continue // a point given twice adds nothing
		}
		out = append(out, q)
	}
	return out, nil
}

func (r *reader) area(ft *feature) (plane.Polygons, error) {
	var in orb.MultiPolygon
	switch a := ft.Geometry.(type) {
	case orb.Polygon:
		in = orb.MultiPolygon{a}
	case orb.MultiPolygon:
		in = a
	default:
		return nil, r.errorf("geometry %s is not an area; draw a Polygon", ft.Kind)
	}
	var out plane.Polygons
	for _, poly := range in {
		if len(poly) == 0 {
			continue
		}
		var q plane.Polygon
		for _, ring := range poly {
			if len(ring) < 4 || ring[0] != ring[len(ring)-1] {
				return nil, r.errorf("a ring is not closed or has fewer than 4 positions; end it where it began")
			}
			ps, err := r.locals(ring)
			if err != nil {
				return nil, err
			}
			if len(ps) < 4 {
				return nil, r.errorf("a ring has fewer than 3 different positions; draw an area")
			}
			q = append(q, plane.Ring(ps))
		}
		if err := r.valid(q); err != nil {
			return nil, err
		}
		out = append(out, q)
	}
	if len(out) == 0 {
		return nil, r.errorf("the polygon is empty; draw at least one ring")
	}
	return out, nil
}

func (r *reader) lines(ft *feature) ([]plane.Line, error) {
	var in orb.MultiLineString
	switch l := ft.Geometry.(type) {
	case orb.LineString:
		in = orb.MultiLineString{l}
	case orb.MultiLineString:
		in = l
	default:
		return nil, r.errorf("geometry %s is not a line; draw a LineString", ft.Kind)
	}
	var out []plane.Line
	for _, l := range in {
		ps, err := r.locals(l)
		if err != nil {
			return nil, err
		}
		if len(ps) < 2 {
			return nil, r.errorf("the line has fewer than 2 different positions; draw it longer")
		}
		out = append(out, ps)
	}
	if len(out) == 0 {
		return nil, r.errorf("the line is empty; draw it")
	}
	return out, nil
}

func (r *reader) pointsOf(ft *feature) (plane.Line, error) {
	switch p := ft.Geometry.(type) {
	case orb.Point:
		return r.locals([]orb.Point{p})
	case orb.MultiPoint:
		return r.locals(p)
	}
	return nil, r.errorf("geometry %s is not a point; draw a Point", ft.Kind)
}
