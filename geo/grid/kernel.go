package grid

import (
	"math"

	"windfall/geo"
)

const (
	pilotCells = 1 << 17 // cells of the grid on which the cloud's scale is measured
	levels     = 9       // kernel sizes, a factor of sqrt(2) apart
	smallest   = 0.5     // the first of them

	// adapt is the exponent by which kernels widen as the density falls.
	// Abramson's is 1/2, best for smooth tails; outcomes make small sharp heaps
	// in them, which it melts. Tried on clouds of flights with five outcomes
	// against 600 000 runs, 0.15 keeps the 50 to 95 % areas within 2 % at 20 000
	// runs and within 4 % at 5 000 (docs/map.md).
	adapt = 0.15
)

// covariance returns the covariance of the whole cloud.
func (c *cloud) covariance() Cov {
	s := Sums{About: geo.XY{X: c.x[0], Y: c.y[0]}}
	for i, w := range c.w {
		s.Add(geo.XY{X: c.x[i], Y: c.y[i]}, w)
	}
	return s.Cov()
}

// kernel returns the covariance of the reference kernel, S n^(-1/3).
//
// S is the covariance of the cloud's dense part, measured between near pairs
// of points so that neither a far tail nor a second heap widens it: with pairs
// weighted by a normal of covariance T of their difference, W0 the mean weight
// and W2 minus the mean of the weight's second derivatives, a normal cloud of
// covariance S has W0 inv(W2) = 2 S + T exactly. T follows S until both agree.
// W0 and W2 are sums over the spectrum; a point paired with itself is left out.
func (c *cloud) kernel() Cov {
	lo := minKernel * minKernel
	s := c.covariance().floor(lo, 1e4)
	if c.n < 2 {
		return round(lo)
	}
	var self float64
	for _, w := range c.w {
		self += w * w
	}
	for grids := 0; grids < 4; grids++ {
		l1, _, _ := s.Eigen()
		b := c.layout(s.Times(0.25), nil, Options{MaxCells: pilotCells}) // cells of a third of the deviation
		power, t := c.power(b)
		before := s
		for step := 0; step < 12; step++ {
			pair := s.floor(b.cell*b.cell, 1e4)
			w0, w2 := t.moments(power, pair, self)
			if !(w0 > 0) || !w2.positive() {
				break
			}
			next := w2.Inverse().Times(w0).Plus(pair.Times(-1)).Times(0.5)
			if !next.positive() {
				next = s.Times(0.5)
			}
			next = next.floor(math.Max(lo, l1*1e-6), 1e3)
			change := math.Abs(math.Log(next.Det()/s.Det())) + math.Abs(math.Log(next.XX/s.XX))
			s = next
			if change < 0.01 {
				break
			}
		}
		if math.Abs(math.Log(s.Det()/before.Det())) < 1 {
			break
		}
	}
	return s.Times(math.Pow(c.n, -1.0/3)).floor(lo, 1e3)
}

// power returns the squared spectrum of the cloud binned in b.
func (c *cloud) power(b box) ([]float64, *transform) {
	t := newTransform(b)
	grid := make([]float64, b.nx*b.ny)
	for i, w := range c.w {
		if b.contains(c.x[i], c.y[i]) {
			b.bin(grid, c.x[i], c.y[i], w)
		}
	}
	a := make([]complex128, (b.nx/2+1)*b.ny)
	t.rows(a, grid, b.nx/2+1)
	out := make([]float64, len(a))
	for kx := 0; kx <= b.nx/2; kx++ {
		col := a[kx*b.ny : (kx+1)*b.ny]
		t.column.Coefficients(col, col)
		for ky, v := range col {
			out[kx*b.ny+ky] = real(v)*real(v) + imag(v)*imag(v)
		}
	}
	return out, t
}

// moments returns W0 and W2 of kernel for a pair weight of covariance pair.
func (t *transform) moments(power []float64, pair Cov, self float64) (w0 float64, w2 Cov) {
	k := pair.Plus(round(-t.cell * t.cell / 3)) // binning has spread each point of the pair by cell^2/6
	area := float64(t.nx) * float64(t.ny) * t.cell * t.cell
	for kx := 0; kx < t.waves(k); kx++ {
		twice := 2.0
		if kx == 0 || kx == t.nx/2 {
			twice = 1
		}
		for ky := 0; ky < t.ny; ky++ {
			d := t.wave(kx, ky)
			q := k.Quad(d)
			if q >= kernelCut {
				continue
			}
			g := twice * power[kx*t.ny+ky] * math.Exp(-q/2) / area
			w0 += g
			w2 = w2.Plus(Outer(d).Times(g))
		}
	}
	peak := self / (2 * math.Pi * math.Sqrt(pair.Det()))
	return w0 - peak, w2.Plus(pair.Inverse().Times(-peak))
}

// sizes returns each point's kernel as a multiple of the reference h in
// standard deviation: (reference density / density at the point)^adapt. The
// reference is 2/e of the mean density, which for a normal cloud is the
// geometric mean that Abramson's rule asks for, and which a far tail does not
// pull down.
func (c *cloud) sizes(h Cov) (Cov, []float64) {
	b := c.layout(h, nil, Options{MaxCells: defaultMaxCells})
	pilot, _, _ := c.spread(b, h, nil, false)
	density := make([]float64, len(c.w))
	var mean float64
	own := 1 / (2 * math.Pi * math.Sqrt(h.Det()))
	for i, w := range c.w {
		density[i] = w * own
		if b.contains(c.x[i], c.y[i]) {
			density[i] = math.Max(density[i], b.at(pilot, c.x[i], c.y[i])/(b.cell*b.cell))
		}
		mean += w * density[i]
	}
	ref := mean * 2 / math.E
	most := smallest * math.Pow(2, float64(levels-1)/2)
	for i, d := range density {
		density[i] = math.Min(most, math.Max(smallest, math.Pow(ref/d, adapt)))
	}
	return h, density
}

// finest returns the smallest kernel of sizes; 1 for nil.
func finest(size []float64) float64 {
	if size == nil {
		return 1
	}
	least := math.Inf(1)
	for _, s := range size {
		least = math.Min(least, s)
	}
	return least
}

// at returns the value of the cells at (x, y), linear between centres.
func (b box) at(p []float64, x, y float64) float64 {
	fx, fy := (x-b.west)/b.cell-0.5, (y-b.south)/b.cell-0.5
	x0, y0 := math.Floor(fx), math.Floor(fy)
	fx, fy = fx-x0, fy-y0
	get := func(i, j int) float64 {
		if i < 0 || j < 0 || i >= b.nx || j >= b.ny {
			return 0
		}
		return p[j*b.nx+i]
	}
	i, j := int(x0), int(y0)
	return (get(i, j)*(1-fx)+get(i+1, j)*fx)*(1-fy) + (get(i, j+1)*(1-fx)+get(i+1, j+1)*fx)*fy
}

// spread returns the mass in each cell of b with every point inside b spread by
// h scaled by its size (nil: 1), the mass of those points, and the least kernel
// that the cells can show.
func (c *cloud) spread(b box, h Cov, size []float64, twice bool) (cells []float64, inside float64, least Cov) {
	t := newTransform(b)
	least = round(0.5 * b.cell * b.cell)
	sum := make([]complex128, (b.nx/2+1)*b.ny)
	work := make([]complex128, len(sum))
	n, at := 1, []float64(nil) // the level of each point, its fraction the share of the next
	if size != nil {
		n, at = levels, c.levelsOf(size)
	}
	grid := make([]float64, b.nx*b.ny)
	for level := 0; level < n; level++ {
		any := false
		for i, w := range c.w {
			if size != nil {
				d := at[i] - float64(level)
				if d <= -1 || d >= 1 {
					continue
				}
				w *= 1 - math.Abs(d)
			}
			if w == 0 || !b.contains(c.x[i], c.y[i]) {
				continue
			}
			b.bin(grid, c.x[i], c.y[i], w)
			inside += w
			any = true
		}
		if !any {
			continue
		}
		k := h
		if size != nil {
			k = h.Times(smallest * smallest * math.Pow(2, float64(level)))
		}
		t.add(sum, work, grid, k.floor(least.XX, 1e4).Plus(round(-b.cell*b.cell/6)), twice)
		clear(grid)
	}
	return t.cells(sum), inside, least
}

// levelsOf returns where each kernel size stands between the levels, so that
// dividing the point between the two next to it keeps its mean variance.
func (c *cloud) levelsOf(size []float64) []float64 {
	out := make([]float64, len(size))
	for i, s := range size {
		v := s * s / (smallest * smallest) // 2^level at a level
		lo := math.Floor(math.Log2(v) + 1e-12)
		out[i] = math.Max(0, lo+v/math.Exp2(lo)-1)
	}
	return out
}
