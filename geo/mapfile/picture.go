package mapfile

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"io"
	"math"
	"slices"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"

	"windfall/geo"
	"windfall/geo/ink"
	"windfall/geo/place"
	"windfall/geo/plane"
)

// Page is the size of a picture.
type Page struct {
	Width, Height float64     // points, 1/72 inch; 0: 720 wide, and as high as the map and its legend need
	Scale         float64     // pixels a point in PNG; 0: 1.5
	Lettering     float64     // size of all lines and letters; 0: 1, for a phone held upright
	Grid          place.Style // whose grid lines are drawn; degrees draw none
	Untitled      bool        // without the heading above the map
}

func (p Page) defaults() Page {
	if p.Width <= 0 {
		p.Width = 720
	}
	if p.Scale <= 0 {
		p.Scale = 1.5
	}
	if p.Lettering <= 0 {
		p.Lettering = 1
	}
	return p
}

// PNG writes the picture of l: north up, with scale bar, north arrow, the grid
// of p and a legend.
func PNG(w io.Writer, l *Landing, p Page) error {
	l = l.ready()
	o := p.layout(l)
	c := vgimg.NewWith(vgimg.UseWH(o.page.Max.X, o.page.Max.Y), vgimg.UseDPI(int(math.Round(72*o.Scale))))
	o.draw(c, l)
	data, err := pngBytes(c.Image())
	if err != nil {
		return err
	}
	_, err = w.Write(data)
	return err
}

// SVG writes the same picture as SVG 1.1, lettered in the reader's own sans.
func SVG(w io.Writer, l *Landing, p Page) error {
	l = l.ready()
	o := p.layout(l)
	c := vgsvg.New(o.page.Max.X, o.page.Max.Y)
	o.draw(c, l)
	var b bytes.Buffer
	if _, err := c.WriteTo(&b); err != nil {
		return err
	}
	s := bytes.ReplaceAll(b.Bytes(), []byte("data:image/jpg;"), []byte("data:image/png;"))
	s = bytes.ReplaceAll(s, []byte("font-family:Liberation Sans"),
		[]byte("font-family:Liberation Sans,Arial,Helvetica,sans-serif"))
	_, err := w.Write(s)
	return err
}

// draw draws every layer.
func (o layout) draw(c vg.Canvas, l *Landing) {
	k := newCanvas(c, o.box, o.extent, o.unit)
	k.SetColor(ink.Paper)
	k.Fill(rectPath(o.page))
	k.base(l, o.Scale)
	k.chance(l)
	k.areas(l)
	gridText := ""
	if o.Grid >= place.UTM {
		gridText = k.grid(l, o.Grid)
	}
	k.sightings(l)
	k.routes(l)
	k.marks(l)
	k.names(l)
	k.frame(o.page)
	k.credit(l)
	k.scaleBar()
	k.northArrow()
	if !o.Untitled {
		k.titles(l, gridText, o.page)
	}
	k.legend(l, o.entries, vg.Point{X: o.box.Min.X, Y: o.box.Min.Y - k.unit*10}, o.columns())
}

func rectPath(r vg.Rectangle) vg.Path {
	return path([]vg.Point{r.Min, {X: r.Max.X, Y: r.Min.Y}, r.Max, {X: r.Min.X, Y: r.Max.Y}}, true)
}

// chance draws the probability, one pixel a cell.
func (k *canvas) chance(l *Landing) {
	m := l.Chance
	if m == nil || m.NX == 0 || m.NY == 0 {
		return
	}
	lv := l.worked.levels
	img := image.NewNRGBA(image.Rect(0, 0, m.NX, m.NY))
	for j := range m.NY {
		for i := range m.NX {
			c := ink.Ramp(lv[j*m.NX+i])
			c.A = uint8(math.Min(255, 1.25*float64(c.A))) // paper shines less than a screen
			img.SetNRGBA(i, m.NY-1-j, c)
		}
	}
	k.DrawImage(vg.Rectangle{Min: k.pt(geo.XY{X: m.West, Y: m.South}),
		Max: k.pt(geo.XY{X: m.West + float64(m.NX)*m.Cell, Y: m.South + float64(m.NY)*m.Cell})}, img)
}

// areaPen is the contour of an area: solid for a half, then ever shorter
// dashes.
func areaPen(probability float64) pen {
	p := pen{ink: ink.Dark, width: 1.6}
	switch {
	case probability <= 0.5:
		p.width = 2.2
	case probability <= 0.75:
		p.dashes = []float64{12, 4}
	case probability <= 0.9:
		p.dashes = []float64{7, 4}
	default:
		p.dashes = []float64{3, 3}
	}
	return p
}

var (
	ellipsePen = pen{ink: ink.Dark, width: 0.9, dashes: []float64{8, 3, 1.5, 3}}
	outlinePen = pen{ink: ink.Moss, width: 1.4, dashes: []float64{10, 3}}
	partPen    = pen{ink: ink.Brown, width: 1.5, dashes: []float64{7, 2, 1.5, 2, 1.5, 2}}
	coveredPen = pen{ink: ink.Grey, width: 1, dashes: []float64{2, 2}}
	noGoPen    = pen{ink: ink.Red, width: 1.8}
	barrierPen = pen{ink: ink.Red, width: 3}
	rayPen     = pen{ink: ink.Teal, width: 2}
	gridPen    = pen{ink: ink.Faded(ink.Dark, 0.28), width: 0.6}
)

// nothing is no fill.
var nothing color.NRGBA

func (k *canvas) areas(l *Landing) {
	k.covers(l)
	for _, z := range l.Outlines {
		k.shape(z.Shape, nothing, outlinePen)
	}
	for _, s := range l.Covered {
		k.shape(s.swath(), ink.Faded(ink.Grey, 0.35))
		k.ground(s.Path, coveredPen)
	}
	for i := len(l.Areas) - 1; i >= 0; i-- {
		a := l.Areas[i]
		k.shape(a.Shape, nothing, pen{ink: ink.Faded(ink.Paper, 0.75), width: 4}, areaPen(a.Probability))
	}
	for i := range l.Ellipses {
		k.shape(plane.Polygons{l.ellipse(i)}, nothing, ellipsePen)
	}
	for _, z := range l.NoGo {
		k.hatch(z.Shape, 7, pen{ink: ink.Faded(ink.Red, 0.8), width: 1})
		k.shape(z.Shape, nothing, noGoPen)
	}
	for _, b := range l.Barriers {
		k.ground(b.Path, barrierPen, pen{ink: ink.Paper, width: 1, dashes: []float64{4, 4}})
	}
}

func (k *canvas) sightings(l *Landing) {
	reach := 2 * k.window().Size().Norm() // out of the window
	for _, r := range l.Rays {
		if r.SpreadDeg > 0 {
			k.shape(plane.Polygons{{r.wedge(reach)}}, ink.Faded(ink.Teal, 0.14),
				pen{ink: ink.Teal, width: 0.8, dashes: []float64{2, 3}})
		}
		end := r.From.Add(geo.Polar(r.length(reach), r.BearingDeg))
		k.ground([]geo.XY{r.From, end}, pen{ink: ink.Paper, width: 4}, rayPen)
		k.mark(k.polygonAround(k.pt(r.From), 5, 16, 0), ink.Teal)
	}
}

// routePens draw a searcher's line: a dark casing, the ink, and marks along it
// that tell the searchers apart without colour.
func routePens(i int, kind string) []pen {
	c := ink.Searcher(i)
	if kind != Search {
		return []pen{{ink: ink.Faded(ink.Paper, 0.6), width: 2.4}, {ink: ink.Dark, width: 1.2, dashes: []float64{1.5, 3.5}}}
	}
	pens := []pen{{ink: ink.Dark, width: 4.6}, {ink: c, width: 3}}
	if i > 0 {
		pens = append(pens, pen{ink: ink.On(c), width: 1.3,
			dashes: [][]float64{{1.5, 9}, {5, 7}, {1.5, 3, 1.5, 10}, {9, 3}}[(i-1)%4]})
	}
	return pens
}

func (k *canvas) routes(l *Landing) {
	if l.Plan == nil {
		return
	}
	var told []Route // leg by leg
	for _, drones := range []bool{true, false} {
		for _, r := range l.Plan.Searchers {
			switch {
			case (r.Kind == "drone") != drones:
			case r.Blocks == nil:
				told = append(told, r)
			default:
				k.blocks(l, r)
			}
		}
	}
	k.legs(told)
	k.blockNames(l)
}

// legs draws routes that have no blocks.
func (k *canvas) legs(rs []Route) {
	legs := 0
	for _, r := range rs {
		legs += len(r.Legs)
	}
	thin, apart := 1.0, 17.0
	if legs > 100 { // so many would hide the map: finer lines, fewer numbers
		thin, apart = 0.55, 32
	}
	for _, r := range rs {
		for _, g := range r.Legs {
			pens := routePens(r.nth-1, g.Kind)
			for i := range pens {
				pens[i].width *= thin
			}
			k.ground([]geo.XY{g.From, g.To}, pens...)
		}
	}
	var plates []vg.Point
	for _, r := range rs {
		i := r.nth - 1
		for _, g := range r.Legs {
			if g.Kind == Search {
				k.arrowHead(g)
			}
		}
		for _, g := range r.Legs {
			p := k.pt(g.From)
			if g.Kind == Search && k.clipping.Contains(g.From) && k.apart(plates, p, apart) {
				plates = append(plates, p)
				k.plate(fmt.Sprintf("%s%d", routeLetter(i), g.N), p, 7.5, ink.Searcher(i))
			}
		}
	}
}

// apart tells whether p keeps the distance, in units, from every other.
func (k *canvas) apart(all []vg.Point, p vg.Point, units float64) bool {
	for _, q := range all {
		if math.Hypot((q.X-p.X).Points(), (q.Y-p.Y).Points()) < units*k.unit.Points() {
			return false
		}
	}
	return true
}

// arrowHead draws a leg's direction where it is long enough for one.
func (k *canvas) arrowHead(g Leg) {
	a, b := k.pt(g.From), k.pt(g.To)
	dx, dy := (b.X - a.X).Points(), (b.Y - a.Y).Points()
	d := math.Hypot(dx, dy)
	if d < 22*k.unit.Points() {
		return
	}
	tip := geo.XY{X: a.X.Points() + 0.64*dx, Y: a.Y.Points() + 0.64*dy}
	if q := g.From.Add(g.To.Sub(g.From).Scale(0.64)); !k.clipping.Contains(q) {
		return
	}
	back := geo.XY{X: -dx, Y: -dy}.BearingDeg()
	size := 8 * k.unit.Points()
	corner := func(turn, r float64) vg.Point {
		q := tip.Add(geo.Polar(r, back+turn))
		return vg.Point{X: vg.Length(q.X), Y: vg.Length(q.Y)}
	}
	k.SetColor(ink.Dark)
	k.SetLineDash(nil, 0)
	k.Fill(path([]vg.Point{corner(0, 0), corner(28, size), corner(0, 0.6*size), corner(-28, size)}, true))
}

func (k *canvas) marks(l *Landing) {
	seen := func(q geo.XY) bool { return k.clipping.Contains(q) }
	for _, p := range l.Parts {
		for _, a := range p.Areas {
			k.shape(a.Shape, nothing, partPen)
		}
		if seen(p.Mean) {
			k.partMark(k.pt(p.Mean))
		}
	}
	k.padMark(k.pt(geo.XY{}))
	if l.Nominal != nil {
		k.nominalMark(k.pt(*l.Nominal))
	}
	for _, s := range l.spots() {
		k.spotMark(k.pt(s.At))
	}
	if l.Plan == nil {
		return
	}
	at := []vg.Point{k.pt(geo.XY{})}     // nor do they hide the pad
	for _, r := range l.Plan.Searchers { // those who start together stand side by side
		p := k.pt(r.Start)
		for !k.apart(at, p, 16) {
			p.X += k.unit * 18
		}
		at = append(at, p)
		k.startMark(p, r.nth-1)
	}
}

// hatch fills ground with slanting lines the given units apart.
func (k *canvas) hatch(s plane.Polygons, apart float64, p pen) {
	step := apart * k.unit.Points() / k.scale * math.Sqrt2
	for _, pg := range s {
		c := k.clipping.ClipPolygon(pg)
		if len(c) == 0 {
			continue
		}
		b := c.Bound()
		k.use(p)
		for d := math.Floor((b.Min.Y-b.Max.X)/step) * step; d < b.Max.Y-b.Min.X; d += step {
			xs := crossings(c, d)
			for i := 1; i < len(xs); i += 2 {
				k.Stroke(path([]vg.Point{k.pt(geo.XY{X: xs[i-1], Y: xs[i-1] + d}), k.pt(geo.XY{X: xs[i], Y: xs[i] + d})}, false))
			}
		}
	}
}

// crossings returns the sorted x where the line y = x + d crosses the rings.
func crossings(pg plane.Polygon, d float64) []float64 {
	var xs []float64
	for _, r := range pg {
		for i := 1; i < len(r); i++ {
			p, q := r[i-1], r[i]
			a, b := p.Y-p.X-d, q.Y-q.X-d
			if (a > 0) != (b > 0) {
				xs = append(xs, p.X+(q.X-p.X)*a/(a-b))
			}
		}
	}
	slices.Sort(xs)
	return xs
}
