package picture

import (
	"fmt"
	"io"
	"math"

	"windfall/geo/ink"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Hodograph draws the tip of the wind's arrow from the ground up, east to the
// right and north up, so that the line runs the way the rocket is carried.
// Rings are speeds, dots heights with one standard deviation as a pale disc.
func Hodograph(out io.Writer, f Format, w Wind) error {
	return write(out, f, vg.Point{X: 16 * vg.Centimeter, Y: 17 * vg.Centimeter}, w, func(c draw.Canvas) error {
		mean := w.curve(w.Choices)
		p := plot.New()
		style(p)
		p.X.Label.Text, p.Y.Label.Text = "carried toward east, m/s", "carried toward north, m/s"
		marks := w.marks(mean)
		extent := w.frame(p, mean, marks)
		axes := [4]float64{p.X.Min, p.X.Max, p.Y.Min, p.Y.Max}
		if err := addRings(p, extent); err != nil {
			return err
		}
		for _, m := range marks {
			if err := addBand(p, circle(m.u, m.v, m.sd)); err != nil {
				return err
			}
		}
		if err := w.tips(p, mean); err != nil {
			return err
		}
		if err := addHeights(p, marks, extent); err != nil {
			return err
		}
		p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = axes[0], axes[1], axes[2], axes[3] // adding the rings has widened them
		p.Draw(c)
		return nil
	})
}

// frame sets square axes about the wind and the calm, and returns their width.
func (w Wind) frame(p *plot.Plot, mean, marks []point) float64 {
	var lo, hi [2]float64
	grow := func(u, v, r float64) {
		lo[0], hi[0] = math.Min(lo[0], u-r), math.Max(hi[0], u+r)
		lo[1], hi[1] = math.Min(lo[1], v-r), math.Max(hi[1], v+r)
	}
	for _, m := range mean {
		grow(m.u, m.v, 0)
	}
	for _, m := range marks {
		grow(m.u, m.v, m.sd)
	}
	for _, c := range w.members() {
		for _, m := range c {
			grow(m.u, m.v, 0)
		}
	}
	extent := math.Max(2, 1.12*math.Max(hi[0]-lo[0], hi[1]-lo[1]))
	p.X.Min, p.X.Max = (lo[0]+hi[0]-extent)/2, (lo[0]+hi[0]+extent)/2
	p.Y.Min, p.Y.Max = (lo[1]+hi[1]-extent)/2, (lo[1]+hi[1]+extent)/2
	return extent
}

func (w Wind) tips(p *plot.Plot, mean []point) error {
	for _, m := range w.members() {
		l, err := line(tipsOf(m), member, vg.Points(0.8))
		if err != nil {
			return err
		}
		p.Add(l)
	}
	l, err := line(tipsOf(mean), ink.Blue, vg.Points(2))
	if err != nil {
		return err
	}
	p.Add(l)
	return nil
}

func tipsOf(pts []point) plotter.XYs {
	xy := make(plotter.XYs, len(pts))
	for i, m := range pts {
		xy[i] = plotter.XY{X: m.u, Y: m.v}
	}
	return xy
}

// marks picks the heights that are named: 10 m and round steps to the top.
func (w Wind) marks(mean []point) []point {
	top := w.top()
	step := 50.0
	for _, s := range []float64{100, 200, 250, 500} {
		if top/step > 8 {
			step = s
		}
	}
	zs := []float64{10}
	for z := step; z <= top; z += step {
		zs = append(zs, z)
	}
	var out []point
	for _, z := range zs {
		for i := 1; i < len(mean); i++ {
			a, b := mean[i-1], mean[i]
			if z < a.z || z > b.z || b.z == a.z {
				continue
			}
			f := (z - a.z) / (b.z - a.z)
			out = append(out, point{z, a.u + f*(b.u-a.u), a.v + f*(b.v-a.v), a.sd + f*(b.sd-a.sd)})
			break
		}
	}
	return out
}

// addRings draws rings of equal speed and the cross through the calm.
func addRings(p *plot.Plot, extent float64) error {
	step := ink.RoundUp(extent / 8)
	far := math.Hypot(math.Max(math.Abs(p.X.Min), math.Abs(p.X.Max)), math.Max(math.Abs(p.Y.Min), math.Abs(p.Y.Max)))
	for r := step; r < far; r += step {
		l, err := line(circle(0, 0, r), ink.Hair, vg.Points(0.8))
		if err != nil {
			return err
		}
		p.Add(l)
	}
	for _, xy := range []plotter.XYs{{{X: p.X.Min}, {X: p.X.Max}}, {{Y: p.Y.Min}, {Y: p.Y.Max}}} {
		l, err := line(xy, ink.Hair, vg.Points(1.2))
		if err != nil {
			return err
		}
		p.Add(l)
	}
	return nil
}

func circle(x, y, r float64) plotter.XYs {
	const n = 72
	xy := make(plotter.XYs, n+1)
	for i := range xy {
		s, c := math.Sincos(2 * math.Pi * float64(i) / n)
		xy[i] = plotter.XY{X: x + r*c, Y: y + r*s}
	}
	return xy
}

// addHeights puts dots and names on the line, leaving out names that would lie
// on one another.
func addHeights(p *plot.Plot, marks []point, extent float64) error {
	var dots plotter.XYs
	names := plotter.XYLabels{}
	for i := len(marks) - 1; i >= 0; i-- { // the highest is named first
		m := marks[i]
		dots = append(dots, plotter.XY{X: m.u, Y: m.v})
		crowded := false
		for _, n := range names.XYs {
			crowded = crowded || math.Abs(n.X-m.u) < extent/7 && math.Abs(n.Y-m.v) < extent/28
		}
		if crowded {
			continue
		}
		names.XYs = append(names.XYs, plotter.XY{X: m.u, Y: m.v})
		names.Labels = append(names.Labels, fmt.Sprintf("%.0f m", m.z))
	}
	if err := addDots(p, dots); err != nil {
		return err
	}
	if len(names.XYs) == 0 {
		return nil
	}
	l, err := plotter.NewLabels(names)
	if err != nil {
		return err
	}
	for i := range l.TextStyle {
		l.TextStyle[i].Font, l.TextStyle[i].Color = sans(10), ink.Dark
	}
	l.Offset = vg.Point{X: vg.Points(6), Y: vg.Points(-3)}
	p.Add(l)
	return nil
}
