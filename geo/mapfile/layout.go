package mapfile

import (
	"math"

	"gonum.org/v1/plot/vg"

	"windfall/geo/plane"
)

// layout is where everything of a picture goes.
type layout struct {
	Page
	page, box vg.Rectangle
	unit      vg.Length
	entries   []entry
	extent    plane.Box
}

const edge, headRoom = 6, 46 // units around the map, and above it for the titles

func (p Page) layout(l *Landing) layout {
	p = p.defaults()
	o := layout{Page: p, unit: vg.Length(p.Lettering * 720 / 415)}
	b := l.extent()
	o.extent = b.Pad(0.07 * math.Max(b.Size().X, b.Size().Y))
	o.place(l)
	view := newCanvas(nil, o.box, o.extent, o.unit).window()
	o.entries = legend(l, &view)
	o.place(l)
	return o
}

// place puts the map above the room that the legend's entries need.
func (o *layout) place(l *Landing) {
	head, foot := headRoom*o.unit, o.unit*vg.Length(edge+o.legendHeight(l, o.entries))
	if o.Untitled {
		head = edge * o.unit
	}
	height := o.Height
	if height <= 0 {
		width := o.Width - 2*edge*o.unit.Points()
		aspect := o.extent.Size().Y / o.extent.Size().X
		height = math.Round(width*math.Max(0.7, math.Min(1.25, aspect)) + (head + foot).Points())
	}
	o.page = vg.Rectangle{Max: vg.Point{X: vg.Length(o.Width), Y: vg.Length(height)}}
	o.box = vg.Rectangle{Min: vg.Point{X: edge * o.unit, Y: foot},
		Max: vg.Point{X: o.page.Max.X - edge*o.unit, Y: o.page.Max.Y - head}}
}
