package mapfile

import (
	"fmt"
	"image"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"

	"windfall/geo"
	"windfall/geo/ink"
	"windfall/geo/plane"
)

// entry is a line of the legend: a swatch of 26 by 12 units and a text.
type entry struct {
	text   string
	swatch swatch
}

// swatch draws in a legend around p.
type swatch func(k *canvas, p vg.Point)

// stroke is a swatch of a line drawn with each pen in turn.
func stroke(pens ...pen) swatch {
	return func(k *canvas, p vg.Point) {
		for _, pn := range pens {
			k.stroke(pn, vg.Point{X: p.X - k.unit*13, Y: p.Y}, vg.Point{X: p.X + k.unit*13, Y: p.Y})
		}
	}
}

// legend lists what a picture of the ground in view shows, and nothing else;
// nil: of all ground.
func legend(l *Landing, view *plane.Box) []entry {
	if view != nil {
		l = l.within(*view)
	}
	return slices.Concat(legendOfPlan(l), legendOfPlaces(l), legendOfGround(l), legendOfParts(l))
}

// within is the landing with that alone of its ground, lines and outlines which
// a picture of the box shows.
func (l *Landing) within(b plane.Box) *Landing {
	edges := func(s plane.Polygons) bool {
		return slices.ContainsFunc(s, func(pg plane.Polygon) bool {
			return slices.ContainsFunc(pg, func(r plane.Ring) bool { return len(b.ClipLine(plane.Line(r))) > 0 })
		})
	}
	filled := func(s plane.Polygons) bool {
		return slices.ContainsFunc(s, func(pg plane.Polygon) bool { return len(b.ClipPolygon(pg)) > 0 })
	}
	out := *l
	out.Covered = kept(l.Covered, func(s Strip) bool { return filled(s.swath()) })
	out.NoGo = kept(l.NoGo, func(z Zone) bool { return filled(z.Shape) })
	out.Barriers = kept(l.Barriers, func(x Line) bool { return len(b.ClipLine(x.Path)) > 0 })
	out.Crossings = kept(l.Crossings, func(s Spot) bool { return b.Contains(s.At) })
	out.Covers = kept(l.Covers, func(z Zone) bool { return filled(z.Shape) })
	out.Outlines = kept(l.Outlines, func(z Zone) bool { return edges(z.Shape) })
	return &out
}

// kept are those of all that are of use.
func kept[T any](all []T, use func(T) bool) (out []T) {
	for _, x := range all {
		if use(x) {
			out = append(out, x)
		}
	}
	return out
}

func legendOfPlan(l *Landing) (out []entry) {
	if l.Plan == nil {
		return nil
	}
	for _, r := range l.Plan.Searchers {
		i := r.nth - 1
		text := fmt.Sprintf("%s %s, %s", routeLetter(i), clean(r.Name), r.Kind)
		if r.Blocks != nil {
			out = append(out, entry{text, blockSwatch(i)})
		} else {
			out = append(out, entry{text, stroke(routePens(i, Search)...)})
		}
	}
	return append(out, entry{"way there and back", stroke(routePens(0, "transit")...)})
}

func legendOfPlaces(l *Landing) (out []entry) {
	for _, a := range l.Areas {
		text := fmt.Sprintf("%s area, %s", percent(a.Probability), area(a.AreaM2))
		out = append(out, entry{text, stroke(areaPen(a.Probability))})
	}
	out = append(out, entry{"pad", (*canvas).padMark})
	if l.Nominal != nil {
		out = append(out, entry{"nominal landing", (*canvas).nominalMark})
	}
	if len(l.spots()) > 0 {
		out = append(out, entry{"likely spot", (*canvas).spotMark})
	}
	if len(l.Ellipses) > 0 {
		out = append(out, entry{"landing ellipse", stroke(ellipsePen)})
	}
	if len(l.Rays) > 0 {
		out = append(out, entry{"sighting, ± 2 sd", stroke(rayPen)})
	}
	return out
}

func legendOfGround(l *Landing) (out []entry) {
	if len(l.Covered) > 0 {
		out = append(out, entry{"searched already", coveredSwatch})
	}
	if len(l.NoGo) > 0 {
		out = append(out, entry{"keep out", noGoSwatch})
	}
	if len(l.Barriers) > 0 {
		out = append(out, entry{"barrier", stroke(barrierPen, pen{ink: ink.Paper, width: 1, dashes: []float64{4, 4}})})
	}
	if len(l.Crossings) > 0 {
		out = append(out, entry{"gate, stile, bridge", (*canvas).gateMark})
	}
	if len(l.Covers) > 0 {
		out = append(out, entry{"cover; woods darker", coverSwatch})
	}
	if len(l.Outlines) > 0 {
		out = append(out, entry{"field, named places", stroke(outlinePen)})
	}
	return out
}

func legendOfParts(l *Landing) []entry {
	if len(l.Parts) == 0 {
		return nil
	}
	out := []entry{{"shed part", (*canvas).partMark}}
	var areas []string
	for _, a := range l.Parts[0].Areas {
		areas = append(areas, percent(a.Probability))
	}
	if len(areas) > 0 {
		out = append(out, entry{"shed part: " + strings.Join(areas, " and ") + " areas", stroke(partPen)})
	}
	return out
}

// swatchBox is the edge of a swatch around p.
func (k *canvas) swatchBox(p vg.Point) vg.Path {
	half := vg.Point{X: k.unit * 13, Y: k.unit * 5}
	return rectPath(vg.Rectangle{Min: p.Sub(half), Max: p.Add(half)})
}

func coveredSwatch(k *canvas, p vg.Point) {
	k.SetColor(ink.Faded(ink.Grey, 0.35))
	k.Fill(k.swatchBox(p))
	stroke(coveredPen)(k, p)
}

func coverSwatch(k *canvas, p vg.Point) {
	k.SetColor(ink.Faded(ink.Moss, 0.2))
	k.Fill(k.swatchBox(p))
	k.use(coverPen)
	k.Stroke(k.swatchBox(p))
}

// blockSwatch is tinted ground with a lane.
func blockSwatch(i int) swatch {
	return func(k *canvas, p vg.Point) {
		k.SetColor(ink.Faded(ink.Searcher(i), 0.16))
		k.Fill(k.swatchBox(p))
		k.use(edgePen(i))
		k.Stroke(k.swatchBox(p))
		stroke(blockPens(i)...)(k, p)
	}
}

func noGoSwatch(k *canvas, p vg.Point) {
	for x := -13.0; x < 4; x += 5.2 {
		k.stroke(pen{ink: ink.Red, width: 1}, vg.Point{X: p.X + k.unit*vg.Length(x), Y: p.Y - k.unit*5},
			vg.Point{X: p.X + k.unit*vg.Length(x+10), Y: p.Y + k.unit*5})
	}
	k.use(noGoPen)
	k.Stroke(k.swatchBox(p))
}

const legendRow, rampHeight = 17.0, 26.0 // units

// columns returns how many columns the legend has: two where the lettering is
// large, more on paper.
func (p Page) columns() int { return max(2, int(2/p.Lettering)) }

// legendHeight returns the height in units below the map.
func (p Page) legendHeight(l *Landing, entries []entry) float64 {
	h := legendRow*float64((len(entries)+p.columns()-1)/p.columns()) + 10
	if l.Chance != nil {
		h += rampHeight
	}
	return h
}

// legend draws the entries below p, column by column, and the ramp.
func (k *canvas) legend(l *Landing, entries []entry, p vg.Point, columns int) {
	room := k.box.Size().X
	if l.Chance != nil {
		k.rampBar(vg.Point{X: p.X, Y: p.Y - k.unit*8}, room)
		p.Y -= k.unit * rampHeight
	}
	rows := (len(entries) + columns - 1) / columns
	for i, e := range entries {
		q := vg.Point{X: p.X + room/vg.Length(columns)*vg.Length(i/rows),
			Y: p.Y - k.unit*vg.Length(legendRow*(float64(i%rows)+0.5))}
		e.swatch(k, vg.Point{X: q.X + k.unit*14, Y: q.Y})
		k.text(k.fit(e.text, letters{size: 11}, room/vg.Length(columns)-k.unit*36),
			vg.Point{X: q.X + k.unit*34, Y: q.Y - k.unit*4}, letters{size: 11})
	}
}

// rampBar draws the colours from the least to the most likely ground.
func (k *canvas) rampBar(p vg.Point, room vg.Length) {
	const steps = 40
	left, right := "less likely", "most likely"
	f := k.face(letters{size: 11})
	wl, wr := f.Width(left), f.Width(right)
	x0, x1 := p.X+wl+k.unit*5, p.X+room-wr-k.unit*5
	k.text(left, vg.Point{X: p.X, Y: p.Y - k.unit*4}, letters{size: 11})
	k.text(right, vg.Point{X: p.X + room, Y: p.Y - k.unit*4}, letters{size: 11, align: 1})
	for i := range steps {
		c := ink.Ramp(1 - (float64(i)+0.5)/steps)
		k.SetColor(c)
		a, b := x0+(x1-x0)*vg.Length(i)/steps, x0+(x1-x0)*vg.Length(i+1)/steps
		k.Fill(rectPath(vg.Rectangle{Min: vg.Point{X: a, Y: p.Y - k.unit*6}, Max: vg.Point{X: b, Y: p.Y + k.unit*6}}))
	}
	k.use(pen{ink: ink.Dark, width: 0.8})
	k.Stroke(rectPath(vg.Rectangle{Min: vg.Point{X: x0, Y: p.Y - k.unit*6}, Max: vg.Point{X: x1, Y: p.Y + k.unit*6}}))
}

// legendImage is the legend alone, for a corner of the screen.
func legendImage(l *Landing) image.Image {
	entries := legend(l, nil)
	page := Page{Lettering: 1}
	w, h := vg.Length(230), vg.Length(1.2*page.legendHeight(l, entries[:0]))+vg.Length(1.2*legendRow*float64(len(entries)))
	c := vgimg.NewWith(vgimg.UseWH(w, h), vgimg.UseDPI(72), vgimg.UseBackgroundColor(ink.Faded(ink.Paper, 0.85)))
	box := vg.Rectangle{Min: vg.Point{X: 6, Y: 0}, Max: vg.Point{X: w - 6, Y: h}}
	k := newCanvas(c, box, plane.Box{Max: geo.XY{X: 1, Y: 1}}, 1.2)
	k.legend(l, entries, vg.Point{X: box.Min.X, Y: h - 8}, 1)
	return c.Image()
}
