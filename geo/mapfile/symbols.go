package mapfile

import (
	"fmt"
	"image"
	"image/color"
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"

	"windfall/geo"
	"windfall/geo/ink"
	"windfall/geo/plane"
)

// The symbols differ in shape, not in colour alone: the pad is a triangle, the
// nominal landing a cross, a likely spot a diamond, a part a hexagon, a start a
// square with the searcher's letter.

func (k *canvas) padMark(p vg.Point)  { k.mark(k.polygonAround(p, 9, 3, 0), ink.Blue) }
func (k *canvas) spotMark(p vg.Point) { k.mark(k.polygonAround(p, 8, 4, 0), ink.Cream) }
func (k *canvas) partMark(p vg.Point) { k.mark(k.polygonAround(p, 6, 6, 0), ink.Paper) }

func (k *canvas) nominalMark(p vg.Point) {
	const long, half = 8.5, 2.5 // units: the arms' length and half width
	var cross []vg.Point
	for i := range 4 {
		s, c := math.Sincos(float64(i) * math.Pi / 2)
		for _, q := range [3][2]float64{{half, half}, {half, long}, {-half, long}} {
			x, y := q[0]*c-q[1]*s, q[0]*s+q[1]*c
			cross = append(cross, vg.Point{X: p.X + k.unit*vg.Length(x), Y: p.Y + k.unit*vg.Length(y)})
		}
	}
	k.mark(cross, ink.Paper)
}

func (k *canvas) startMark(p vg.Point, i int) {
	c := ink.Searcher(i)
	k.mark(k.polygonAround(p, 11, 4, 45), c)
	k.text(routeLetter(i), vg.Point{X: p.X, Y: p.Y - k.unit*3.8},
		letters{size: 11, align: 0.5, bold: true, ink: ink.On(c)})
}

type icon struct {
	name string
	img  image.Image
}

// icons draws the symbols of a KMZ, 64 pixels a side.
func icons(l *Landing) []icon {
	draw := func(name string, f func(*canvas, vg.Point)) icon {
		c := vgimg.NewWith(vgimg.UseWH(64, 64), vgimg.UseDPI(72), vgimg.UseBackgroundColor(color.Transparent))
		k := newCanvas(c, vg.Rectangle{Max: vg.Point{X: 64, Y: 64}}, plane.Box{Max: geo.XY{X: 1, Y: 1}}, 2.4)
		f(k, vg.Point{X: 32, Y: 32})
		return icon{name, c.Image()}
	}
	out := []icon{
		draw("pad", (*canvas).padMark), draw("nominal", (*canvas).nominalMark),
		draw("spot", (*canvas).spotMark), draw("part", (*canvas).partMark),
	}
	if l.Plan == nil {
		return out
	}
	for _, r := range l.Plan.Searchers {
		i := r.nth - 1
		start := func(k *canvas, p vg.Point) { k.startMark(p, i) }
		leg := func(k *canvas, p vg.Point) { k.mark(k.polygonAround(p, 4, 12, 0), ink.Searcher(i)) }
		out = append(out, draw(fmt.Sprintf("start-%d", i+1), start), draw(fmt.Sprintf("leg-%d", i+1), leg))
	}
	return out
}

// routeLetter is A for the first searcher, then B, ... Z, A2, B2, ...
func routeLetter(i int) string {
	s := string(rune('A' + i%26))
	if i >= 26 {
		s += string(rune('1' + min(i/26, 8)))
	}
	return s
}
