package picture

import (
	"fmt"
	"image/color"
	"io"
	"math"

	"windfall/geo/ink"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Profile draws speed and direction against height: the mean as a line, the
// reported levels as dots, one standard deviation as a band, single members in
// grey.
func Profile(out io.Writer, f Format, w Wind) error {
	return write(out, f, vg.Point{X: 22 * vg.Centimeter, Y: height}, w, func(c draw.Canvas) error {
		mean := w.curve(w.Choices)
		speed, err := w.speedPanel(mean)
		if err != nil {
			return err
		}
		dir, err := w.directionPanel(mean)
		if err != nil {
			return err
		}
		tiles := draw.Tiles{Rows: 1, Cols: 2, PadX: 6 * vg.Millimeter}
		cs := plot.Align([][]*plot.Plot{{speed, dir}}, tiles, c)
		speed.Draw(cs[0][0])
		dir.Draw(cs[0][1])
		return nil
	})
}

// panel is an empty plot with height upward.
func (w Wind) panel(x string) *plot.Plot {
	p := plot.New()
	style(p)
	above := w.Above
	if above == "" {
		above = "the pad"
	}
	p.X.Label.Text, p.Y.Label.Text = x, "height above "+above+", m"
	p.Y.Min, p.Y.Max = 0, w.top()
	g := plotter.NewGrid()
	g.Horizontal.Color, g.Vertical.Color = ink.Hair, ink.Hair
	p.Add(g)
	return p
}

func (w Wind) speedPanel(mean []point) (*plot.Plot, error) {
	p := w.panel("speed, m/s")
	band := make(plotter.XYs, 0, 2*len(mean))
	high := 1.0
	for _, m := range mean {
		band = append(band, plotter.XY{X: m.speed() + m.sd, Y: m.z})
		high = math.Max(high, m.speed()+m.sd)
	}
	for i := len(mean) - 1; i >= 0; i-- {
		band = append(band, plotter.XY{X: math.Max(0, mean[i].speed()-mean[i].sd), Y: mean[i].z})
	}
	if err := addBand(p, band); err != nil {
		return nil, err
	}
	if err := w.lines(p, mean, point.speed, false); err != nil {
		return nil, err
	}
	for _, m := range w.members() {
		for _, x := range m {
			high = math.Max(high, x.speed())
		}
	}
	p.X.Min, p.X.Max = 0, high*1.05
	return p, nil
}

func (w Wind) directionPanel(mean []point) (*plot.Plot, error) {
	p := w.panel("blows from, degrees true")
	centre := centreDeg(mean)
	var right, left plotter.XYs
	for _, m := range mean {
		if m.speed() < calm {
			continue
		}
		d := near(m.fromDeg(), centre)
		half := math.Min(180, math.Atan2(m.sd, m.speed())*180/math.Pi)
		right = append(right, plotter.XY{X: math.Min(d+half, centre+180), Y: m.z})
		left = append(left, plotter.XY{X: math.Max(d-half, centre-180), Y: m.z})
	}
	band := right
	for i := len(left) - 1; i >= 0; i-- {
		band = append(band, left[i])
	}
	if len(band) > 0 {
		if err := addBand(p, band); err != nil {
			return nil, err
		}
	} else if len(w.Choices) == 1 {
		p.X.Label.Text = "calm: no direction"
	}
	value := func(m point) float64 { return near(m.fromDeg(), centre) }
	if err := w.lines(p, mean, value, true); err != nil {
		return nil, err
	}
	for _, m := range w.members() {
		for _, x := range m {
			if x.speed() >= calm {
				band = append(band, plotter.XY{X: value(x), Y: x.z})
			}
		}
	}
	p.X.Min, p.X.Max = limits(band, centre)
	p.X.Tick.Marker = plot.TickerFunc(compassTicks)
	return p, nil
}

// calm is the speed, m/s, under which a direction is not drawn.
const calm = 0.3

// lines adds the members, the mean and the levels to a panel; a direction has
// no value where it is calm.
func (w Wind) lines(p *plot.Plot, mean []point, value func(point) float64, direction bool) error {
	add := func(pts []point, c color.Color, width vg.Length) error {
		for _, part := range split(pts, value, direction) {
			l, err := line(part, c, width)
			if err != nil {
				return err
			}
			p.Add(l)
		}
		return nil
	}
	for _, m := range w.members() {
		if err := add(m, member, vg.Points(0.8)); err != nil {
			return err
		}
	}
	if err := add(mean, ink.Blue, vg.Points(2)); err != nil {
		return err
	}
	var dots plotter.XYs
	for _, l := range w.Choices[0].Profile.Levels {
		u, v := l.UV()
		m := point{l.Height, u, v, 0}
		if l.Height <= w.top() && len(w.Choices) == 1 && (!direction || l.Speed >= calm) {
			dots = append(dots, plotter.XY{X: value(m), Y: l.Height})
		}
	}
	return addDots(p, dots)
}

// split makes lines of values, cut where a direction jumps across the seam of
// the compass.
func split(pts []point, value func(point) float64, direction bool) []plotter.XYs {
	var out []plotter.XYs
	var cur plotter.XYs
	for _, m := range pts {
		if direction && m.speed() < calm {
			continue
		}
		x := value(m)
		if n := len(cur); direction && n > 0 && math.Abs(x-cur[n-1].X) > 180 {
			out, cur = append(out, cur), nil
		}
		cur = append(cur, plotter.XY{X: x, Y: m.z})
	}
	if len(cur) > 0 {
		out = append(out, cur)
	}
	return out
}

// addBand fills the spread.
func addBand(p *plot.Plot, band plotter.XYs) error {
	poly, err := plotter.NewPolygon(band)
	if err != nil {
		return err
	}
	poly.Color, poly.LineStyle.Width = wash, 0
	p.Add(poly)
	return nil
}

func addDots(p *plot.Plot, dots plotter.XYs) error {
	if len(dots) == 0 {
		return nil
	}
	s, err := plotter.NewScatter(dots)
	if err != nil {
		return err
	}
	s.GlyphStyle = draw.GlyphStyle{Color: ink.Amber, Radius: vg.Points(2.6), Shape: draw.CircleGlyph{}}
	p.Add(s)
	return nil
}

// centreDeg is the direction of the mean of the unit winds, about which the
// direction panel is laid out.
func centreDeg(pts []point) float64 {
	var u, v float64
	for _, p := range pts {
		if s := p.speed(); s > 0 {
			u, v = u+p.u/s, v+p.v/s
		}
	}
	return point{u: u, v: v}.fromDeg()
}

// near brings a direction within 180 degrees of the centre.
func near(d, centre float64) float64 {
	return centre + math.Remainder(d-centre, 360)
}

// limits leaves room beside the band, at least 90 degrees wide in all.
func limits(band plotter.XYs, centre float64) (lo, hi float64) {
	lo, hi = centre-45, centre+45
	for _, b := range band {
		lo, hi = math.Min(lo, b.X-5), math.Max(hi, b.X+5)
	}
	return math.Max(lo, centre-180), math.Min(hi, centre+180)
}

// compassTicks marks every 30 degrees (45 where the panel is wide) with the
// bearing, and names the quarters.
func compassTicks(lo, hi float64) []plot.Tick {
	step := 30.0
	if hi-lo < 100 {
		step = 15
	}
	if hi-lo > 200 {
		step = 45
	}
	var out []plot.Tick
	for d := math.Ceil(lo/step) * step; d <= hi; d += step {
		b := math.Mod(math.Mod(d, 360)+360, 360)
		label := fmt.Sprintf("%03.0f", b)
		if i := b / 90; i == math.Trunc(i) {
			label = [...]string{"N", "E", "S", "W"}[int(i)]
		}
		out = append(out, plot.Tick{Value: d, Label: label})
	}
	return out
}
