package mapfile

import (
	"fmt"
	"math"

	"gonum.org/v1/plot/vg"

	"windfall/geo"
	"windfall/geo/ink"
	"windfall/geo/place"
)

// frame whitens the page around the map and draws its border.
func (k *canvas) frame(page vg.Rectangle) {
	k.SetColor(ink.Paper)
	for _, r := range []vg.Rectangle{
		{Min: page.Min, Max: vg.Point{X: k.box.Min.X, Y: page.Max.Y}},
		{Min: vg.Point{X: k.box.Max.X, Y: page.Min.Y}, Max: page.Max},
		{Min: page.Min, Max: vg.Point{X: page.Max.X, Y: k.box.Min.Y}},
		{Min: vg.Point{X: page.Min.X, Y: k.box.Max.Y}, Max: page.Max},
	} {
		k.Fill(rectPath(r))
	}
	k.use(pen{ink: ink.Dark, width: 1.5})
	k.Stroke(rectPath(k.box))
}

// grid draws the lines of the local grid with their figures at the border, and
// returns what to say of them.
func (k *canvas) grid(l *Landing, style place.Style) string {
	g := place.GridAt(l.Frame.Origin, style)
	w := k.window()
	at := func(x, y float64) (e, n float64) { return g.FromLonLat(l.Frame.ToLonLat(geo.XY{X: x, Y: y})) }
	var e0, e1, n0, n1 = math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, c := range [][2]float64{{w.Min.X, w.Min.Y}, {w.Max.X, w.Min.Y}, {w.Max.X, w.Max.Y}, {w.Min.X, w.Max.Y}} {
		e, n := at(c[0], c[1])
		e0, e1, n0, n1 = math.Min(e0, e), math.Max(e1, e), math.Min(n0, n), math.Max(n1, n)
	}
	step := ink.RoundDown(math.Max(e1-e0, n1-n0) / 4)
	if !(step > 0) || (e1-e0)/step > 50 || (n1-n0)/step > 50 {
		return ""
	}
	trace := func(e, n func(t float64) float64) []geo.XY {
		var path []geo.XY
		for t := 0.0; t <= 1; t += 0.125 {
			path = append(path, l.Frame.ToXY(g.ToLonLat(e(t), n(t))))
		}
		return path
	}
	fixed := func(v float64) func(float64) float64 { return func(float64) float64 { return v } }
	run := func(a, b float64) func(float64) float64 { return func(t float64) float64 { return a + (b-a)*t } }
	for e := math.Ceil(e0/step) * step; e <= e1; e += step {
		p := trace(fixed(e), run(n0, n1))
		k.ground(p, gridPen)
		if q, ok := crossing(p, w.Min.Y, false); ok && k.pt(q).X > k.box.Min.X+k.unit*20 &&
			k.pt(q).X < k.box.Max.X-k.unit*20 {
			k.figure(e, vg.Point{X: k.pt(q).X, Y: k.box.Min.Y + k.unit*5}, 0.5)
		}
	}
	for n := math.Ceil(n0/step) * step; n <= n1; n += step {
		p := trace(run(e0, e1), fixed(n))
		k.ground(p, gridPen)
		if q, ok := crossing(p, w.Min.X, true); ok && q.Y > w.Min.Y && q.Y < w.Max.Y {
			if y := k.pt(q).Y; y > k.box.Min.Y+k.unit*16 && y < k.box.Max.Y-k.unit*vg.Length(12+k.top) {
				k.figure(n, vg.Point{X: k.box.Min.X + k.unit*2, Y: y}, 0)
			}
		}
	}
	return fmt.Sprintf("%s, lines %s apart", g.Name, metres(step))
}

// figure writes a grid line's metres, the last three digits apart, where the
// pad's sign leaves room.
func (k *canvas) figure(v float64, p vg.Point, align float64) {
	s := fmt.Sprintf("%.0f %03.0f", math.Floor(v/1000), math.Mod(v, 1000))
	f, pad := k.face(letters{size: noteSize}), k.pt(geo.XY{})
	width := f.Width(s)
	left := p.X - width*vg.Length(align)
	if pad.X > left-k.unit*10 && pad.X < left+width+k.unit*10 && math.Abs((pad.Y-p.Y).Points()) < 16*k.unit.Points() {
		return
	}
	k.note(s, p, align)
}

const noteSize = 8.5 // units

// note writes small text on a pale plate.
func (k *canvas) note(s string, p vg.Point, align float64) {
	f := k.face(letters{size: noteSize})
	width := f.Width(s)
	x := p.X - width*vg.Length(align)
	k.SetColor(ink.Faded(ink.Paper, 0.75))
	k.Fill(rectPath(vg.Rectangle{Min: vg.Point{X: x - k.unit, Y: p.Y - k.unit*3},
		Max: vg.Point{X: x + width + k.unit, Y: p.Y + k.unit*8}}))
	k.text(s, vg.Point{X: x, Y: p.Y}, letters{size: noteSize})
}

// crossing returns where a path meets the line x = v (vertical) or y = v.
func crossing(path []geo.XY, v float64, vertical bool) (geo.XY, bool) {
	for i := 1; i < len(path); i++ {
		a, b := path[i-1], path[i]
		from, to := a.Y-v, b.Y-v
		if vertical {
			from, to = a.X-v, b.X-v
		}
		if (from > 0) != (to > 0) {
			return a.Add(b.Sub(a).Scale(from / (from - to))), true
		}
	}
	return geo.XY{}, false
}

// scaleBar draws a bar of a round length in the lower right.
func (k *canvas) scaleBar() {
	width := k.box.Size().X.Points()
	m := ink.RoundDown(width / k.scale * 0.3)
	length := vg.Length(m * k.scale)
	right, y := k.box.Max.X-k.unit*10, k.box.Min.Y+k.unit*20
	left := right - length
	k.SetColor(ink.Faded(ink.Paper, 0.8))
	k.Fill(rectPath(vg.Rectangle{Min: vg.Point{X: left - k.unit*6, Y: y - k.unit*4},
		Max: vg.Point{X: right + k.unit*6, Y: y + k.unit*19}}))
	for i := range 4 {
		fill := ink.Dark
		if i%2 == 1 {
			fill = ink.Paper
		}
		r := vg.Rectangle{Min: vg.Point{X: left + length*vg.Length(i)/4, Y: y},
			Max: vg.Point{X: left + length*vg.Length(i+1)/4, Y: y + k.unit*4}}
		k.SetColor(fill)
		k.Fill(rectPath(r))
		k.use(pen{ink: ink.Dark, width: 0.8})
		k.Stroke(rectPath(r))
	}
	k.text("0", vg.Point{X: left, Y: y + k.unit*7}, letters{size: 10})
	k.text(fmt.Sprintf("%g m", m), vg.Point{X: right, Y: y + k.unit*7}, letters{size: 10, align: 1})
}

// northArrow points to true north in the upper right.
func (k *canvas) northArrow() {
	c := vg.Point{X: k.box.Max.X - k.unit*22, Y: k.box.Max.Y - k.unit*26}
	k.SetColor(ink.Faded(ink.Paper, 0.8))
	k.Fill(path(k.polygonAround(c, 19, 24, 0), true))
	at := func(x, y float64) vg.Point {
		return vg.Point{X: c.X + k.unit*vg.Length(x), Y: c.Y + k.unit*vg.Length(y)}
	}
	k.SetColor(ink.Dark)
	k.Fill(path([]vg.Point{at(0, 6), at(-6, -14), at(0, -9)}, true))
	k.use(pen{ink: ink.Dark, width: 1})
	k.Stroke(path([]vg.Point{at(0, 6), at(-6, -14), at(0, -9), at(6, -14)}, true))
	k.text("N", at(0, 7), letters{size: 12, align: 0.5, bold: true})
}

// titles writes the heading above the map.
func (k *canvas) titles(l *Landing, gridText string, page vg.Rectangle) {
	x, room := k.box.Min.X, k.box.Size().X
	f := k.face(letters{size: 10.5})
	k.text(gridText, vg.Point{X: k.box.Max.X, Y: page.Max.Y - k.unit*22}, letters{size: 10.5, align: 1})
	k.text(k.fit(clean(l.Title), letters{size: 17, bold: true}, room-f.Width(gridText)-k.unit*8),
		vg.Point{X: x, Y: page.Max.Y - k.unit*22}, letters{size: 17, bold: true})
	k.text(k.fit(clean(l.Subtitle), letters{size: 10.5}, room), vg.Point{X: x, Y: page.Max.Y - k.unit*39},
		letters{size: 10.5})
}

// fit shortens s to the given width.
func (k *canvas) fit(s string, l letters, room vg.Length) string {
	f := k.face(l)
	if f.Width(s) <= room {
		return s
	}
	r := []rune(s)
	for len(r) > 0 && f.Width(string(r)+"...") > room {
		r = r[:len(r)-1]
	}
	return string(r) + "..."
}
