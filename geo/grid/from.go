package grid

import (
	"fmt"
	"math"

	"windfall/geo"
)

// Options sets how a map is made. The zero value lets the points decide.
type Options struct {
	Cell     float64 // m, side of a cell; 0: fine enough for the kernel
	Smooth   float64 // m, standard deviation of one round kernel for all points; 0: the rule of From
	MaxCells int     // most cells; 0: 1 << 20. When it does not do, cells grow
}

const (
	defaultMaxCells = 1 << 20
	minKernel       = 0.5  // m; finer detail is beyond what a position on open ground is worth
	maxTrim         = 1e-3 // most mass left outside the grid so that the rest is seen finely
	reach           = 4.0  // standard deviations of its kernel between a point and the edge
)

// From maps points pts of a frame, with weights w (nil: equal; else finite,
// not negative, their sum above zero).
//
// Every point is spread with a normal kernel. The kernel's shape is the
// covariance S of the cloud's dense part, its size follows the normal
// reference rule, S n^(-1/3) in two dimensions (Silverman 1986, Density
// Estimation, eq. 4.14), n the effective sample size. It then grows from point
// to point as a pilot density falls, after Abramson (1982, Annals of Statistics
// 10) with a smaller exponent, so that thin tails are not broken into specks.
// Each kernel is twiced, 2 K(h) - K(2h), which takes away the widening that
// smoothing brings (Stuetzle and Mittal 1979, Some comments on the asymptotic
// behavior of robust smoothers). Points at the same place count as one with
// their weights added.
//
// The map's mass is exact: cells and Outside sum to 1. When the far tail would
// force cells coarser than the kernel, up to a thousandth of the mass is left
// to Outside.
func From(frame geo.Frame, pts []geo.XY, w []float64, o Options) (*Map, error) {
	if !(o.Cell >= 0) || !(o.Smooth >= 0) || o.MaxCells < 0 || math.IsInf(o.Cell+o.Smooth, 0) {
		return nil, fmt.Errorf("grid options %+v: cell, smooth and max cells must be zero or more", o)
	}
	c, err := merge(pts, w)
	if err != nil {
		return nil, err
	}
	if o.MaxCells == 0 {
		o.MaxCells = defaultMaxCells
	}
	h, size := round(o.Smooth*o.Smooth), []float64(nil)
	if o.Smooth == 0 {
		h = c.kernel()
		h, size = c.sizes(h)
	}
	b := c.layout(h, size, o)
	p, inside, least := c.spread(b, h, size, o.Smooth == 0)
	m := &Map{
		Frame: frame, West: b.west, South: b.south, Cell: b.cell, NX: b.nx, NY: b.ny,
		P: p, Smooth: c.typical(h, size, least),
	}
	if left := 1 - inside; left > 1e-12 { // less is rounding
		m.Outside = left
	}
	var sum float64
	for _, v := range p {
		sum += v
	}
	for i := range p {
		p[i] *= (1 - m.Outside) / sum
	}
	return m, nil
}

// cloud is merged points with weights that sum to 1.
type cloud struct {
	x, y, w []float64
	n       float64 // effective sample size
}

// merge checks the points and adds up those at the same place.
func merge(pts []geo.XY, w []float64) (*cloud, error) {
	v1, _, err := check(pts, w)
	if err != nil {
		return nil, err
	}
	c := &cloud{x: make([]float64, 0, len(pts)), y: make([]float64, 0, len(pts)), w: make([]float64, 0, len(pts))}
	seen := make(map[geo.XY]int, len(pts))
	for i, p := range pts {
		wi := 1 / v1
		if w != nil {
			wi = w[i] / v1
		}
		if wi == 0 {
			continue
		}
		if k, ok := seen[p]; ok {
			c.w[k] += wi
			continue
		}
		seen[p] = len(c.w)
		c.x, c.y, c.w = append(c.x, p.X), append(c.y, p.Y), append(c.w, wi)
	}
	var v2 float64
	for _, wi := range c.w {
		v2 += wi * wi
	}
	c.n = 1 / v2
	return c, nil
}

// bounds returns the least rectangle that holds all points but at most the
// share trim of the mass, to a thousandth of the whole width.
func (c *cloud) bounds(trim float64) (x0, x1, y0, y1 float64) {
	x0, x1 = trimmed(c.x, c.w, trim/4)
	y0, y1 = trimmed(c.y, c.w, trim/4)
	return
}

// trimmed returns an interval of v with at most mass cut below and above it.
func trimmed(v, w []float64, cut float64) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, x := range v {
		lo, hi = math.Min(lo, x), math.Max(hi, x)
	}
	for pass := 0; pass < 2 && hi > lo && cut > 0; pass++ {
		const n = 1024
		var h [n]float64
		step := (hi - lo) / n
		below, above := 0.0, 0.0
		for i, x := range v {
			switch k := int((x - lo) / step); {
			case x < lo:
				below += w[i]
			case x > hi:
				above += w[i]
			default:
				h[min(k, n-1)] += w[i]
			}
		}
		a, b := 0, n
		for a < n && below+h[a] <= cut {
			below += h[a]
			a++
		}
		for b > a+1 && above+h[b-1] <= cut {
			above += h[b-1]
			b--
		}
		lo, hi = lo+float64(a)*step, hi-float64(n-b)*step
	}
	return lo, hi
}

// layout chooses the grid for points spread with kernels h, scaled by size.
func (c *cloud) layout(h Cov, size []float64, o Options) box {
	l1, l2, _ := h.Eigen()
	cell := o.Cell
	if cell == 0 {
		cell = math.Sqrt(l2) * finest(size) / 1.5
	}
	most := reach * math.Sqrt(l1)
	var b box
	for _, trim := range []float64{1e-6, maxTrim / 10, maxTrim} {
		b = c.around(trim, most, size, cell)
		if b.nx*b.ny <= o.MaxCells {
			return b
		}
	}
	if o.Cell != 0 && b.nx*b.ny <= 1<<24 {
		return b
	}
	for b.nx*b.ny > o.MaxCells {
		cell *= 1.02 * math.Sqrt(float64(b.nx*b.ny)/float64(o.MaxCells))
		b = c.around(maxTrim, most, size, cell)
	}
	return b
}

// around returns a box of cells about the points within the trimmed bounds,
// each with its kernel's reach around it.
func (c *cloud) around(trim, most float64, size []float64, cell float64) box {
	x0, x1, y0, y1 := c.bounds(trim)
	a0, a1, b0, b1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for i, x := range c.x {
		y, r := c.y[i], most
		if x < x0 || x > x1 || y < y0 || y > y1 {
			continue
		}
		if size != nil {
			r *= size[i]
		}
		a0, a1 = math.Min(a0, x-r), math.Max(a1, x+r)
		b0, b1 = math.Min(b0, y-r), math.Max(b1, y+r)
	}
	if a0 > a1 { // cannot be: the trimmed bounds hold nearly all mass
		a0, a1, b0, b1 = x0-most, x1+most, y0-most, y1+most
	}
	nx, ny := cells(a1-a0, cell), cells(b1-b0, cell)
	return box{
		west: (a0+a1)/2 - float64(nx)*cell/2, south: (b0+b1)/2 - float64(ny)*cell/2,
		cell: cell, nx: nx, ny: ny,
	}
}

// cells returns how many cells a length takes, a number the transform likes;
// absurd numbers are cut so that a later growth of the cell can mend them.
func cells(length, cell float64) int {
	return smooth5(int(math.Min(length/cell, 1<<20)) + 3)
}

// typical returns the mass-weighted mean standard deviation of the kernels.
func (c *cloud) typical(h Cov, size []float64, least Cov) float64 {
	sd := h.floor(least.XX, 1e4).SD()
	if size == nil {
		return sd
	}
	var sum float64
	for i, s := range size {
		sum += c.w[i] * s
	}
	return sd * sum
}
