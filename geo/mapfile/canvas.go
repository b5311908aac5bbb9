package mapfile

import (
	"image/color"
	"math"

	xfont "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
	"gonum.org/v1/plot/vg"

	"windfall/geo"
	"windfall/geo/ink"
	"windfall/geo/plane"
)

// canvas draws a map in points (1/72 inch), x right, y up: box is the map's
// window on the page, scale points per metre, and at the frame point that
// falls on the box's lower left corner.
type canvas struct {
	vg.Canvas
	fonts    *font.Cache
	box      vg.Rectangle
	at       geo.XY
	scale    float64
	unit     vg.Length // width of a fine line; everything else is in units
	clipping plane.Box // m of the frame, a little more than the window
	top      float64   // units at the top of the window that the credit of a base map takes
}

func newCanvas(c vg.Canvas, box vg.Rectangle, extent plane.Box, unit vg.Length) *canvas {
	w, h := box.Size().X.Points(), box.Size().Y.Points()
	scale := math.Min(w/extent.Size().X, h/extent.Size().Y)
	mid := extent.Center()
	k := &canvas{Canvas: c, fonts: font.NewCache(liberation.Collection()), box: box, scale: scale, unit: unit,
		at: mid.Sub(geo.XY{X: w / scale / 2, Y: h / scale / 2})}
	pad := 4 * unit.Points() / scale
	k.clipping = plane.Box{Min: k.at.Sub(geo.XY{X: pad, Y: pad}),
		Max: k.at.Add(geo.XY{X: w/scale + pad, Y: h/scale + pad})}
	return k
}

// window returns the ground the box shows.
func (k *canvas) window() plane.Box {
	size := k.box.Size()
	return plane.Box{Min: k.at, Max: k.at.Add(geo.XY{X: size.X.Points() / k.scale, Y: size.Y.Points() / k.scale})}
}

// pt returns the page point of q.
func (k *canvas) pt(q geo.XY) vg.Point {
	return vg.Point{X: k.box.Min.X + vg.Length((q.X-k.at.X)*k.scale), Y: k.box.Min.Y + vg.Length((q.Y-k.at.Y)*k.scale)}
}

// pen is how a line is drawn: its width in units and dashes in units.
type pen struct {
	ink    color.Color
	width  float64
	dashes []float64
}

func (k *canvas) use(p pen) {
	k.SetColor(p.ink)
	k.SetLineWidth(k.unit * vg.Length(p.width))
	var d []vg.Length
	for _, x := range p.dashes {
		d = append(d, k.unit*vg.Length(x))
	}
	k.SetLineDash(d, 0)
}

// stroke draws a path of page points.
func (k *canvas) stroke(p pen, pts ...vg.Point) {
	if len(pts) < 2 {
		return
	}
	k.use(p)
	k.Stroke(path(pts, false))
}

func path(pts []vg.Point, closeIt bool) vg.Path {
	var out vg.Path
	for i, q := range pts {
		if i == 0 {
			out.Move(q)
		} else {
			out.Line(q)
		}
	}
	if closeIt {
		out.Close()
	}
	return out
}

// ground draws a line of the frame, clipped to the window, with each pen in
// turn: a casing first, then the line.
func (k *canvas) ground(line plane.Line, pens ...pen) {
	pieces := k.clipping.ClipLine(line)
	for _, p := range pens {
		for _, piece := range pieces {
			k.stroke(p, k.page(piece)...)
		}
	}
}

func (k *canvas) page(ls []geo.XY) []vg.Point {
	out := make([]vg.Point, len(ls))
	for i, p := range ls {
		out[i] = k.pt(p)
	}
	return out
}

// shape fills ground (a transparent fill draws nothing) and strokes its rings.
func (k *canvas) shape(s plane.Polygons, fill color.NRGBA, pens ...pen) {
	for _, pg := range s {
		if fill.A > 0 {
			if c := k.clipping.ClipPolygon(pg); len(c) > 0 {
				var p vg.Path
				for _, r := range c {
					p = append(p, path(k.page(r), true)...)
				}
				k.SetColor(fill)
				k.Fill(p)
			}
		}
		for _, pen := range pens {
			for _, r := range pg {
				for _, piece := range k.clipping.ClipLine(plane.Line(r)) {
					k.stroke(pen, k.page(piece)...)
				}
			}
		}
	}
}

// letters are how a text is written.
type letters struct {
	size  float64 // units
	align float64 // what stands at the point: 0 the left end, 0.5 the middle, 1 the right end
	bold  bool
	ink   color.Color // nil: dark
}

func (k *canvas) face(l letters) font.Face {
	f := font.Font{Variant: "Sans"}
	if l.bold {
		f.Weight = xfont.WeightBold
	}
	return k.fonts.Lookup(f, k.unit*vg.Length(l.size))
}

// text writes s with its baseline at p.
func (k *canvas) text(s string, p vg.Point, l letters) {
	f := k.face(l)
	if k.SetColor(ink.Dark); l.ink != nil {
		k.SetColor(l.ink)
	}
	k.FillString(f, vg.Point{X: p.X - f.Width(s)*vg.Length(l.align), Y: p.Y}, s)
}

// plate writes s in the middle of a small plate at p.
func (k *canvas) plate(s string, p vg.Point, size float64, ground color.NRGBA) {
	l := letters{size: size, align: 0.5, bold: true, ink: ink.On(ground)}
	f := k.face(l)
	w, h := f.Width(s)/2+k.unit*vg.Length(size)*0.3, k.unit*vg.Length(size)*0.66
	edge := rectPath(vg.Rectangle{Min: vg.Point{X: p.X - w, Y: p.Y - h}, Max: vg.Point{X: p.X + w, Y: p.Y + h}})
	k.SetColor(ground)
	k.Fill(edge)
	k.use(pen{ink: l.ink, width: 1})
	k.Stroke(edge)
	k.text(s, vg.Point{X: p.X, Y: p.Y - k.unit*vg.Length(size)*0.35}, l)
}

// polygonAround returns n corners at the given distance in units, the first at
// turn degrees clockwise from up.
func (k *canvas) polygonAround(p vg.Point, r float64, n int, turn float64) []vg.Point {
	out := make([]vg.Point, n)
	for i := range out {
		s, c := math.Sincos((turn + 360*float64(i)/float64(n)) * math.Pi / 180)
		out[i] = vg.Point{X: p.X + k.unit*vg.Length(r*s), Y: p.Y + k.unit*vg.Length(r*c)}
	}
	return out
}

// mark draws a cased, filled symbol.
func (k *canvas) mark(pts []vg.Point, fill color.NRGBA) {
	k.use(pen{ink: ink.Paper, width: 4})
	k.Stroke(path(pts, true))
	k.SetColor(fill)
	k.Fill(path(pts, true))
	k.use(pen{ink: ink.Dark, width: 1.2})
	k.Stroke(path(pts, true))
}
