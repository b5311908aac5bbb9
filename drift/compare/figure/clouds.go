package figure

import (
	"fmt"
	"image/color"
	"io"
	"math"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"

	"windfall/geo"
	"windfall/geo/ink"
	"windfall/geo/plane"
)

// Clouds is landing clouds over the field, all at one scale, north up.
type Clouds struct {
	Title  string
	Field  plane.Polygons // nil: none
	Panels []Panel
}

// Panel is one cloud.
type Panel struct {
	Title  string         // cut to the panel's width
	Value  string         // at the right end of the title
	Points []geo.XY       // m from the pad; the first DrawnPoints are drawn
	In     []bool         // of each point: in the field; nil: no field
	Area   plane.Polygons // the 90 % area
}

const (
	// DrawnPoints is how many points of a cloud are drawn.
	DrawnPoints = 600
	// MaxPanels is how many panels a figure holds.
	MaxPanels = 24

	panelSide = 1.75 * vg.Inch
	panelHead = 16.0 // pt
	gap       = 6.0  // pt
)

// inside and outside are the points in the field and those beyond it.
var (
	inside  = ink.Faded(ink.Blue, 150.0/255)
	outside = ink.Faded(ink.Rust, 220.0/255)
)

// Draw writes the figure as PNG.
func (c Clouds) Draw(w io.Writer) error {
	panels := c.Panels[:min(len(c.Panels), MaxPanels)]
	cols := min(len(panels), 4)
	if len(panels) > 12 {
		cols = 6
	}
	rows := (len(panels) + cols - 1) / cols
	width := max(vg.Length(cols)*(panelSide+gap)+2*gap, 4.2*vg.Inch)
	height := vg.Length(rows)*(panelSide+panelHead+gap) + 52
	img := vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(dpi), vgimg.UseBackgroundColor(color.White))
	dc := draw.New(img)
	dc.FillText(style(11), vg.Point{X: 2 * gap, Y: height - 20}, c.Title)
	centre, half := c.view(panels)
	for i, p := range panels {
		corner := vg.Point{ // lower left
			X: 2*gap + vg.Length(i%cols)*(panelSide+gap),
			Y: height - 30 - vg.Length(i/cols)*(panelSide+panelHead+gap) - panelHead - panelSide,
		}
		v := view{dc: dc, centre: centre, scale: float64(panelSide) / (2 * half),
			box: vg.Rectangle{Min: corner, Max: corner.Add(vg.Point{X: panelSide, Y: panelSide})}}
		v.panel(c.Field, p)
		v.head(p)
	}
	c.scaleBar(dc, half)
	_, err := vgimg.PngCanvas{Canvas: img}.WriteTo(w)
	return err
}

// scaleBar draws the bar and says what the marks mean; half is half a panel's
// side in m.
func (c Clouds) scaleBar(dc draw.Canvas, half float64) {
	length := ink.RoundDown(half / 1.5)
	bar := vg.Length(length * float64(panelSide) / (2 * half))
	line := draw.LineStyle{Color: ink.Dark, Width: vg.Points(1.2)}
	dc.StrokeLines(line, []vg.Point{{X: 2 * gap, Y: 9}, {X: 2*gap + bar, Y: 9}})
	note := fmt.Sprintf("%.0f m   north up; cross: pad; line: 90 %% area", length)
	if len(c.Field) > 0 {
		note += "; red: outside the field"
	}
	dc.FillText(style(7.5), vg.Point{X: 2*gap + bar + 6, Y: 6}, note)
}

// view returns the square that shows the field, the pad and nearly all points.
func (c Clouds) view(panels []Panel) (centre geo.XY, half float64) {
	b := plane.Box{}.Union(c.Field.Bound())
	for _, p := range panels {
		b = b.Union(p.Area.Bound())
	}
	return b.Center(), math.Max(0.55*math.Max(b.Size().X, b.Size().Y), 10)
}

// view is one panel's window onto the plane.
type view struct {
	dc     draw.Canvas
	box    vg.Rectangle
	centre geo.XY
	scale  float64 // pt a metre
}

func (v *view) at(q geo.XY) vg.Point {
	mid := v.box.Min.Add(v.box.Max).Scale(0.5)
	return vg.Point{X: mid.X + vg.Length((q.X-v.centre.X)*v.scale), Y: mid.Y + vg.Length((q.Y-v.centre.Y)*v.scale)}
}

func (v *view) ring(r plane.Ring) []vg.Point {
	out := make([]vg.Point, len(r))
	for i, p := range r {
		out[i] = v.at(p)
	}
	return out
}

// head writes the title and the value over the panel.
func (v *view) head(p Panel) {
	s := style(7.5)
	y := v.box.Max.Y + 4
	room := v.box.Size().X
	if p.Value != "" {
		w := s.Width(p.Value)
		v.dc.FillText(s, vg.Point{X: v.box.Max.X - w, Y: y}, p.Value)
		room -= w + 4
	}
	v.dc.FillText(s, vg.Point{X: v.box.Min.X, Y: y}, fit(s, p.Title, room))
}

// fit cuts a text to a width.
func fit(s draw.TextStyle, text string, width vg.Length) string {
	r := []rune(text)
	for n := len(r) - 1; n > 0 && s.Width(text) > width; n-- {
		text = strings.TrimRight(string(r[:n]), " ,") + "…"
	}
	return text
}

func (v *view) panel(field plane.Polygons, p Panel) {
	c := draw.Canvas{Canvas: v.dc.Canvas, Rectangle: v.box}
	for _, poly := range field {
		for k, r := range poly {
			fill := ink.Field
			if k > 0 {
				fill = ink.Paper
			}
			c.FillPolygon(fill, c.ClipPolygonXY(v.ring(r)))
			c.StrokeLines(draw.LineStyle{Color: ink.Leaf, Width: vg.Points(0.8)}, c.ClipLinesXY(v.ring(r))...)
		}
	}
	for i, q := range p.Points[:min(len(p.Points), DrawnPoints)] {
		g := draw.GlyphStyle{Color: inside, Radius: vg.Points(0.7), Shape: draw.CircleGlyph{}}
		if p.In != nil && !p.In[i] {
			g.Color, g.Radius = outside, vg.Points(1)
		}
		if at := v.at(q); c.Contains(at) {
			c.DrawGlyph(g, at)
		}
	}
	for _, poly := range p.Area {
		for _, r := range poly {
			c.StrokeLines(draw.LineStyle{Color: ink.Dark, Width: vg.Points(0.7)}, c.ClipLinesXY(v.ring(r))...)
		}
	}
	c.DrawGlyph(draw.GlyphStyle{Color: ink.Dark, Radius: vg.Points(3), Shape: draw.PlusGlyph{}}, v.at(geo.XY{}))
	lo, hi := v.box.Min, v.box.Max
	c.StrokeLines(draw.LineStyle{Color: ink.Mist, Width: vg.Points(0.5)},
		[]vg.Point{lo, {X: hi.X, Y: lo.Y}, hi, {X: lo.X, Y: hi.Y}, lo})
}

func style(size float64) draw.TextStyle {
	return text.Style{Color: ink.Dark, Font: font.From(plot.DefaultFont, vg.Points(size)),
		Handler: plot.DefaultTextHandler}
}
