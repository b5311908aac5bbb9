package mapfile

import (
	"fmt"
	"image"
	"image/color"
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"

	"windfall/geo"
	"windfall/geo/plane"
)

// The symbols differ in shape, not in colour alone: the pad is a triangle, the
// nominal landing a cross, a likely spot a diamond, a part a hexagon, a start a
// square with the searcher's letter.

func (k *canvas) padMark(p vg.Point)  { k.mark(k.polygonAround(p, 9, 3, 0), padInk) }
func (k *canvas) spotMark(p vg.Point) { k.mark(k.polygonAround(p, 8, 4, 0), rgb(0xFFF6CC)) }
func (k *canvas) partMark(p vg.Point) { k.mark(k.polygonAround(p, 6, 6, 0), paper) }

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
	k.mark(cross, paper)
}

func (k *canvas) startMark(p vg.Point, i int) {
	c := routeInk(i)
	k.mark(k.polygonAround(p, 11, 4, 45), c)
	k.text(routeLetter(i), vg.Point{X: p.X, Y: p.Y - k.unit*3.8}, 11, 0.5, true, onto(c))
}

// onto is ink or paper, whichever reads better on c.
func onto(c color.NRGBA) color.NRGBA {
	if 0.299*float64(c.R)+0.587*float64(c.G)+0.114*float64(c.B) > 110 {
		return ink
	}
	return paper
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
		out = append(out,
			draw(fmt.Sprintf("start-%d", i+1), func(k *canvas, p vg.Point) { k.startMark(p, i) }),
			draw(fmt.Sprintf("leg-%d", i+1), func(k *canvas, p vg.Point) { k.mark(k.polygonAround(p, 4, 12, 0), routeInk(i)) }))
	}
	return out
}
