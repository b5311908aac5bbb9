// Package picture draws wind by height: speed and direction side by side, and
// the hodograph, each with its spread from run to run, as PNG or SVG. Heights
// are metres above the pad, speeds m/s, directions where the wind blows from,
// degrees true. It draws what it is given and judges nothing.
package picture

import (
	"fmt"
	"image/color"
	"io"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"

	"windfall/drift/wind"
	"windfall/geo/ink"
)

// Wind is what a picture shows.
type Wind struct {
	Title   string
	Note    string        // a second line; empty: none
	Choices []wind.Choice // at least one; the first is drawn with its levels
	Above   string        // what heights count from; empty: "the pad"
	Top     float64       // m, where the picture ends; 0: the top level, at most 3000 m
	Speed   *float64      // spread of the speed, relative; nil: the default
	TurnDeg *float64      // spread of the direction, degrees; nil: the default
}

// Format is a kind of picture file.
type Format uint8

// The formats.
const (
	PNG Format = iota
	SVG
)

const height = 15 * vg.Centimeter

// The wind is deep blue, its spread a pale wash, single members grey.
var (
	wash   = ink.Faded(ink.Blue, 46.0/255)
	member = ink.Faded(ink.Grey, 130.0/255)
)

// point is the mean wind at a height and its spread.
type point struct{ z, u, v, sd float64 }

func (p point) speed() float64 { return math.Hypot(p.u, p.v) }

// fromDeg is where the wind blows from, [0, 360).
func (p point) fromDeg() float64 {
	d := math.Atan2(-p.u, -p.v) * 180 / math.Pi
	if d < 0 {
		d += 360
	}
	return d
}

// top returns the height at which the picture ends.
func (w Wind) top() float64 {
	if w.Top > 0 {
		return w.Top
	}
	ls := w.Choices[0].Profile.Levels
	if len(ls) == 1 {
		return 1000
	}
	return math.Min(3000, math.Max(50, ls[len(ls)-1].Height))
}

// curve samples the wind of one choice, or the mean of several, up to the top.
func (w Wind) curve(choices []wind.Choice) []point {
	speed, turn := wind.SpeedSpread, wind.DirectionSpread
	if w.Speed != nil {
		speed = *w.Speed
	}
	if w.TurnDeg != nil {
		turn = *w.TurnDeg
	}
	var out []point
	hs := choices[0].Profile.Heights(w.top(), 0.16)
	const n = 200 // a direction is not linear in height between levels
	for i := range n {
		hs = append(hs, w.top()*float64(i)/n)
	}
	slices.Sort(hs)
	for _, z := range slices.Compact(hs) {
		var u, v, sq, sd2, sum float64
		for _, c := range choices {
			cu, cv := c.Profile.At(z)
			s := c.Profile.TotalSD(z, math.Hypot(cu, cv), speed, turn)
			u, v, sum = u+c.Weight*cu, v+c.Weight*cv, sum+c.Weight
			sq, sd2 = sq+c.Weight*(cu*cu+cv*cv), sd2+c.Weight*s*s
		}
		u, v = u/sum, v/sum
		between := math.Max(0, sq/sum-u*u-v*v) / 2
		out = append(out, point{z, u, v, math.Sqrt(sd2/sum + between)})
	}
	return out
}

// members are the curves of the single choices where there are several.
func (w Wind) members() [][]point {
	if len(w.Choices) < 2 {
		return nil
	}
	var out [][]point
	for _, c := range w.Choices {
		out = append(out, w.curve([]wind.Choice{c}))
	}
	return out
}

// style sets the fonts and lines that all our plots share.
func style(p *plot.Plot) {
	p.BackgroundColor = ink.Paper
	p.X.Tick.Marker, p.Y.Tick.Marker = plot.TickerFunc(roundTicks), plot.TickerFunc(roundTicks)
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Color, a.Width = ink.Dark, vg.Points(0.8)
		a.Label.TextStyle.Font, a.Tick.Label.Font = sans(11), sans(10)
		a.Label.TextStyle.Color, a.Tick.Label.Color = ink.Dark, ink.Dark
		a.Tick.Color, a.Tick.Length = ink.Dark, vg.Points(3)
		a.Padding = 0
	}
}

// sans is the typeface of all our text.
func sans(size font.Length) font.Font {
	return font.Font{Typeface: plot.DefaultFont.Typeface, Variant: "Sans", Size: size}
}

// roundTicks marks an axis at round steps.
func roundTicks(lo, hi float64) []plot.Tick {
	step := ink.RoundUp((hi - lo) / 8)
	var out []plot.Tick
	for i := math.Ceil(lo / step); i*step <= hi; i++ {
		v := i*step + 0 // no minus zero
		out = append(out, plot.Tick{Value: v, Label: strconv.FormatFloat(v, 'g', 6, 64)})
	}
	return out
}

// canvas makes a drawing surface of a format.
func canvas(f Format, width, height vg.Length) vg.CanvasWriterTo {
	if f == SVG {
		return vgsvg.New(width, height)
	}
	return vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(150))}
}

// heading writes the title and the note above a picture and returns what is
// left of the canvas.
func heading(c draw.Canvas, w Wind) draw.Canvas {
	write := func(s string, size font.Length, y vg.Length, of color.Color) {
		st := text.Style{Color: of, Font: sans(size), Handler: plot.DefaultTextHandler, YAlign: draw.YTop}
		c.FillText(st, vg.Point{X: c.Min.X + 8*vg.Millimeter, Y: y}, fit(st, s, c.Max.X-c.Min.X-12*vg.Millimeter))
	}
	write(w.Title, 13, c.Max.Y-4*vg.Millimeter, ink.Dark)
	down := 11 * vg.Millimeter
	if w.Note != "" {
		write(w.Note, 10, c.Max.Y-10*vg.Millimeter, ink.Slate)
		down = 16 * vg.Millimeter
	}
	return draw.Crop(c, 3*vg.Millimeter, -5*vg.Millimeter, 3*vg.Millimeter, -down)
}

// fit shortens a line of text to a width.
func fit(st text.Style, s string, width vg.Length) string {
	r := []rune(s)
	for len(r) > 4 && st.Width(string(r)) > width {
		r = append(r[:len(r)-4:len(r)-4], []rune("...")...)
	}
	return string(r)
}

// write draws on a canvas of the format and writes it.
func write(out io.Writer, f Format, size vg.Point, w Wind, paint func(draw.Canvas) error) error {
	if len(w.Choices) == 0 {
		return fmt.Errorf("no wind to draw")
	}
	cw := canvas(f, size.X, size.Y)
	c := draw.New(cw)
	c.SetColor(ink.Paper)
	c.Fill(c.Rectangle.Path())
	if err := paint(heading(c, w)); err != nil {
		return err
	}
	_, err := cw.WriteTo(out)
	return err
}

// line makes a plain line.
func line(xy plotter.XYs, c color.Color, width vg.Length) (*plotter.Line, error) {
	l, err := plotter.NewLine(xy)
	if err != nil {
		return nil, err
	}
	l.Color, l.Width = c, width
	return l, nil
}
