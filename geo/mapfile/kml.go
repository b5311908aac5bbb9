package mapfile

import (
	"cmp"
	"fmt"
	"image/color"
	"io"
	"math"
	"strings"

	"github.com/paulmach/orb"
	"github.com/twpayne/go-kml/v3"

	"windfall/geo"
	"windfall/geo/grid"
	"windfall/geo/ink"
	"windfall/geo/plane"
)

// KML writes l as KML 2.2 without pictures: a folder for each layer, the
// searchers first, then points, areas and ground. Markers are the app's own.
func KML(w io.Writer, l *Landing) error {
	l = l.ready()
	doc := document(l, false)
	return kml.KML(doc).WriteIndent(w, "", " ")
}

// document builds the KML; withIcons points the styles at the icons of a KMZ.
func document(l *Landing, withIcons bool) *kml.DocumentElement {
	doc := kml.Document(kml.Name(clean(l.Title)), kml.Open(true))
	if t := clean(l.Subtitle); t != "" {
		doc.Append(described(t))
	}
	doc.Append(lookAt(l))
	doc.Append(styles(l, withIcons)...)
	if l.Plan != nil {
		for _, r := range l.Plan.Searchers {
			doc.Append(routeFolder(l, r.nth-1, r))
		}
	}
	doc.Append(pointFolder(l))
	for _, f := range []struct {
		name  string
		marks []kml.Element
	}{
		{"Areas by chance", areaMarks(l)},
		{"Ellipses", ellipseMarks(l)},
		{"Shed parts", partMarks(l)},
		{"Sightings", rayMarks(l)},
		{"Ground covered", coveredMarks(l)},
		{"Keep out", zoneMarks(l, l.NoGo, "#no-go", "keep out")},
		{"Barriers", barrierMarks(l)},
		{"Crossings", crossingMarks(l)},
		{"Cover", zoneMarks(l, l.Covers, "#cover", "")},
		{"Ground", zoneMarks(l, l.Outlines, "#outline", "")},
	} {
		if len(f.marks) > 0 {
			doc.Append(kml.Folder(append([]kml.Element{kml.Name(f.name)}, f.marks...)...))
		}
	}
	return doc
}

// lookAt looks straight down on the whole extent, north up.
func lookAt(l *Landing) kml.Element {
	b := l.extent()
	p := lonLat(l.Frame, b.Center())
	size := math.Max(b.Size().X, b.Size().Y)
	return kml.LookAt(kml.Longitude(p.Lon()), kml.Latitude(p.Lat()), kml.Heading(0), kml.Tilt(0),
		kml.Range(math.Round(1.6*size)), kml.AltitudeMode(kml.AltitudeModeClampToGround))
}

func styles(l *Landing, withIcons bool) []kml.Element {
	icon := func(name string) kml.Element {
		if !withIcons {
			return nil
		}
		return kml.IconStyle(kml.Scale(1), kml.Icon(kml.Href("icons/"+name+".png")))
	}
	line := func(c color.NRGBA, width float64) kml.Element {
		return kml.LineStyle(kml.Color(straight{c}), kml.Width(width))
	}
	fill := func(c color.NRGBA) kml.Element { return kml.PolyStyle(kml.Color(straight{c})) }
	// The schema wants icon, line and fill in this order.
	style := func(id string, parts ...kml.Element) kml.Element { return kml.SharedStyle(id, parts...) }
	out := []kml.Element{
		style("pad", icon("pad")), style("nominal", icon("nominal")), style("spot", icon("spot")),
		style("part", icon("part")),
		style("ellipse", line(ink.Paper, 1.5), fill(ink.Faded(ink.Paper, 0))),
		style("part-area", line(ink.Brown, 2), fill(ink.Faded(ink.Paper, 0))),
		style("sighting", line(ink.Teal, 3), fill(ink.Faded(ink.Teal, 0.18))),
		style("covered", line(ink.Faded(ink.Grey, 0.8), 2), fill(ink.Faded(ink.Grey, 0.35))),
		style("no-go", line(ink.Red, 3), fill(ink.Faded(ink.Red, 0.4))),
		style("barrier", line(ink.Red, 4)),
		style("cover", line(ink.Faded(ink.Moss, 0.8), 1.5), fill(ink.Faded(ink.Moss, 0.15))),
		style("outline", line(ink.RGB(0xE8E8E8), 2), fill(ink.Faded(ink.Paper, 0))),
	}
	for _, a := range l.Areas {
		out = append(out, style(areaStyle(a), line(ink.Contour(a.Probability), 2+2*(1-a.Probability)),
			fill(ink.Faded(ink.Contour(a.Probability), 0.12))))
	}
	if l.Plan != nil {
		for _, r := range l.Plan.Searchers {
			i := r.nth - 1
			c := ink.Searcher(i)
			out = append(out,
				style(fmt.Sprintf("search-%d", i+1), icon(fmt.Sprintf("leg-%d", i+1)), line(c, 4)),
				style(fmt.Sprintf("transit-%d", i+1), icon(fmt.Sprintf("leg-%d", i+1)), line(ink.Faded(c, 0.75), 2)),
				style(fmt.Sprintf("block-%d", i+1), line(c, 2), fill(ink.Faded(c, 0.18))),
				style(fmt.Sprintf("start-%d", i+1), icon(fmt.Sprintf("start-%d", i+1))))
		}
	}
	return out
}

func areaStyle(a grid.Area) string { return fmt.Sprintf("area-%.0f", 100*a.Probability) }

var asText = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;")

// described is a description: viewers take it for HTML, and what people wrote
// is text.
func described(text string) kml.Element { return kml.Description(asText.Replace(text)) }

// placemark puts its parts in the order of the schema: name, visibility,
// description, time, style, geometry.
func placemark(name, desc, style string, rest ...kml.Element) *kml.PlacemarkElement {
	p := kml.Placemark(kml.Name(clean(name)))
	var times, shapes []kml.Element
	for _, e := range rest {
		switch e.(type) {
		case *kml.VisibilityElement:
			p.Append(e)
		case *kml.TimeSpanElement:
			times = append(times, e)
		default:
			shapes = append(shapes, e)
		}
	}
	if desc != "" {
		p.Append(described(desc))
	}
	return p.Append(times...).Append(kml.StyleURL(style)).Append(shapes...)
}

func pointAt(p orb.Point) kml.Element {
	return kml.Point(kml.Coordinates(kml.Coordinate{Lon: p.Lon(), Lat: p.Lat()}))
}

func coordinates(ps []orb.Point) kml.Element {
	cs := make([]kml.Coordinate, len(ps))
	for i, p := range ps {
		cs[i] = kml.Coordinate{Lon: p.Lon(), Lat: p.Lat()}
	}
	return kml.Coordinates(cs...)
}

func lineElements(m orb.MultiLineString) []kml.Element {
	var out []kml.Element
	for _, ls := range m {
		out = append(out, kml.LineString(kml.Tessellate(true), coordinates(ls)))
	}
	return out
}

// single returns one geometry alone and several as a MultiGeometry.
func single(gs []kml.Element) kml.Element {
	if len(gs) == 1 {
		return gs[0]
	}
	return kml.MultiGeometry(gs...)
}

func polygonElement(l *Landing, shape plane.Polygons) kml.Element {
	var out []kml.Element
	for _, pg := range polygons(l.Frame, shape) {
		e := kml.Polygon(kml.Tessellate(true), kml.OuterBoundaryIs(kml.LinearRing(coordinates(pg[0]))))
		for _, hole := range pg[1:] {
			e.Append(kml.InnerBoundaryIs(kml.LinearRing(coordinates(hole))))
		}
		out = append(out, e)
	}
	if len(out) == 0 {
		return nil
	}
	return single(out)
}

func pointFolder(l *Landing) kml.Element {
	f := kml.Folder(kml.Name("Places"), kml.Open(true))
	for i, s := range l.spots() {
		desc := fmt.Sprintf("Number %d of the likeliest places.", i+1)
		if s.P > 0 && l.Chance != nil {
			desc += fmt.Sprintf(" The %s square here holds %s.", metres(l.Chance.Cell), percent(s.P))
		}
		f.Append(placemark(s.Name, desc, "#spot", pointAt(lonLat(l.Frame, s.At))))
	}
	if l.Nominal != nil {
		f.Append(placemark("Nominal landing", "Where it lands if everything goes as written.", "#nominal",
			pointAt(lonLat(l.Frame, *l.Nominal))))
	}
	f.Append(placemark("Pad", "Launch pad.", "#pad", pointAt(lonLat(l.Frame, geo.XY{}))))
	return f
}

func areaMarks(l *Landing) (out []kml.Element) {
	for _, a := range l.Areas {
		if g := polygonElement(l, a.Shape); g != nil {
			name := percent(a.Probability) + " area"
			desc := fmt.Sprintf("It lies in here with a chance of %s. %s.", percent(a.Probability), area(a.AreaM2))
			out = append(out, placemark(name, desc, "#"+areaStyle(a), g))
		}
	}
	return out
}

func ellipseMarks(l *Landing) (out []kml.Element) {
	for i, e := range l.Ellipses {
		if g := polygonElement(l, plane.Polygons{l.ellipse(i)}); g != nil {
			desc := fmt.Sprintf("Half axes %s and %s, the longer toward %s true.", metres(e.SemiMajor), metres(e.SemiMinor),
				bearing(e.AzimuthDeg))
			out = append(out, placemark(percent(e.Probability)+" ellipse", desc, "#ellipse", kml.Visibility(false), g))
		}
	}
	return out
}

func partMarks(l *Landing) (out []kml.Element) {
	for _, p := range l.Parts {
		out = append(out, placemark(p.Name, "Middle of where this part lies"+p.should()+".", "#part",
			pointAt(lonLat(l.Frame, p.Mean))))
		for _, a := range p.Areas {
			if g := polygonElement(l, a.Shape); g != nil {
				out = append(out, placemark(fmt.Sprintf("%s: %s area", p.Name, percent(a.Probability)),
					fmt.Sprintf("The part lies in here with a chance of %s%s. %s.", percent(a.Probability), p.should(),
						area(a.AreaM2)), "#part-area", g))
			}
		}
	}
	return out
}

func rayMarks(l *Landing) (out []kml.Element) {
	for _, r := range l.Rays {
		d := r.length(l.reach())
		gs := lineElements(line(l.Frame, []geo.XY{r.From, r.From.Add(geo.Polar(d, r.BearingDeg))}))
		if r.SpreadDeg > 0 {
			if g := polygonElement(l, plane.Polygons{{r.wedge(l.reach())}}); g != nil {
				gs = append(gs, g)
			}
		}
		desc := fmt.Sprintf("Bearing %s true, give or take %.3g° (one standard deviation; the wedge spans two).",
			bearing(r.BearingDeg), r.SpreadDeg)
		if t := clean(r.Text); t != "" {
			desc += "\n" + t
		}
		out = append(out, placemark("Seen by "+r.By, desc, "#sighting", single(gs)))
	}
	return out
}

func coveredMarks(l *Landing) (out []kml.Element) {
	for _, s := range l.Covered {
		gs := lineElements(line(l.Frame, s.Path))
		if g := polygonElement(l, s.swath()); g != nil {
			gs = append(gs, g)
		}
		if len(gs) == 0 {
			continue
		}
		desc := ""
		if s.Width > 0 {
			desc = fmt.Sprintf("Searched without a find, %s wide.", metres(s.Width))
		}
		if s.POD > 0 {
			desc += fmt.Sprintf(" POD %s.", percent(s.POD))
		}
		out = append(out, placemark("Covered by "+s.By, desc, "#covered", single(gs)))
	}
	return out
}

func zoneMarks(l *Landing, zs []Zone, style, word string) (out []kml.Element) {
	for _, z := range zs {
		g := polygonElement(l, z.Shape)
		if g == nil {
			continue
		}
		name, desc := z.Name, ""
		if word != "" {
			if name == "" {
				name = word
			} else {
				name = word + ": " + name
			}
			if desc = "For everyone."; z.For != "" && z.For != "all" {
				desc = "For " + z.For + "."
			}
		}
		out = append(out, placemark(name, desc, style, g))
	}
	return out
}

func barrierMarks(l *Landing) (out []kml.Element) {
	for _, b := range l.Barriers {
		if gs := lineElements(line(l.Frame, b.Path)); len(gs) > 0 {
			out = append(out, placemark(b.Name, "Cannot be crossed on foot but at a crossing.", "#barrier", single(gs)))
		}
	}
	return out
}

func crossingMarks(l *Landing) (out []kml.Element) {
	for _, c := range l.Crossings {
		out = append(out, placemark(cmp.Or(clean(c.Name), "crossing"), "The barrier can be crossed here on foot.", "#spot",
			pointAt(lonLat(l.Frame, c.At))))
	}
	return out
}

// straight is a colour whose RGBA is not premultiplied: the KML library writes
// those bytes, and KML wants the plain colour beside its alpha.
type straight struct{ c color.NRGBA }

func (s straight) RGBA() (r, g, b, a uint32) {
	return uint32(s.c.R) * 257, uint32(s.c.G) * 257, uint32(s.c.B) * 257, uint32(s.c.A) * 257
}
