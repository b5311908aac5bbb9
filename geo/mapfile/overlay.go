package mapfile

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"

	"windfall/geo"
	"windfall/geo/ink"
)

// Overlay is the chance picture on a grid of longitudes and latitudes, as a
// KML ground overlay wants it: row 0 is the northern edge, pixels are equal
// steps in degrees, and the box is that of the pixels' outer edges.
type Overlay struct {
	Image                    *image.Paletted
	North, South, East, West float64 // degrees; East may run past 180
}

// overlaySide is the greatest width and height of an overlay in pixels.
const overlaySide = 480

// Overlay resamples the chance map. It returns nil without a map, and where a
// box of longitudes makes no sense: within half a degree of a pole.
func (l *Landing) Overlay() *Overlay {
	l = l.ready()
	m := l.Chance
	if m == nil || m.NX == 0 || m.NY == 0 {
		return nil
	}
	o, ok := l.overlayBox()
	if !ok {
		return nil
	}
	w, h := overlaySize(m.NX, m.NY)
	w = o.alignTo180(w)
	o.Image = image.NewPaletted(image.Rect(0, 0, w, h), overlayPalette())
	lv := l.worked.levels
	var rows [2][]geo.XY // frame points at the nodes of two lattice rows
	for y := range h {
		if y%lattice == 0 {
			rows = [2][]geo.XY{o.nodes(l, y, w, h), o.nodes(l, y+lattice, w, h)}
		}
		for x := range w {
			q := between(rows, x, float64(y%lattice)/lattice)
			if i, j, ok := m.At(q); ok {
				o.Image.SetColorIndex(x, y, shade(lv[j*m.NX+i]))
			}
		}
	}
	return o
}

// overlayBox returns the box around the part of the map that has any colour.
func (l *Landing) overlayBox() (*Overlay, bool) {
	m := l.Chance
	o := &Overlay{North: -90, South: 90, East: math.Inf(-1), West: math.Inf(1)}
	lon0 := l.Frame.Origin.Lon()
	const steps = 16
	for k := range 4 * steps {
		t := float64(k%steps) / steps
		q := [4]geo.XY{{X: t}, {X: 1, Y: t}, {X: 1 - t, Y: 1}, {Y: 1 - t}}[k/steps]
		p := m.Frame.ToLonLat(geo.XY{X: m.West + q.X*float64(m.NX)*m.Cell, Y: m.South + q.Y*float64(m.NY)*m.Cell})
		lon := lon0 + math.Remainder(p[0]-lon0, 360)
		o.North, o.South = math.Max(o.North, p[1]), math.Min(o.South, p[1])
		o.East, o.West = math.Max(o.East, lon), math.Min(o.West, lon)
	}
	o.North, o.South, o.East, o.West = round8(o.North), round8(o.South), round8(o.East), round8(o.West)
	return o, math.Max(o.North, -o.South) < 89.5 && o.East-o.West < 180
}

// alignTo180 widens a box that crosses the antimeridian so that the meridian
// is the edge between two of its columns; it returns the new width in pixels.
func (o *Overlay) alignTo180(w int) int {
	cut := 180.0
	if o.West < -180 {
		cut = -180
	}
	if !(o.West < cut && o.East > cut) {
		return w
	}
	step := (o.East - o.West) / float64(w)
	left, right := math.Ceil((cut-o.West)/step), math.Ceil((o.East-cut)/step)
	o.West, o.East = cut-left*step, cut+right*step
	return int(left + right)
}

// overlaySize gives every cell a pixel, or fewer when there are more cells
// than the side allows.
func overlaySize(nx, ny int) (w, h int) {
	k := math.Min(2, float64(overlaySide)/float64(max(nx, ny)))
	return max(1, int(math.Round(k*float64(nx)))), max(1, int(math.Round(k*float64(ny))))
}

// lattice is the spacing in pixels of the points that are converted by the
// geodesic; between them the frame is bilinear to far less than a pixel.
const lattice = 16

// nodes returns the frame points of pixel centres every lattice pixels along
// row y.
func (o *Overlay) nodes(l *Landing, y, w, h int) []geo.XY {
	lat := o.North - (float64(y)+0.5)*(o.North-o.South)/float64(h)
	var out []geo.XY
	for x := 0; x < w+lattice; x += lattice {
		lon := o.West + (float64(x)+0.5)*(o.East-o.West)/float64(w)
		out = append(out, l.Chance.Frame.ToXY([2]float64{lon, math.Max(-90, math.Min(90, lat))}))
	}
	return out
}

func between(rows [2][]geo.XY, x int, ty float64) geo.XY {
	i, tx := x/lattice, float64(x%lattice)/lattice
	top := rows[0][i].Scale(1 - tx).Add(rows[0][i+1].Scale(tx))
	low := rows[1][i].Scale(1 - tx).Add(rows[1][i+1].Scale(tx))
	return top.Scale(1 - ty).Add(low.Scale(ty))
}

// shades is the number of steps of the overlay's palette after transparent 0.
const shades = 100

func overlayPalette() color.Palette {
	p := color.Palette{color.NRGBA{}}
	for i := range shades {
		p = append(p, ink.Ramp((float64(i)+0.5)/shades))
	}
	return p
}

// shade returns the palette index of a level: 0 transparent, 1 the likeliest.
func shade(level float64) uint8 {
	if !(level < 0.995) {
		return 0
	}
	return uint8(1 + min(int(level*shades), shades-1))
}

// PNG returns the picture as PNG.
func (o *Overlay) PNG() ([]byte, error) { return pngBytes(o.Image) }

func pngBytes(img image.Image) ([]byte, error) {
	var b bytes.Buffer
	enc := png.Encoder{CompressionLevel: png.BestSpeed}
	if _, ok := img.(*image.Paletted); ok {
		enc.CompressionLevel = png.DefaultCompression
	}
	err := enc.Encode(&b, img)
	return b.Bytes(), err
}
