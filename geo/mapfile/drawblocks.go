package mapfile

import (
	"strings"

	"gonum.org/v1/plot/vg"

	"windfall/geo"
	"windfall/geo/ink"
	"windfall/geo/plane"
)

// blockPens draw a block's lanes, so thin that the likely ground shows through.
func blockPens(i int) []pen {
	return []pen{{ink: ink.Faded(ink.Paper, 0.5), width: 2}, {ink: ink.Searcher(i), width: 1.1}}
}

// edgePen is the edge of a block's ground.
func edgePen(i int) pen { return pen{ink: ink.Searcher(i), width: 1.6} }

// blocks draws a searcher's blocks as tinted ground with thin lanes, and the
// ways between them. Where a block begins is a point, and its first lane has an
// arrow.
func (k *canvas) blocks(l *Landing, r Route) {
	i := r.nth - 1
	stages, tint := l.Plan.stages(r), 0.16
	if r.Kind == "drone" { // flies over others' ground
		tint = 0.07
	}
	for _, s := range stages {
		if s.block != nil {
			k.shape(plane.Polygons{{s.outline()}}, ink.Faded(ink.Searcher(i), tint), edgePen(i))
		}
	}
	for _, s := range stages {
		if s.block == nil {
			k.ground(s.path(), routePens(i, "transit")...)
			continue
		}
		path := s.path()
		k.ground(path, blockPens(i)...)
		k.arrowHead(Leg{From: path[0], To: path[1]})
	}
	for _, s := range stages {
		if s.block != nil && k.clipping.Contains(s.block.Begin) {
			k.mark(k.polygonAround(k.pt(s.block.Begin), 3.5, 12, 0), ink.Searcher(i))
		}
	}
}

// blockNames writes the names of all blocks, each in the middle of its ground or
// in a corner that is free; walkers' first.
func (k *canvas) blockNames(l *Landing) {
	taken := []vg.Point{k.pt(geo.XY{})}
	for _, s := range l.spots() {
		taken = append(taken, k.pt(s.At))
	}
	for _, drones := range []bool{false, true} {
		for _, r := range l.Plan.Searchers {
			if (r.Kind == "drone") != drones {
				continue
			}
			for _, s := range l.Plan.stages(r) {
				if s.block != nil {
					taken = k.blockName(s, r.nth-1, taken)
				}
			}
		}
	}
}

func (k *canvas) blockName(s stage, i int, taken []vg.Point) []vg.Point {
	ring, mid := s.outline(), s.middle()
	spots := []geo.XY{mid}
	for _, f := range []float64{0.8, 0.5, 0.25} {
		for _, q := range ring[:4] {
			spots = append(spots, mid.Add(q.Sub(mid).Scale(f)))
		}
	}
	at := mid
	for _, q := range spots {
		if k.clipping.Contains(q) && k.apart(taken, k.pt(q), 21) {
			at = q
			break
		}
	}
	if !k.clipping.Contains(at) {
		return taken
	}
	k.plate(s.block.Name, k.pt(at), 9.5, ink.Searcher(i))
	return append(taken, k.pt(at))
}

// coverPen is the edge of a cover class.
var coverPen = pen{ink: ink.Faded(ink.Moss, 0.7), width: 0.8, dashes: []float64{2, 4}}

// wooded reports whether a cover hides what lies in it from above: it is drawn
// darker.
func wooded(class string) bool {
	return strings.Contains(class, "wood") || strings.Contains(class, "forest") || strings.Contains(class, "orchard")
}

// covers tints the ground by cover, woods more than the rest.
func (k *canvas) covers(l *Landing) {
	for _, z := range l.Covers {
		tint := 0.05
		if wooded(z.Name) {
			tint = 0.2
		}
		k.shape(z.Shape, ink.Faded(ink.Moss, tint), coverPen)
	}
}

// gateMark is two posts with a gap.
func (k *canvas) gateMark(p vg.Point) {
	k.mark(k.polygonAround(p, 6.5, 4, 45), ink.Paper)
	for _, x := range []float64{-2.6, 2.6} {
		q := vg.Point{X: p.X + k.unit*vg.Length(x), Y: p.Y}
		k.stroke(pen{ink: ink.Red, width: 1.8}, vg.Point{X: q.X, Y: q.Y - k.unit*4}, vg.Point{X: q.X, Y: q.Y + k.unit*4})
	}
}

// names writes what shed parts and the ground's features are called beside them,
// where there is room: parts and crossings first, then barriers, ground to keep
// out of, covers.
func (k *canvas) names(l *Landing) {
	var taken []vg.Point
	write := func(s string, at geo.XY, up float64) {
		if s = clean(s); s == "" || !k.clipping.Contains(at) {
			return
		}
		p := k.pt(at)
		p.Y += k.unit * vg.Length(up)
		if !k.apart(taken, p, 26) {
			return
		}
		taken = append(taken, p)
		k.halo(s, p)
	}
	for _, p := range l.Parts {
		write(p.Name, p.Mean, -20)
	}
	for _, c := range l.Crossings {
		if k.clipping.Contains(c.At) {
			k.gateMark(k.pt(c.At))
		}
		write(c.Name, c.At, 9)
	}
	for _, b := range l.Barriers {
		if in := k.clipping.ClipLine(b.Path); len(in) > 0 {
			write(b.Name, in[len(in)/2][len(in[len(in)/2])/2], -12)
		}
	}
	for _, z := range l.NoGo {
		write(z.Name, z.centre(k.clipping), -3)
	}
	for _, z := range l.Covers {
		write(z.Name, z.centre(k.clipping), -3)
	}
}

// centre is the middle of the part of a zone inside the box.
func (z Zone) centre(b plane.Box) geo.XY {
	var biggest plane.Box
	for _, pg := range z.Shape {
		if in := b.ClipPolygon(pg); len(in) > 0 {
			if x := in.Bound(); x.Size().X*x.Size().Y > biggest.Size().X*biggest.Size().Y {
				biggest = x
			}
		}
	}
	if biggest == (plane.Box{}) {
		return b.Max.Add(geo.XY{X: 1, Y: 1}) // outside
	}
	return biggest.Center()
}

// halo writes small letters on a pale ground.
func (k *canvas) halo(s string, p vg.Point) {
	f := letters{size: 9, align: 0.5}
	face := k.face(f)
	w := face.Width(s)/2 + k.unit*2
	p.X = max(k.box.Min.X+w, min(p.X, k.box.Max.X-w)) // whole, beside the frame
	p.Y = max(k.box.Min.Y+k.unit*3, min(p.Y, k.box.Max.Y-k.unit*9))
	k.SetColor(ink.Faded(ink.Paper, 0.75))
	low, high := vg.Point{X: p.X - w, Y: p.Y - k.unit*2}, vg.Point{X: p.X + w, Y: p.Y + k.unit*8}
	k.Fill(rectPath(vg.Rectangle{Min: low, Max: high}))
	k.text(s, p, f)
}
