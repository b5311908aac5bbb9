package evidence

import (
	"cmp"
	"math"
	"slices"

	"windfall/geo"
	"windfall/geo/grid"
)

// sortStands puts sets in order, the smallest area first.
func sortStands(s []Stand) {
	slices.SortStableFunc(s, func(a, b Stand) int {
		return cmp.Or(cmp.Compare(a.Area, b.Area), slices.Compare(a.Places, b.Places))
	})
}

// raster measures highest-density areas of reweighted points quickly: the
// points keep their cell, the weights are blurred and the densest cells counted.
type raster struct {
	cell   float64 // m
	nx, ny int
	of     []int32 // cell of each point; -1: outside
	pts    []geo.XY
}

// newRaster lays cells over the points so that the area given has some 1600.
func newRaster(pts []geo.XY, area float64) raster {
	xs, ys := make([]float64, len(pts)), make([]float64, len(pts))
	for i, p := range pts {
		xs[i], ys[i] = p.X, p.Y
	}
	slices.Sort(xs)
	slices.Sort(ys)
	k := len(pts) / 500
	x0, x1, y0, y1 := xs[k], xs[len(xs)-1-k], ys[k], ys[len(ys)-1-k]
	b := raster{cell: math.Max(1, math.Sqrt(area)/40), pts: pts}
	const border = 8
	b.nx = min(400, int((x1-x0)/b.cell)+2*border+1)
	b.ny = min(400, int((y1-y0)/b.cell)+2*border+1)
	b.of = make([]int32, len(pts))
	for i, p := range pts {
		c, r := int(math.Floor((p.X-x0)/b.cell))+border, int(math.Floor((p.Y-y0)/b.cell))+border
		b.of[i] = -1
		if c >= 0 && r >= 0 && c < b.nx && r < b.ny {
			b.of[i] = int32(r*b.nx + c)
		}
	}
	return b
}

func (b *raster) scratch() [2][]float64 {
	return [2][]float64{make([]float64, b.nx*b.ny), make([]float64, b.nx*b.ny)}
}

// area returns the smallest area in m2 that holds 90 % of the weight. The blur
// is a normal whose width is the reference rule's for the effective number of
// points (Silverman 1986, section 4.3), at most three cells; the widening it
// brings to a normal cloud is taken off again.
func (b *raster) area(w []float64, scratch [2][]float64) float64 {
	p, q := scratch[0], scratch[1]
	for i := range p {
		p[i] = 0
	}
	s := grid.Sums{About: b.pts[0]}
	top := slices.Max(w)
	for i, v := range w {
		if v < 1e-12*top {
			continue
		}
		s.Add(b.pts[i], v)
		if c := b.of[i]; c >= 0 {
			p[c] += v
		}
	}
	if s.W == 0 {
		return math.NaN()
	}
	sd := s.Cov().SD()
	h := math.Min(sd*math.Pow(s.W*s.W/s.W2, -1.0/6), 3*b.cell)
	blurRows(p, q, b.nx, b.ny, h/b.cell)
	dense := p[:0]
	for _, v := range q {
		if v > 1e-6*s.W {
			dense = append(dense, v)
		}
	}
	slices.Sort(dense)
	slices.Reverse(dense)
	left, n := 0.9*s.W, 0.0
	for _, v := range dense {
		if v >= left {
			n += left / math.Max(v, 1e-300)
			break
		}
		left -= v
		n++
	}
	wide := h*h + b.cell*b.cell/12
	return n * b.cell * b.cell * sd * sd / (sd*sd + wide)
}

// blurRows spreads p into q with a normal of sd cells in both directions.
func blurRows(p, q []float64, nx, ny int, sd float64) {
	reach := int(math.Ceil(3 * sd))
	k := make([]float64, reach+1)
	total := 0.0
	for i := range k {
		k[i] = 1
		if sd > 0 {
			k[i] = math.Exp(-0.5 * float64(i*i) / (sd * sd))
		}
		total += k[i]
		if i > 0 {
			total += k[i]
		}
	}
	for i := range k {
		k[i] /= total
	}
	across, up := lines{nx, 1, ny, nx}, lines{ny, nx, nx, 1}
	across.blur(p, q, k)
	up.blur(q, p, k)
	copy(q, p)
}

// lines are how a raster is walked: so many lines of n cells, their cells step
// apart and the lines stride.
type lines struct{ n, step, lines, stride int }

// blur spreads from into to along the lines by the weights k of the cells 0, 1,
// 2 and so on away.
func (w lines) blur(from, to, k []float64) {
	clear(to)
	reach := len(k) - 1
	for l := range w.lines {
		for i := range w.n {
			v := from[l*w.stride+i*w.step]
			if v == 0 {
				continue
			}
			for d := max(-reach, -i); d <= min(reach, w.n-1-i); d++ {
				to[l*w.stride+(i+d)*w.step] += v * k[max(d, -d)]
			}
		}
	}
}
