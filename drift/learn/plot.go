package learn

import (
	"fmt"
	"image/color"
	"io"
	"slices"

	"windfall/geo/ink"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// LogScore returns the mean log score without and with learning, wrong entries
// left out.
func (r *Result) LogScore() (was, now float64) {
	n := 0.0
	for _, s := range r.Scores {
		if s.Wrong <= 0.5 {
			was += s.WasLog
			now += s.Log
			n++
		}
	}
	return was / max(n, 1), now / max(n, 1)
}

// Use lets maps use the result even where it scores worse than no learning, as a
// whole or by a factor.
func (r *Result) Use() {
	some := r.Withheld
	for i := range r.Factors {
		some = some || r.Factors[i].Withheld
		r.Factors[i].Withheld = false
	}
	r.Withheld = false
	if some {
		r.Verdict = append(r.verdict(), "maps use it all the same")
	}
}

// Plot draws the probability-integral plot of the maps: how many of the finds
// lie within each level, against the level. Right maps follow the diagonal,
// too small ones run below it, too wide ones above. format is png or svg.
func (r *Result) Plot(w io.Writer, format string) error {
	p := plot.New()
	p.Title.Text = fmt.Sprintf("Finds inside their areas (%d finds)", r.Coverage[0].Of)
	p.X.Label.Text, p.Y.Label.Text = "probability of the area", "share of finds inside"
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, 1, 0, 1
	p.Legend.Top, p.Legend.Left = true, true
	p.Legend.XOffs, p.Legend.YOffs = vg.Points(8), vg.Points(-4)
	line := func(name string, pts plotter.XYs, c color.Color, width float64, dashes ...vg.Length) error {
		l, err := plotter.NewLine(pts)
		if err != nil {
			return err
		}
		l.LineStyle = draw.LineStyle{Color: c, Width: vg.Points(width), Dashes: dashes}
		p.Add(l)
		p.Legend.Add(name, l)
		return nil
	}
	if err := line("a right map", plotter.XYs{{X: 0, Y: 0}, {X: 1, Y: 1}}, ink.Grey, 1, vg.Points(4),
		vg.Points(3)); err != nil {
		return err
	}
	if err := line("without learning", r.steps(func(s Score) float64 { return s.WasLevel }), ink.Amber, 1.5); err != nil {
		return err
	}
	if err := line("with what the others teach", r.steps(func(s Score) float64 { return s.Level }), ink.Blue,
		2); err != nil {
		return err
	}
	c, err := p.WriterTo(vg.Points(380), vg.Points(380), format)
	if err != nil {
		return err
	}
	_, err = c.WriteTo(w)
	return err
}

// steps is the empirical distribution of the levels.
func (r *Result) steps(level func(Score) float64) plotter.XYs {
	var at []float64
	for _, s := range r.Scores {
		if s.Wrong <= 0.5 {
			at = append(at, level(s))
		}
	}
	slices.Sort(at)
	out := plotter.XYs{{X: 0, Y: 0}}
	for i, x := range at {
		n := float64(len(at))
		out = append(out, plotter.XY{X: x, Y: float64(i) / n}, plotter.XY{X: x, Y: float64(i+1) / n})
	}
	return append(out, plotter.XY{X: 1, Y: 1})
}
