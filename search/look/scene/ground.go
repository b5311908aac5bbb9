package scene

import (
	"image"
	"math"
	"math/rand/v2"
)

// Meadow returns made-up seamless ground of side pixels a side (a power of
// two): grass, drier in patches, with tufts and a grain. It stands in where no
// photographs of ground are at hand.
func Meadow(side int, seed uint64) *image.RGBA {
	rng := rand.New(rand.NewPCG(seed, 0x6d656164))
	light, dry := make([]float64, side*side), make([]float64, side*side)
	for cell, k := side/4, 1.0; cell >= 1; cell, k = cell/2, k*0.8 {
		addNoise(light, side, cell, k, rng)
		if cell >= side/64 {
			addNoise(dry, side, cell, k, rng)
		}
	}
	m := image.NewRGBA(image.Rect(0, 0, side, side))
	for i := range light {
		l := 1 + 0.16*light[i]
		d := math.Min(1, math.Max(0, 0.35+0.25*dry[i]))
		for k, c := range [3][2]float64{{78, 150}, {108, 134}, {48, 84}} { // fresh and dry grass, sRGB
			m.Pix[4*i+k] = uint8(math.Min(255, math.Max(0, l*(c[0]+d*(c[1]-c[0])))))
		}
		m.Pix[4*i+3] = 255
	}
	return m
}

// addNoise adds k times smooth noise with knots every cell pixels, seamless.
func addNoise(to []float64, side, cell int, k float64, rng *rand.Rand) {
	n := side / cell
	knots := make([]float64, n*n)
	for i := range knots {
		knots[i] = 2*rng.Float64() - 1
	}
	ease := make([]float64, cell)
	for i := range ease {
		t := float64(i) / float64(cell)
		ease[i] = t * t * (3 - 2*t)
	}
	for y := range side {
		j, v := y/cell, ease[y%cell]
		for x := range side {
			i, u := x/cell, ease[x%cell]
			at := func(i, j int) float64 { return knots[(j%n)*n+i%n] }
			top := at(i, j) + u*(at(i+1, j)-at(i, j))
			low := at(i, j+1) + u*(at(i+1, j+1)-at(i, j+1))
			to[y*side+x] += k * (top + v*(low-top))
		}
	}
}
