package detect

import "math"

// Camera is what decides a drone's sweep width.
type Camera struct {
	Height   float64 // m above ground
	FieldDeg float64 // degrees across track
	Pixels   int     // across the field of view
	Speed    float64 // m/s
	Exposure float64 // s; 0: 1/500
}

// defaultExposure is a daylight shutter time, common practice, no source.
const defaultExposure = 1.0 / 500

// cyclesHalf is the number of line pairs across the narrow side of an object at
// which half of observers detect it: 1 (Johnson, Analysis of image forming
// systems, 1958, from memory), that is two pixels. Four pixels are what we ask
// for a detection that can be relied on: at twice the cycles the curve below
// stands at 0.95.
const cyclesHalf = 1.0

// PixelsWanted is the number of pixels across the narrow side of the object at
// which a detection can be relied on.
const PixelsWanted = 4.0

// Footprint returns the width (m) of the ground strip the camera sees.
func (c Camera) Footprint() float64 {
	return 2 * c.Height * math.Tan(c.FieldDeg/2*math.Pi/180)
}

// PixelsAcross returns how many pixels a length (m) on the ground spans, the
// smear of the flight during the exposure counted in: the pixel and the smear
// add in quadrature.
func (c Camera) PixelsAcross(length float64) float64 {
	exp := c.Exposure
	if exp <= 0 {
		exp = defaultExposure
	}
	pixel := c.Footprint() / float64(c.Pixels)
	return length / math.Hypot(pixel, c.Speed*exp)
}

// Seen returns the probability that an object whose narrow side spans the given
// pixels is detected in a picture: (N/N50)^E/(1+(N/N50)^E), E = 2.7+0.7 N/N50, N
// the line pairs across it (half the pixels): the target transfer probability
// function (Night Vision Laboratory static performance model, Ratches et al.
// 1975, from memory).
func Seen(pixels float64) float64 {
	if pixels <= 0 {
		return 0
	}
	r := pixels / 2 / cyclesHalf
	p := math.Pow(r, 2.7+0.7*r)
	if math.IsInf(p, 1) {
		return 1
	}
	return p / (1 + p)
}

// Width returns the drone's sweep width (m) for an object of the given length
// and width (m) under plants that leave the share above of it visible: the
// footprint times the probability that the object is seen in it.
func (c Camera) Width(length, width, above float64) float64 {
	narrow := math.Min(length, width)
	return c.Footprint() * Seen(c.PixelsAcross(narrow)) * above
}
