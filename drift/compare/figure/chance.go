// Package figure draws what a comparison found: chances with their errors, and
// landing clouds side by side at one scale. PNG, the same input the same bytes.
package figure

import (
	"cmp"
	"fmt"
	"image/color"
	"io"
	"math"
	"slices"

	"windfall/geo/ink"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
)

// Chances is a chance against a choice.
type Chances struct {
	Title, X, Y string
	Series      []Series
	Ticks       []Tick // of the x axis; nil: plain numbers
}

// Series is one line of points.
type Series struct {
	Name   string
	Points []Point // ascending in X
}

// Point is a chance P at X with its standard error.
type Point struct{ X, P, SE float64 }

// Tick is a named place on the x axis.
type Tick struct {
	X     float64
	Label string
}

var marks = []draw.GlyphDrawer{draw.CircleGlyph{}, draw.SquareGlyph{}, draw.TriangleGlyph{}, draw.RingGlyph{}, draw.BoxGlyph{}, draw.PyramidGlyph{}}

// MaxSeries is how many lines one figure holds.
const MaxSeries = 6

const (
	dpi    = 110
	sigmas = 1.96 // of a bar: 95 %
)

// Add adds a point to the series of that name; the series stand in the order
// of their first points.
func (c *Chances) Add(series string, p Point) {
	i := slices.IndexFunc(c.Series, func(s Series) bool { return s.Name == series })
	if i < 0 {
		i = len(c.Series)
		c.Series = append(c.Series, Series{Name: series})
	}
	s := &c.Series[i]
	at, _ := slices.BinarySearchFunc(s.Points, p, func(a, b Point) int { return cmp.Compare(a.X, b.X) })
	s.Points = slices.Insert(s.Points, at, p)
}

// Draw writes the figure as PNG: the first MaxSeries series, which the title
// then says; a bar spans 95 % of the Monte Carlo error.
func (c Chances) Draw(w io.Writer) error {
	p := plot.New()
	p.Title.Text = c.Title
	if n := len(c.Series); n > MaxSeries {
		p.Title.Text += fmt.Sprintf("\nthe best %d of %d series", MaxSeries, n)
		c.Series = c.Series[:MaxSeries]
	}
	p.Title.TextStyle.Font.Size = vg.Points(11)
	p.X.Label.Text, p.Y.Label.Text = c.X, c.Y+" (bars: 95 %)"
	p.Y.Tick.Marker = percents{}
	grid := plotter.NewGrid()
	grid.Vertical.Width = 0
	grid.Horizontal.Color = color.Gray{220}
	p.Add(grid)
	shift := c.apart()
	for k, s := range c.Series {
		if err := addSeries(p, s, k, shift*(float64(k)-float64(len(c.Series)-1)/2), len(c.Series) > 1); err != nil {
			return err
		}
	}
	c.frame(p)
	img := vgimg.NewWith(vgimg.UseWH(7*vg.Inch, 4.4*vg.Inch), vgimg.UseDPI(dpi), vgimg.UseBackgroundColor(color.White))
	p.Draw(draw.Crop(draw.New(img), 6, -10, 6, -6))
	_, err := vgimg.PngCanvas{Canvas: img}.WriteTo(w)
	return err
}

// addSeries adds a line with its bars, dx to the side.
func addSeries(p *plot.Plot, s Series, k int, dx float64, named bool) error {
	xy := make(plotter.XYs, len(s.Points))
	bars := make(plotter.YErrors, len(s.Points))
	for i, q := range s.Points {
		xy[i].X, xy[i].Y = q.X+dx, q.P
		bars[i].Low, bars[i].High = q.P-q.low(), q.high()-q.P
	}
	line, points, err := plotter.NewLinePoints(xy)
	if err != nil {
		return err
	}
	eb, err := plotter.NewYErrorBars(&errors{xy, bars})
	if err != nil {
		return err
	}
	line.Color, points.Color, eb.Color = ink.Series[k], ink.Series[k], ink.Series[k]
	line.Width, points.Radius, points.Shape = vg.Points(0.8), vg.Points(2.6), marks[k]
	p.Add(line, eb, points)
	if named {
		p.Legend.Add(s.Name, line, points)
	}
	return nil
}

// low and high are the ends of a point's bar, within 0 and 1.
func (q Point) low() float64  { return q.P - math.Min(sigmas*q.SE, q.P) }
func (q Point) high() float64 { return q.P + math.Min(sigmas*q.SE, 1-q.P) }

// frame sets the axes round the bars, with room for the legend, and the ticks.
func (c Chances) frame(p *plot.Plot) {
	lo, hi := 1.0, 0.0
	for _, s := range c.Series {
		for _, q := range s.Points {
			lo, hi = math.Min(lo, q.low()), math.Max(hi, q.high())
		}
	}
	p.Legend.Top, p.Legend.Left = false, true
	p.Legend.TextStyle.Font.Size = vg.Points(8)
	p.Legend.Padding, p.Legend.YOffs = vg.Points(3), vg.Points(4)
	room := math.Max(0.005, 0.08*(hi-lo))
	p.Y.Min, p.Y.Max = math.Max(0, lo-room), math.Min(1, hi+room)
	if len(c.Series) > 1 { // room for the legend
		p.Y.Min = math.Max(0, p.Y.Min-0.035*float64(len(c.Series))*(p.Y.Max-p.Y.Min)*1.6)
	}
	if n := len(c.Ticks); n > 0 {
		p.X.Tick.Marker = named(c.Ticks)
		pad := 0.05 * math.Max(1, c.Ticks[n-1].X-c.Ticks[0].X)
		p.X.Min, p.X.Max = c.Ticks[0].X-pad, c.Ticks[n-1].X+pad
	}
}

// apart is how far series stand apart in x, so that their bars do not hide each
// other.
func (c Chances) apart() float64 {
	gap := math.Inf(1)
	for _, s := range c.Series {
		for i := 1; i < len(s.Points); i++ {
			gap = math.Min(gap, s.Points[i].X-s.Points[i-1].X)
		}
	}
	if math.IsInf(gap, 1) {
		return 0
	}
	return 0.04 * gap
}

type errors struct {
	plotter.XYs
	plotter.YErrors
}

// percents marks an axis of chances in per cent.
type percents struct{}

func (percents) Ticks(lo, hi float64) []plot.Tick {
	out := plot.DefaultTicks{}.Ticks(100*lo, 100*hi)
	for i := range out {
		if out[i].Label != "" {
			out[i].Label = fmt.Sprintf("%g %%", math.Round(out[i].Value*1e6)/1e6)
		}
		out[i].Value /= 100
	}
	return out
}

type named []Tick

func (n named) Ticks(lo, hi float64) []plot.Tick {
	var out []plot.Tick
	every := 1 + (len(n)-1)/12
	for i, t := range n {
		label := t.Label
		if i%every != 0 {
			label = ""
		}
		out = append(out, plot.Tick{Value: t.X, Label: label})
	}
	return out
}
