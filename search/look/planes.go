package look

import (
	"image"
	"math"
)

// planes are a picture in Oklab (Ottosson 2020, "A perceptual color space for
// image processing"): lightness 0 to 1, and the green-red and blue-yellow axes,
// about -0.3 to 0.3. A step of a given length looks about as large anywhere in
// it, so that a background's spread in it has one meaning.
type planes struct {
	w, h int
	lab  []float32 // three a pixel
}

var linearOf = func() (t [256]float32) {
	for i := range t {
		v := float64(i) / 255
		if v <= 0.04045 {
			v /= 12.92
		} else {
			v = math.Pow((v+0.055)/1.055, 2.4)
		}
		t[i] = float32(v)
	}
	return t
}()

const rootSteps = 1 << 13

// rootOf holds cube roots of 0 to 1.
var rootOf = func() (t [rootSteps + 1]float32) {
	for i := range t {
		t[i] = float32(math.Cbrt((float64(i) + 0.25) / rootSteps))
	}
	return t
}()

func root(v float32) float32 { return rootOf[int(min(max(v, 0), 1)*rootSteps)] }

// oklab returns the Oklab values of an sRGB colour.
func oklab(r, g, b uint8) (l, a, bb float32) {
	x, y, z := linearOf[r], linearOf[g], linearOf[b]
	p := root(0.4122214708*x + 0.5363325363*y + 0.0514459929*z)
	q := root(0.2119034982*x + 0.6806995451*y + 0.1073969566*z)
	s := root(0.0883024619*x + 0.2817188376*y + 0.6299787005*z)
	l = 0.2104542553*p + 0.7936177850*q - 0.0040720468*s
	a = 1.9779984951*p - 2.4285922050*q + 0.4505937099*s
	bb = 0.0259040371*p + 0.7827717662*q - 0.8086757660*s
	return l, a, bb
}

// halve reads a picture at half its size, which is the size at which most
// cameras keep its colours; an odd last row or column is left out.
func halve(m image.Image) *planes {
	b := m.Bounds()
	p := &planes{w: b.Dx() / 2, h: b.Dy() / 2}
	p.lab = make([]float32, 3*p.w*p.h)
	if y, ok := m.(*image.YCbCr); ok {
		p.fromYCbCr(y)
		return p
	}
	at := func(x, y int) (r, g, bl uint32) { r, g, bl, _ = m.At(x, y).RGBA(); return }
	for y := range p.h {
		for x := range p.w {
			var r, g, bl uint32
			for k := range 4 {
				i, j, l := at(b.Min.X+2*x+k&1, b.Min.Y+2*y+k>>1)
				r, g, bl = r+i, g+j, bl+l
			}
			o := p.lab[3*(y*p.w+x):]
			o[0], o[1], o[2] = oklab(uint8(r>>10), uint8(g>>10), uint8(bl>>10))
		}
	}
	return p
}

// fromYCbCr is halve for a JPEG as it was decoded.
func (p *planes) fromYCbCr(m *image.YCbCr) {
	b := m.Rect
	for y := range p.h {
		for x := range p.w {
			u, v := b.Min.X+2*x, b.Min.Y+2*y
			i, j := m.YOffset(u, v), m.YOffset(u, v+1)
			luma := int32(m.Y[i]) + int32(m.Y[i+1]) + int32(m.Y[j]) + int32(m.Y[j+1])
			c, d := m.COffset(u, v), m.COffset(u+1, v+1)
			cb := int32(m.Cb[c]) + int32(m.Cb[d]) - 256
			cr := int32(m.Cr[c]) + int32(m.Cr[d]) - 256
			o := p.lab[3*(y*p.w+x):]
			o[0], o[1], o[2] = oklab(rgb(luma, cb, cr))
		}
	}
}

// rgb turns four times the luma and twice the chroma into a colour (JFIF).
func rgb(luma, cb, cr int32) (r, g, b uint8) {
	y := luma << 14 // 16 bits after the point
	clamp := func(v int32) uint8 { return uint8(min(max((v+1<<15)>>16, 0), 255)) }
	return clamp(y + 45941*cr), clamp(y - 11277*cb - 23401*cr), clamp(y + 58065*cb)
}

// shrink returns the planes at half their size.
func (p *planes) shrink() *planes {
	o := &planes{w: p.w / 2, h: p.h / 2}
	o.lab = make([]float32, 3*o.w*o.h)
	for y := range o.h {
		top, low := p.lab[3*2*y*p.w:], p.lab[3*(2*y+1)*p.w:]
		out := o.lab[3*y*o.w:][:3*o.w]
		for x := range o.w {
			s, t := top[6*x:][:6], low[6*x:][:6]
			for k := range 3 {
				out[3*x+k] = (s[k] + s[k+3] + t[k] + t[k+3]) / 4
			}
		}
	}
	return o
}
