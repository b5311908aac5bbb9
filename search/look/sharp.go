package look

import "math"

// Blur returns how many pixels the picture's finest detail spans: 1 where it is
// sharp, 2 or 4 where halving it would lose next to nothing. Detail is measured
// by the steps between neighbours: in ground they shrink little from one size
// of pixel to the next finer one, in a blurred picture they halve, because a
// blurred edge spreads evenly over its pixels. Even ground, such as snow, says
// nothing and counts as sharp.
func (c *Picture) Blur() float64 {
	p, blur := c.p, 1.0
	for p.w >= 4*block && p.h >= 4*block {
		next := p.shrink()
		coarse := next.step()
		if coarse < plainStep || p.step() > blurredStep*coarse {
			return blur
		}
		p, blur = next, 2*blur
	}
	return blur
}

const (
	plainStep   = 0.004 // Oklab lightness: a level of 255
	blurredStep = 0.705 // of the step at twice the pixel; a sharp picture has 0.8 and more
)

// step returns the root mean square step of lightness from pixel to pixel.
func (p *planes) step() float64 {
	var sum float64
	n := 0
	for y := 0; y < p.h; y += 2 {
		row := p.lab[3*y*p.w:][:3*p.w]
		for x := 3; x < len(row); x += 3 {
			d := float64(row[x] - row[x-3])
			sum += d * d
			n++
		}
	}
	return math.Sqrt(sum / float64(max(n, 1)))
}
