package look

import "math"

// region is a patch of odd pixels at one scale.
type region struct {
	scale      int     // full-size pixels a pixel
	x, y       float64 // middle, full-size pixels
	n          int
	peak       float64 // rarity, decades
	long, wide float64 // full-size pixels
	turn       float64 // radians, of the long side from the x axis
	col        [3]float64
	cut        bool // it touches the picture's edge
}

// regions returns the patches of connected pixels rarer than the given decades
// that hold one rarer than seed.
func (o *odd) regions(scale int, edge, seed float64) []region {
	lo, hi := o.reaching(edge), o.reaching(seed)
	var out []region
	seen := make([]bool, len(o.d))
	var stack []int
	for start, d := range o.d {
		if d < hi || seen[start] {
			continue
		}
		stack = append(stack[:0], start)
		seen[start] = true
		for k := 0; k < len(stack); k++ {
			x, y := stack[k]%o.w, stack[k]/o.w
			for j := max(y-1, 0); j <= min(y+1, o.h-1); j++ {
				for i := max(x-1, 0); i <= min(x+1, o.w-1); i++ {
					if q := j*o.w + i; !seen[q] && o.d[q] >= lo {
						seen[q] = true
						stack = append(stack, q)
					}
				}
			}
		}
		out = append(out, o.describe(scale, stack))
	}
	return out
}

// describe measures a patch.
func (o *odd) describe(scale int, at []int) region {
	r := region{scale: scale, n: len(at)}
	var sx, sy, w, xx, xy, yy float64
	for _, i := range at {
		d := o.rarity(o.d[i])
		x, y := float64(i%o.w), float64(i/o.w)
		w += d
		sx += d * x
		sy += d * y
		r.peak = math.Max(r.peak, d)
		r.cut = r.cut || x <= 1 || y <= 1 || int(x) >= o.w-2 || int(y) >= o.h-2
	}
	mx, my := sx/w, sy/w
	for _, i := range at {
		d := o.rarity(o.d[i])
		x, y := float64(i%o.w)-mx, float64(i/o.w)-my
		xx += d * x * x
		xy += d * x * y
		yy += d * y * y
		for k := range 3 {
			r.col[k] += d * float64(o.lab[3*i+k]) / w
		}
	}
	xx, xy, yy = xx/w, xy/w, yy/w
	mid, off := (xx+yy)/2, math.Hypot((xx-yy)/2, xy)
	s := float64(scale)
	r.long = s * math.Sqrt(12*(mid+off)+1) // an even bar of length l has variance l^2/12
	r.wide = s * math.Sqrt(12*math.Max(mid-off, 0)+1)
	r.turn = math.Atan2(2*xy, xx-yy) / 2
	r.x, r.y = s*(mx+0.5), s*(my+0.5)
	return r
}
