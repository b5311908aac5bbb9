package grid

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"

	"windfall/geo"
)

// box is a rectangle of square cells.
type box struct {
	west, south, cell float64
	nx, ny            int
}

// transform holds the Fourier transforms of one size of box. Spectra are
// half ones, column by column: a[kx*ny+ky], kx from 0 to nx/2.
type transform struct {
	box
	row    *fourier.FFT
	column *fourier.CmplxFFT
	line   []complex128
}

func newTransform(b box) *transform {
	return &transform{
		box: b, row: fourier.NewFFT(b.nx), column: fourier.NewCmplxFFT(b.ny),
		line: make([]complex128, b.nx/2+1),
	}
}

// smooth5 returns the least product of 2, 3 and 5 that is at least n and even.
func smooth5(n int) int {
	best := 2
	for best < n {
		best *= 2
	}
	for f5 := 2; f5 < best; f5 *= 5 {
		for f3 := f5; f3 < best; f3 *= 3 {
			for f2 := f3; f2 < best; f2 *= 2 {
				if f2 >= n {
					best = f2
				}
			}
		}
	}
	return best
}

// bin spreads mass w at (x, y) over the four nearest cell centres, linearly,
// wrapping at the edges; it adds cell^2/6 to the variance along each axis.
func (b box) bin(cells []float64, x, y, w float64) {
	fx, fy := (x-b.west)/b.cell-0.5, (y-b.south)/b.cell-0.5
	x0, y0 := math.Floor(fx), math.Floor(fy)
	fx, fy = fx-x0, fy-y0
	i0, j0 := wrap(int(x0), b.nx), wrap(int(y0), b.ny)
	i1, j1 := wrap(i0+1, b.nx), wrap(j0+1, b.ny)
	cells[j0*b.nx+i0] += w * (1 - fx) * (1 - fy)
	cells[j0*b.nx+i1] += w * fx * (1 - fy)
	cells[j1*b.nx+i0] += w * (1 - fx) * fy
	cells[j1*b.nx+i1] += w * fx * fy
}

func wrap(i, n int) int {
	if i >= n {
		return i - n
	}
	if i < 0 {
		return i + n
	}
	return i
}

func (b box) contains(x, y float64) bool {
	return x >= b.west && y >= b.south && x < b.west+float64(b.nx)*b.cell && y < b.south+float64(b.ny)*b.cell
}

// kernelCut is where a kernel's spectrum exp(-q/2) counts as nothing: 1e-12.
const kernelCut = 2 * 27.6

// rows writes the transforms of the rows of cells into a, for kx < kmax.
func (t *transform) rows(a []complex128, cells []float64, kmax int) {
	for j := 0; j < t.ny; j++ {
		r := cells[j*t.nx : (j+1)*t.nx]
		empty := true
		for _, v := range r {
			if v != 0 {
				empty = false
				break
			}
		}
		if empty {
			for k := 0; k < kmax; k++ {
				a[k*t.ny+j] = 0
			}
			continue
		}
		t.row.Coefficients(t.line, r)
		for k := 0; k < kmax; k++ {
			a[k*t.ny+j] = t.line[k]
		}
	}
}

// waves returns the number of columns kx whose kernel of covariance h is not
// nothing.
func (t *transform) waves(h Cov) int {
	along := h.XX - h.XY*h.XY/h.YY
	k := math.Sqrt(kernelCut/along) * float64(t.nx) * t.cell / (2 * math.Pi)
	if k < float64(t.nx/2) {
		return int(k) + 1
	}
	return t.nx/2 + 1
}

// wave returns the wave number of (kx, ky), rad/m along each axis.
func (t *transform) wave(kx, ky int) geo.XY {
	if ky > t.ny/2 {
		ky -= t.ny
	}
	return geo.XY{X: 2 * math.Pi * float64(kx) / (float64(t.nx) * t.cell),
		Y: 2 * math.Pi * float64(ky) / (float64(t.ny) * t.cell)}
}

// add adds to the spectrum sum that of cells blurred by a normal kernel of
// covariance h, or, twice, by 2 K(h) - K(2h), which leaves the variance as it
// was; work is a spectrum to write over.
func (t *transform) add(sum, work []complex128, cells []float64, h Cov, twice bool) {
	n := t.waves(h)
	t.rows(work, cells, n)
	for kx := 0; kx < n; kx++ {
		c := work[kx*t.ny : (kx+1)*t.ny]
		t.column.Coefficients(c, c)
		for ky := range c {
			q := h.Quad(t.wave(kx, ky))
			if q < kernelCut {
				g := math.Exp(-q / 2)
				if twice {
					g = g * (2 - g)
				}
				sum[kx*t.ny+ky] += complex(g*real(c[ky]), g*imag(c[ky]))
			}
		}
	}
}

// cells turns the spectrum a back into cells; a is overwritten.
func (t *transform) cells(a []complex128) []float64 {
	for kx := 0; kx <= t.nx/2; kx++ {
		c := a[kx*t.ny : (kx+1)*t.ny]
		t.column.Sequence(c, c)
	}
	out := make([]float64, t.nx*t.ny)
	scale := 1 / float64(t.nx*t.ny)
	for j := 0; j < t.ny; j++ {
		for k := range t.line {
			t.line[k] = a[k*t.ny+j]
		}
		r := out[j*t.nx : (j+1)*t.nx]
		t.row.Sequence(r, t.line)
		for i := range r {
			r[i] = math.Max(0, r[i]*scale)
		}
	}
	return out
}
