package mapfile

import (
	"fmt"
	"math"
	"strings"

	"github.com/twpayne/go-kml/v3"

	"windfall/geo"
	"windfall/geo/plane"
)

// routeFolder is a searcher's folder: the start, numbered points where legs
// begin, and the legs with an arrow each.
func routeFolder(l *Landing, i int, r Route) kml.Element {
	name := fmt.Sprintf("%s: %s (%s)", routeLetter(i), r.Name, r.Kind)
	f := kml.Folder(kml.Name(clean(name)), kml.Open(false), described(clean(r.summary())))
	f.Append(placemark("Start "+r.Name, clean(r.StartName), fmt.Sprintf("#start-%d", i+1),
		pointAt(lonLat(l.Frame, r.Start))))
	if r.Blocks != nil {
		for _, s := range l.Plan.stages(r) {
			f.Append(stageMark(l, i, r, s))
		}
		return f
	}
	legs, numbers := kml.Folder(kml.Name("Legs")), kml.Folder(kml.Name("Numbers"), kml.Visibility(true))
	for _, g := range r.Legs {
		style := fmt.Sprintf("#transit-%d", i+1)
		if g.Kind == Search {
			style = fmt.Sprintf("#search-%d", i+1)
		}
		label := fmt.Sprintf("%s%03d", routeLetter(i), g.N)
		var span []kml.Element
		if !l.Plan.Begin.IsZero() {
			span = append(span, kml.TimeSpan(kml.Begin(l.Plan.at(g.StartMin)), kml.End(l.Plan.at(g.EndMin))))
		}
		if g.From != g.To {
			gs := lineElements(line(l.Frame, []geo.XY{g.From, g.To}))
			gs = append(gs, lineElements(line(l.Frame, g.arrow()))...)
			legs.Append(placemark(label+" "+g.Kind, clean(g.text(l, r)), style, append(span, kml.MultiGeometry(gs...))...))
		}
		numbers.Append(placemark(label, clean(g.text(l, r)), style, append(span, pointAt(lonLat(l.Frame, g.From)))...))
	}
	return f.Append(legs, numbers)
}

// stageMark is a way, or the folder of a block: where it begins, its outline, and
// its lanes with an arrow each.
func stageMark(l *Landing, i int, r Route, s stage) kml.Element {
	var span []kml.Element
	if !l.Plan.Begin.IsZero() {
		span = append(span, kml.TimeSpan(kml.Begin(l.Plan.at(s.legs[0].StartMin)), kml.End(l.Plan.at(s.last().EndMin))))
	}
	gs := lineElements(line(l.Frame, s.path()))
	if s.block == nil {
		if len(gs) == 0 {
			return nil
		}
		text := s.wayText(l, r)
		name, _, _ := strings.Cut(text, ":")
		return placemark(name, clean(text), fmt.Sprintf("#transit-%d", i+1), append(span, single(gs))...)
	}
	for _, g := range arrows(s.path()) {
		gs = append(gs, lineElements(line(l.Frame, g))...)
	}
	b := s.block
	desc := fmt.Sprintf("%s. Begin at the marked corner at %s min, done by %s. Chance to find it here %s.", b.text(l, r),
		minutes(b.StartMin), minutes(b.EndMin), percent(b.POS))
	name := fmt.Sprintf("%s: %s", b.Name, blockWords(b))
	f := kml.Folder(kml.Name(name), kml.Open(false), described(clean(desc)))
	style := fmt.Sprintf("#search-%d", i+1)
	f.Append(placemark(b.Name, clean(desc), style, append(span, pointAt(lonLat(l.Frame, b.Begin)))...))
	if g := polygonElement(l, plane.Polygons{{s.outline()}}); g != nil {
		f.Append(placemark(b.Name+" ground", "", fmt.Sprintf("#block-%d", i+1), append(span, g)...))
	}
	return f.Append(placemark(b.Name+" lanes", "", style, append(span, kml.MultiGeometry(gs...))...))
}

// blockWords names a block's shape.
func blockWords(b *Block) string {
	if b.Rectangle {
		return fmt.Sprintf("expanding rectangle, %d courses, %s apart", b.Lanes, metres(b.Spacing))
	}
	return fmt.Sprintf("%s of %s, %s apart", plural(b.Lanes, "lane"), metres(b.Lane), metres(b.Spacing))
}

// arrows are heads on the longer courses of a path.
func arrows(path []geo.XY) (out [][]geo.XY) {
	for i := 1; i < len(path); i++ {
		if g := (Leg{From: path[i-1], To: path[i]}); path[i].Sub(path[i-1]).Norm() > 40 {
			out = append(out, g.arrow())
		}
	}
	return out
}

// arrow is a head two thirds along the leg, open to the rear.
func (g Leg) arrow() []geo.XY {
	d := g.To.Sub(g.From)
	m := d.Norm()
	if m == 0 {
		return nil
	}
	size := math.Min(8, m/3)
	tip := g.From.Add(d.Scale(2.0 / 3))
	back := d.BearingDeg() + 180
	return []geo.XY{tip.Add(geo.Polar(size, back-30)), tip, tip.Add(geo.Polar(size, back+30))}
}
