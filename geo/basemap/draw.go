package basemap

import (
	"bytes"
	"image"
	"image/color"
	"math"

	"github.com/paulmach/orb"

	"windfall/geo"
	"windfall/geo/plane"
)

// Numbers of the drawing, choices of ours: places are worked out every meshStep
// pixels and lie on straight lines between, which is right to a thousandth of a
// pixel for ground of a few kilometres; a pixel is the mean of up to mostSamples
// squared places; a picture is made of at most mostTiles tiles.
const (
	meshStep    = 16
	mostSide    = 1024 // pixels of a tile
	mostSamples = 4
	mostTiles   = 400
	usualTile   = 256 // pixels
)

// earthAround is the length of the equator in Web Mercator, m (EPSG:3857: the
// WGS 84 semi-major axis of 6 378 137 m times two pi).
const earthAround = 2 * math.Pi * 6378137

// mercator returns where p lies in the square of Web Mercator: 0 to 1 from the
// west and from the north.
func mercator(p orb.Point) (u, v float64) {
	s := math.Sin(p.Lat() * math.Pi / 180)
	return p.Lon()/360 + 0.5, 0.5 - math.Atanh(s)/(2*math.Pi)
}

// Draw draws the ground of box b in frame f, width by height pixels, north up.
// Where the map has nothing, or nothing that can be read, it is transparent.
func (m *Map) Draw(f geo.Frame, b plane.Box, width, height int) *image.NRGBA {
	out := image.NewNRGBA(image.Rect(0, 0, width, height))
	if width <= 0 || height <= 0 {
		return out
	}
	from := m.source(f, b, width)
	if from == nil {
		return out
	}
	// Nodes of the mesh lie at the pixels' corners.
	cols, rows := (width+meshStep-1)/meshStep+1, (height+meshStep-1)/meshStep+1
	nodes := make([][2]float64, cols*rows)
	size := b.Size()
	for j := range rows {
		for i := range cols {
			x, y := float64(i*meshStep)/float64(width), float64(j*meshStep)/float64(height)
			nodes[j*cols+i][0], nodes[j*cols+i][1] =
				from.at(f.ToLonLat(geo.XY{X: b.Min.X + x*size.X, Y: b.Max.Y - y*size.Y}))
		}
	}
	n := min(max(int(math.Ceil((nodes[1][0]-nodes[0][0])/meshStep)), 2), mostSamples)
	for py := range height {
		for px := range width {
			var sum mean
			for s := range n * n {
				x := (float64(px) + (float64(s%n)+0.5)/float64(n)) / meshStep
				y := (float64(py) + (float64(s/n)+0.5)/float64(n)) / meshStep
				i, j := int(x), int(y)
				u, v := between(nodes, j*cols+i, cols, x-float64(i), y-float64(j))
				sum.add(from.pixel(int(math.Floor(u)), int(math.Floor(v))))
			}
			out.SetNRGBA(px, py, sum.colour())
		}
	}
	return out
}

// between is the place at x, y of a square of the mesh.
func between(nodes [][2]float64, at, cols int, x, y float64) (u, v float64) {
	a, b, c, d := nodes[at], nodes[at+1], nodes[at+cols], nodes[at+cols+1]
	mix := func(k int) float64 {
		return (a[k]*(1-x)+b[k]*x)*(1-y) + (c[k]*(1-x)+d[k]*x)*y
	}
	return mix(0), mix(1)
}

// mean is the mean of colours; what is transparent counts for its share.
type mean struct{ r, g, b, a, n float64 }

func (m *mean) add(c color.Color) {
	m.n++
	if c == nil {
		return
	}
	r, g, b, a := c.RGBA() // alpha-premultiplied
	m.r, m.g, m.b, m.a = m.r+float64(r), m.g+float64(g), m.b+float64(b), m.a+float64(a)
}

func (m *mean) colour() color.NRGBA {
	if m.a == 0 {
		return color.NRGBA{}
	}
	of := func(v float64) uint8 { return uint8(math.Round(255 * min(v/m.a, 1))) }
	return color.NRGBA{of(m.r), of(m.g), of(m.b), uint8(math.Round(255 * m.a / (m.n * 0xffff)))}
}

// source is the pixels that a drawing is made of.
type source interface {
	at(p orb.Point) (u, v float64) // in its pixels, from the north-west
	pixel(u, v int) color.Color    // nil: none
}

// source chooses what to draw from: the picture, or the tiles of the zoom whose
// pixels are no larger than the drawing's, else the nearest that are there.
func (m *Map) source(f geo.Frame, b plane.Box, width int) source {
	if p := m.picture; p != nil {
		if p.load() != nil {
			return nil
		}
		return p
	}
	low, high := max(m.MinZoom, 0), min(m.MaxZoom, mostZoom)
	metre := earthAround * math.Cos(f.Origin.Lat()*math.Pi/180) // round the world at this latitude
	pixel := b.Size().X / float64(width)
	z := min(max(int(math.Ceil(math.Log2(metre/(usualTile*pixel)))), low), high)
	for _, zoom := range append(steps(z, low, -1), steps(z+1, high, 1)...) {
		across := b.Size().Norm() / (metre / float64(int(1)<<zoom))
		if (across+1)*(across+1) > mostTiles {
			continue
		}
		t := &tiled{m: m, zoom: zoom, side: usualTile, have: map[[2]int]image.Image{}}
		if t.any(f, b) {
			return t
		}
	}
	return nil
}

func steps(from, to, by int) (out []int) {
	for z := from; (to-z)*by >= 0; z += by {
		out = append(out, z)
	}
	return out
}

func (p *picture) at(q orb.Point) (u, v float64) {
	return (q.Lon() - p.west) / (p.east - p.west) * float64(p.width),
		(p.north - q.Lat()) / (p.north - p.south) * float64(p.height)
}

func (p *picture) pixel(u, v int) color.Color {
	if u < 0 || v < 0 || u >= p.width || v >= p.height {
		return nil
	}
	b := p.img.Bounds()
	return p.img.At(b.Min.X+u, b.Min.Y+v)
}

// tiled is the tiles of one zoom, read when they are wanted.
type tiled struct {
	m    *Map
	zoom int
	side int // pixels of a tile
	have map[[2]int]image.Image
	last [2]int
	now  image.Image // of last
}

// any tells whether there is a tile of the box, and learns their size from it.
func (t *tiled) any(f geo.Frame, b plane.Box) bool {
	n := float64(int(1) << t.zoom)
	u0, v0 := mercator(f.ToLonLat(geo.XY{X: b.Min.X, Y: b.Max.Y}))
	u1, v1 := mercator(f.ToLonLat(geo.XY{X: b.Max.X, Y: b.Min.Y}))
	for y := int(v0 * n); y <= int(v1*n); y++ {
		for x := int(u0 * n); x <= int(u1*n); x++ {
			if img := t.image(x, y); img != nil {
				t.side = img.Bounds().Dx()
				return true
			}
		}
	}
	return false
}

// image reads a tile; nil where there is none that can be read.
func (t *tiled) image(x, y int) image.Image {
	at := [2]int{x, y}
	if img, ok := t.have[at]; ok {
		return img
	}
	var img image.Image
	if b, err := t.m.Tile(t.zoom, x, y); err == nil && b != nil {
		img, _ = decode(b)
	}
	t.have[at] = img
	return img
}

func (t *tiled) at(p orb.Point) (u, v float64) {
	u, v = mercator(p)
	n := float64(int(1)<<t.zoom) * float64(t.side)
	return u * n, v * n
}

func (t *tiled) pixel(u, v int) color.Color {
	if u < 0 || v < 0 {
		return nil
	}
	if at := [2]int{u / t.side, v / t.side}; at != t.last || t.now == nil {
		t.last, t.now = at, t.image(at[0], at[1])
	}
	if t.now == nil {
		return nil
	}
	b := t.now.Bounds()
	return t.now.At(b.Min.X+u%t.side*b.Dx()/t.side, b.Min.Y+v%t.side*b.Dy()/t.side)
}

// decode reads a tile's picture, of a size that tiles have.
func decode(b []byte) (image.Image, error) {
	c, _, err := image.DecodeConfig(bytes.NewReader(b))
	if err != nil {
		return nil, err
	}
	if c.Width < 1 || c.Width > mostSide || c.Height < 1 || c.Height > mostSide {
		return nil, image.ErrFormat
	}
	img, _, err := image.Decode(bytes.NewReader(b))
	return img, err
}
