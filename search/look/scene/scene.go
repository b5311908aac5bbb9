// Package scene draws things that lie on the ground into pictures of ground, as
// a camera would have taken them: with its blur, noise, exposure and JPEG
// compression. Tests and the measurement of what the detector finds use it; the
// program does not.
package scene

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"sync"
)

// Picture is ground in linear light, three values a pixel, 0 to 1.
type Picture struct {
	W, H int
	Pix  []float32
}

// Shape is what a thing looks like from above.
type Shape string

// The shapes.
const (
	Rocket   Shape = "rocket"
	Streamer Shape = "streamer"
	Canopy   Shape = "canopy"
)

// Shapes lists them all.
var Shapes = []Shape{Rocket, Streamer, Canopy}

// lengths over widths: 1.65 m by 76 mm, 3 m by 0.18 m crumpled to two thirds,
// and a canopy collapsed to an oval.
var aspect = map[Shape]float64{Rocket: 21.7, Streamer: 11, Canopy: 1.4}

// Paint is a colour in sRGB, 0 to 255, by its name.
type Paint struct {
	Name string
	RGB  [3]float64
}

// Paints are the colours that rockets, streamers and canopies come in, and two
// that hide.
var Paints = []Paint{
	{"white", [3]float64{235, 235, 232}},
	{"red", [3]float64{200, 30, 35}},
	{"orange", [3]float64{240, 110, 20}},
	{"yellow", [3]float64{240, 210, 30}},
	{"lime", [3]float64{150, 230, 40}},
	{"blue", [3]float64{30, 60, 170}},
	{"pink", [3]float64{240, 60, 150}},
	{"black", [3]float64{22, 22, 24}},
	{"green", [3]float64{45, 90, 40}},
	{"brown", [3]float64{110, 85, 55}},
}

// Thing is one object to draw.
type Thing struct {
	Shape  Shape
	Paint  Paint
	Width  float64 // its narrow side, pixels
	X, Y   float64 // its middle, pixels
	Turn   float64 // radians
	Length float64 // pixels; 0: the shape's usual ratio
}

// Long returns the thing's long side in pixels.
func (t Thing) Long() float64 {
	if t.Length > 0 {
		return t.Length
	}
	return t.Width * aspect[t.Shape]
}

func linear(v float64) float64 {
	v /= 255
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

func gamma(v float64) float64 {
	if v <= 0.0031308 {
		return 255 * 12.92 * math.Max(v, 0)
	}
	return 255 * (1.055*math.Pow(math.Min(v, 1), 1/2.4) - 0.055)
}

var linearOf = func() (t [256]float32) {
	for i := range t {
		t[i] = float32(linear(float64(i)))
	}
	return t
}()

const gammaSteps = 1 << 14

var gammaOf = func() (t [gammaSteps + 1]float32) {
	for i := range t {
		t[i] = float32(gamma(float64(i) / gammaSteps))
	}
	return t
}()

// grains are normal numbers, the same for all pictures.
var grains = sync.OnceValue(func() []float32 {
	rng := rand.New(rand.NewPCG(17, 4))
	out := make([]float32, 1<<16)
	for i := range out {
		out[i] = float32(rng.NormFloat64())
	}
	return out
})

// FromImage reads w by h pixels of a seamless ground picture from an offset,
// wrapping round, each the mean of shrink by shrink of its pixels.
func FromImage(m *image.RGBA, w, h, shrink int, off image.Point) *Picture {
	p := &Picture{W: w, H: h, Pix: make([]float32, 3*w*h)}
	b := m.Bounds()
	n := float32(shrink * shrink)
	for y := range h * shrink {
		v := b.Min.Y + (off.Y+y)%b.Dy()
		row := p.Pix[3*w*(y/shrink):]
		u := off.X % b.Dx()
		for x := range w * shrink {
			i := m.PixOffset(b.Min.X+u, v)
			q, o := m.Pix[i:i+3], row[3*(x/shrink):][:3]
			o[0], o[1], o[2] = o[0]+linearOf[q[0]]/n, o[1]+linearOf[q[1]]/n, o[2]+linearOf[q[2]]/n
			if u++; u == b.Dx() {
				u = 0
			}
		}
	}
	return p
}

// Draw puts the thing on the ground with the shadow of a sun at the left.
func (p *Picture) Draw(t Thing, rng *rand.Rand) {
	ink := inked(t, rng)
	long := t.Long()
	reach := long/2 + 2*t.Width + 3
	sin, cos := math.Sincos(t.Turn)
	const n = 4 // samples a side of a pixel
	for y := max(0, int(t.Y-reach)); y < min(p.H, int(t.Y+reach)+1); y++ {
		for x := max(0, int(t.X-reach)); x < min(p.W, int(t.X+reach)+1); x++ {
			var sum [3]float64
			cover, shade := 0.0, 0.0
			for j := range n {
				for i := range n {
					dx, dy := float64(x)+(float64(i)+0.5)/n-t.X, float64(y)+(float64(j)+0.5)/n-t.Y
					c, ok := ink((dx*cos+dy*sin)/t.Width, (dy*cos-dx*sin)/t.Width)
					if ok {
						cover++
						for k := range 3 {
							sum[k] += c[k]
						}
						continue
					}
					sx, sy := dx-0.35*t.Width, dy-0.35*t.Width
					if _, ok := ink((sx*cos+sy*sin)/t.Width, (sy*cos-sx*sin)/t.Width); ok {
						shade++
					}
				}
			}
			q := p.Pix[3*(y*p.W+x):][:3]
			for k := range q {
				g := float64(q[k])
				ground := g*(n*n-cover-shade) + 0.35*g*shade
				q[k] = float32((sum[k] + ground) / (n * n))
			}
		}
	}
}

// inked returns the thing's colour in linear light at a point in units of its
// width, along and across it.
func inked(t Thing, rng *rand.Rand) func(u, v float64) ([3]float64, bool) {
	var base [3]float64
	for k, c := range t.Paint.RGB {
		base[k] = 0.9 * linear(c)
	}
	long := t.Long() / t.Width
	a, b := rng.Float64()*6, rng.Float64()*6
	lit := func(s float64) [3]float64 { return [3]float64{s * base[0], s * base[1], s * base[2]} }
	switch t.Shape {
	case Rocket:
		return func(u, v float64) ([3]float64, bool) {
			half := 0.5
			if nose := long/2 - u; nose < 3 {
				half *= math.Sqrt(math.Max(0, nose/3))
			}
			if tail := u + long/2; tail < 2.2 && tail > 0.2 {
				half = 0.5 + 0.9*math.Min(1, (2.2-tail)/1.4)*math.Abs(math.Cos(a))
			}
			if math.Abs(u) > long/2 || math.Abs(v) > half {
				return base, false
			}
			return lit(1 - 0.9*v*v - 0.35*v), true // lit from one side
		}
	case Streamer:
		return func(u, v float64) ([3]float64, bool) {
			v += 0.9*math.Sin(u*0.9+a) + 0.5*math.Sin(u*2.1+b)
			if math.Abs(u) > long/2 || math.Abs(v) > 0.5 {
				return base, false
			}
			return lit(0.8 + 0.2*math.Sin(u*3.1+b)), true
		}
	}
	return func(u, v float64) ([3]float64, bool) {
		r, w := math.Hypot(u/long*2, v*2), math.Atan2(v, u)
		if r > 0.85+0.15*math.Sin(3*w+a)+0.08*math.Sin(7*w+b) {
			return base, false
		}
		return lit(0.75 + 0.25*math.Sin(5*w+a)*math.Min(1, r*2)), true
	}
}

// Camera is what a camera does to a picture.
type Camera struct {
	Blur     float64 // standard deviation, pixels
	Noise    float64 // standard deviation at middle grey, of 255
	Exposure float64 // factor
	Quality  int     // of JPEG, 1 to 100
}

// AnyCamera draws one like those of drones and phones.
func AnyCamera(rng *rand.Rand) Camera {
	return Camera{Blur: 0.5 + 0.5*rng.Float64(), Noise: 1 + 3*rng.Float64(),
		Exposure: math.Exp2(0.8 * (rng.Float64() - 0.5)), Quality: 80 + rng.IntN(14)}
}

// Take returns the picture as the camera's JPEG file.
func (p *Picture) Take(c Camera, rng *rand.Rand) ([]byte, error) {
	blurred := p.blur(c.Blur)
	m := image.NewRGBA(image.Rect(0, 0, p.W, p.H))
	start, grain := rng.IntN(1<<16), grains()
	for i := range p.W * p.H {
		for k := range 3 {
			v := gammaOf[int(min(max(blurred[3*i+k]*float32(c.Exposure), 0), 1)*gammaSteps)]
			m.Pix[4*i+k] = uint8(min(255, max(0, v+0.5+float32(c.Noise)*grain[(start+3*i+k)&(1<<16-1)])))
		}
		m.Pix[4*i+3] = 255
	}
	var out bytes.Buffer
	err := jpeg.Encode(&out, m, &jpeg.Options{Quality: c.Quality})
	return out.Bytes(), err
}

// blur returns the pixels convolved with a Gaussian of that deviation.
func (p *Picture) blur(sd float64) []float32 {
	r := int(math.Ceil(3 * sd))
	k := make([]float32, 2*r+1)
	var sum float32
	for i := range k {
		d := float64(i-r) / sd
		k[i] = float32(math.Exp(-d * d / 2))
		sum += k[i]
	}
	pass := func(in []float32, dx, dy int) []float32 {
		out := make([]float32, len(in))
		for y := range p.H {
			for x := range p.W {
				var s [3]float32
				for i, f := range k {
					u := min(max(x+(i-r)*dx, 0), p.W-1)
					v := min(max(y+(i-r)*dy, 0), p.H-1)
					q := in[3*(v*p.W+u):][:3]
					s[0], s[1], s[2] = s[0]+f*q[0], s[1]+f*q[1], s[2]+f*q[2]
				}
				o := out[3*(y*p.W+x):][:3]
				o[0], o[1], o[2] = s[0]/sum, s[1]/sum, s[2]/sum
			}
		}
		return out
	}
	return pass(pass(p.Pix, 1, 0), 0, 1)
}
