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
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"

	"windfall/geo/ink"
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

var marks = []draw.GlyphDrawer{draw.CircleGlyph{}, draw.SquareGlyph{}, draw.TriangleGlyph{},
	draw.RingGlyph{}, draw.BoxGlyph{}, draw.PyramidGlyph{}}

// MaxSeries is how many lines one figure holds.
const MaxSeries = 6

const (
	dpi      = 110
	sigmas   = 1.96 // of a bar: 95 %
	mostBars = 48   // more bars in one figure hide each other
	keyRow   = 13.0 // pt, an entry of the key
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
// then says. A bar spans 95 % of the Monte Carlo error; where bars of several
// series would cover each other, the first series alone has them.
func (c Chances) Draw(w io.Writer) error {
	p := plot.New()
	p.Title.Text = c.Title
	if n := len(c.Series); n > MaxSeries {
		p.Title.Text += fmt.Sprintf("\nthe best %d of %d series", MaxSeries, n)
		c.Series = c.Series[:MaxSeries]
	}
	p.Title.TextStyle.Font.Size = vg.Points(11)
	p.X.Label.Text, p.Y.Label.Text = c.X, c.Y+" (bars: 95 %)"
	crowded := c.points() > mostBars && len(c.Series) > 1
	if crowded {
		p.Y.Label.Text = c.Y + " (bars: 95 %, of the first series)"
	}
	grid := plotter.NewGrid()
	grid.Vertical.Width = 0
	grid.Horizontal.Color = ink.Hair
	p.Add(grid)
	key := plot.NewLegend()
	shift := c.apart()
	for k, s := range c.Series {
		dx := shift * (float64(k) - float64(len(c.Series)-1)/2)
		if err := addSeries(p, &key, s, look{k, dx, k == 0 || !crowded}); err != nil {
			return err
		}
	}
	c.frame(p)
	return c.png(w, p, key)
}

// png writes the plot with the key below it, where there are several series.
func (c Chances) png(w io.Writer, p *plot.Plot, key plot.Legend) error {
	strip := vg.Length(0)
	if len(c.Series) > 1 {
		strip = vg.Length(len(c.Series))*keyRow + 6
	}
	size := vgimg.UseWH(7*vg.Inch, 4.4*vg.Inch+strip)
	img := vgimg.NewWith(size, vgimg.UseDPI(dpi), vgimg.UseBackgroundColor(color.White))
	all := draw.New(img)
	p.Draw(draw.Crop(all, 6, -10, 6+strip, -6))
	if strip > 0 {
		key.Left, key.Top = true, true
		key.TextStyle.Font.Size, key.Padding, key.ThumbnailWidth = vg.Points(8), vg.Points(3), vg.Points(24)
		below := draw.Crop(all, 60, -10, 4, 0)
		below.Max.Y = below.Min.Y + strip - 4
		key.Draw(below)
	}
	_, err := vgimg.PngCanvas{Canvas: img}.WriteTo(w)
	return err
}

// points counts what is drawn.
func (c Chances) points() (n int) {
	for _, s := range c.Series {
		n += len(s.Points)
	}
	return n
}

// look is how a series is drawn: its ink, how far to the side, with bars.
type look struct {
	ink  int
	dx   float64
	bars bool
}

// addSeries adds a line and its entry in the key.
func addSeries(p *plot.Plot, key *plot.Legend, s Series, l look) error {
	xy := make(plotter.XYs, len(s.Points))
	bars := make(plotter.YErrors, len(s.Points))
	for i, q := range s.Points {
		xy[i].X, xy[i].Y = q.X+l.dx, q.P
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
	line.Color, points.Color, eb.Color = ink.Series[l.ink], ink.Series[l.ink], ink.Series[l.ink]
	line.Width, points.Radius, points.Shape = vg.Points(0.8), vg.Points(2.6), marks[l.ink]
	p.Add(line, points)
	if l.bars {
		p.Add(eb)
	}
	key.Add(s.Name, line, points)
	return nil
}

// low and high are the ends of a point's bar, within 0 and 1.
func (q Point) low() float64  { return q.P - math.Min(sigmas*q.SE, q.P) }
func (q Point) high() float64 { return q.P + math.Min(sigmas*q.SE, 1-q.P) }

// frame sets the axes round the bars, and the ticks.
func (c Chances) frame(p *plot.Plot) {
	lo, hi := 1.0, 0.0
	for _, s := range c.Series {
		for _, q := range s.Points {
			lo, hi = math.Min(lo, q.low()), math.Max(hi, q.high())
		}
	}
	room := math.Max(0.005, 0.08*(hi-lo))
	p.Y.Min, p.Y.Max = math.Max(0, lo-room), math.Min(1, hi+room)
	p.Y.Tick.Marker = percents{}
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

// percents marks an axis of chances in whole steps of per cent.
type percents struct{}

func (percents) Ticks(lo, hi float64) (out []plot.Tick) {
	step := ink.RoundUp(100 * (hi - lo) / 8)
	for k := math.Ceil(100*lo/step - 1e-9); k*step <= 100*hi+1e-9; k++ {
		v := k * step
		out = append(out, plot.Tick{Value: v / 100, Label: strconv.FormatFloat(math.Round(v*1e6)/1e6, 'f', -1, 64) + " %"})
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
