package detect

import (
	"math"
	"testing"

	"windfall/geo/geotest"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Source: testdata/reference/search_pod.csv, Koopman's laws computed with scipy
// 1.10.1, eight decimals.
func TestPODByCoverage(t *testing.T) {
	for _, r := range geotest.Table(t, "search_pod.csv") {
		c := r.Number("coverage_c")
		require.InDelta(t, r.Number("pod_random_koopman"), Exponential.POD(c), 1e-8, "random search at coverage %g", c)
		require.InDelta(t, r.Number("pod_inverse_cube_parallel"), InverseCube.POD(c), 1e-8, "inverse cube at coverage %g", c)
	}
}

// The area under the lateral range curve is W by its definition: exactly for
// the exponential law (2 x W/2 x (1-1/e) with W counted as coverage 1), and for
// the inverse-cube law by Koopman's integral, less 4 % beyond the range used.
func TestLateralRangeCurve(t *testing.T) {
	const w, h = 20.0, 0.01
	area := func(l Law) (sum float64) {
		for x := h / 2; x < l.Range(w); x += h {
			sum += 2 * h * (1 - l.PassMiss(w, x))
		}
		return sum
	}
	require.InDelta(t, w*(1-1/math.E), area(Exponential), 0.01)
	require.InDelta(t, w*(1-0.04), area(InverseCube), 0.005*w)
	require.Zero(t, InverseCube.PassMiss(w, 0))
	require.Equal(t, 1.0, Exponential.PassMiss(0, 0))
}

// Source: testdata/reference/search_allocation_cells.csv: the distribution of
// effort over five areas, solved with a multiplier and with SLSQP.
func TestBoundOverFiveAreas(t *testing.T) {
	total := map[float64]float64{}
	for _, r := range geotest.Table(t, "search_allocation_cells.csv") {
		total[r.Number("total_effort_m2_swept")] = r.Number("total_pos")
	}
	// The areas in cells of 1000 m2.
	var chance []float64
	for _, a := range []struct{ p, area float64 }{{0.4, 40000}, {0.25, 50000}, {0.15, 30000}, {0.1, 80000}, {0.1, 20000}} {
		n := int(a.area / 1000)
		for range n {
			chance = append(chance, a.p/float64(n))
		}
	}
	require.Len(t, total, 5)
	for effort, want := range total {
		got := Bound(Exponential, chance, 1000, nil, []Effort{{Length: effort / 10, Width: []float64{10}}})
		require.InDelta(t, want, got, 1e-6, "effort %g m2", effort)
		// two groups with the same widths, and widths in proportion, come to the same
		got = Bound(Exponential, chance, 1000, nil, []Effort{{effort / 20, []float64{10}}, {effort / 40, []float64{20}}})
		require.InDelta(t, want, got, 1e-6)
	}
}

// Source: testdata/reference/search_optimal_circular_normal.csv: Koopman's closed
// form for a circular normal, POS = 1 - (1+rho) exp(-rho); a gridded map comes
// within 1e-3.
func TestBoundOverACircularNormal(t *testing.T) {
	for _, r := range geotest.Table(t, "search_optimal_circular_normal.csv") {
		s, effort, want := r.Number("sigma_m"), r.Number("effort_phi_m2_swept"), r.Number("pos_closed_form")
		cell := s / 25
		var chance []float64
		for y := -6*s + cell/2; y < 6*s; y += cell {
			for x := -6*s + cell/2; x < 6*s; x += cell {
				chance = append(chance, math.Exp(-(x*x+y*y)/(2*s*s))/(2*math.Pi*s*s)*cell*cell)
			}
		}
		require.InDelta(t, want, Bound(Exponential, chance, cell*cell, nil, []Effort{{effort, []float64{1}}}), 1e-3)
	}
}

// No spread of two unlike efforts over a few cells beats the bound, and a fine
// search over spreads comes close to it.
func TestBoundOfUnlikeGroups(t *testing.T) {
	chance, class := []float64{0.5, 0.3, 0.2}, []int{0, 1, 1}
	es := []Effort{{100, []float64{10, 4}}, {80, []float64{5, 5}}}
	const area = 800.0
	best := 0.0
	const n = 40
	for a := 0; a <= n; a++ {
		for b := 0; a+b <= n; b++ {
			for c := 0; c <= n; c++ {
				for d := 0; c+d <= n; d++ {
					x := []float64{float64(a) / n, float64(b) / n, float64(n-a-b) / n}
					y := []float64{float64(c) / n, float64(d) / n, float64(n-c-d) / n}
					var pos float64
					for i, p := range chance {
						z := (x[i]*100*es[0].Width[class[i]] + y[i]*80*es[1].Width[class[i]]) / area
						pos += p * -math.Expm1(-z)
					}
					best = math.Max(best, pos)
				}
			}
		}
	}
	got := Bound(Exponential, chance, area, class, es)
	require.GreaterOrEqual(t, got, best)
	require.InDelta(t, best, got, 2e-3) // the search's step
}

func TestBoundGrowsWithEffort(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SliceOfN(rapid.Float64Range(0, 1), 1, 30).Draw(t, "p")
		var sum float64
		for _, v := range p {
			sum += v
		}
		for i := range p {
			p[i] /= math.Max(sum, 1e-9)
		}
		l := rapid.Float64Range(0, 1e4).Draw(t, "length")
		a := Bound(Exponential, p, 100, nil, []Effort{{l, []float64{10}}})
		b := Bound(Exponential, p, 100, nil, []Effort{{2*l + 1, []float64{10}}})
		c := Bound(InverseCube, p, 100, nil, []Effort{{l, []float64{10}}})
		if a < -1e-12 || b < a-1e-9 || b > 1+1e-9 || c < a-1e-6 {
			t.Fatalf("bounds %g, %g with twice the effort, %g by the inverse cube", a, b, c)
		}
	})
}

// Source: Koester et al. 2014 by testdata/reference/search_theory.csv.
func TestSweepWidthFactors(t *testing.T) {
	require.Equal(t, 1.645, ColourVisibility("").Factor())
	require.Equal(t, 1.773, ColourVisibility("lime and black").Factor())
	require.Equal(t, 1.556, ColourVisibility("White").Factor())
	require.Equal(t, 1.135, ColourVisibility("olive green").Factor())
	require.Equal(t, 1.645, ColourVisibility("chartreuse").Factor())
	require.InDelta(t, 35.46, Walker(20, High, 0), 1e-9)
	require.Greater(t, Walker(20, High, 60), Walker(20, High, 0))
}

func TestRangeIn(t *testing.T) {
	seen := map[string]float64{"short grass": 40, "crop": 9}
	rd, measured := RangeIn("crop", seen, 1.65, 0.076)
	require.True(t, measured)
	require.Equal(t, 9.0, rd)
	rd, measured = RangeIn("open", seen, 1.65, 0.076)
	require.True(t, measured, "open ground is short grass")
	require.Equal(t, 40.0, rd)
	rd, measured = RangeIn("scrub", seen, 1.65, 0.076)
	require.False(t, measured)
	require.InDelta(t, 8*math.Sqrt(40.0/25*9/7), rd, 1e-9) // scaled as the measured ones are
	small, _ := RangeIn("crop", nil, 0.3, 0.025)
	big, _ := RangeIn("crop", nil, 2.5, 0.1)
	require.Less(t, small, big)
}

func TestDrone(t *testing.T) {
	c := Camera{Height: 30, FieldDeg: 72, Pixels: 3840, Speed: 6}
	require.InDelta(t, 43.59, c.Footprint(), 0.01) // 2 x 30 m x tan 36 deg
	require.InDelta(t, 0.5, Seen(2*cyclesHalf), 1e-12)
	require.Greater(t, Seen(PixelsWanted), 0.94)
	// 11.4 mm a pixel and 12 mm of smear: 76 mm span 4.6 pixels
	require.InDelta(t, 4.6, c.PixelsAcross(0.076), 0.05)
	high := Camera{Height: 120, FieldDeg: 72, Pixels: 1920, Speed: 12}
	require.Less(t, high.Width(1.65, 0.076, 1), 0.35*high.Footprint(), "too high for its pixels")
	require.Less(t, c.Width(1.65, 0.076, 0.15), c.Width(1.65, 0.076, 0.95), "woodland hides")
}

// A range measured on short grass does not make a wood any clearer, and the
// classes that hide are narrower than those that do not; a share of what lies in
// trees and deep plants is seen by nobody. Ours, no source.
func TestCoverThatHides(t *testing.T) {
	far := map[string]float64{"short grass": 50}
	for _, class := range []string{"woodland", "forest", "orchard"} {
		c, known := CoverOf(class)
		require.True(t, known && c.Hides && c.Unseen > 0, class)
		rd, _ := RangeIn(class, far, 2, 0.2)
		require.Equal(t, c.Rd, rd, class)
		near, _ := RangeIn(class, map[string]float64{"short grass": 12.5}, 2, 0.2)
		require.Equal(t, c.Rd/2, near, "what is hard to see is no easier there")
	}
	crop, _ := RangeIn("crop", far, 2, 0.2)
	require.Equal(t, 14.0, crop, "crop scales with what was measured")
	for _, class := range []string{"heather", "bracken", "rushes", "standing crop"} {
		c, known := CoverOf(class)
		require.True(t, known, class)
		require.Less(t, c.Rd, 10.0, class)
		require.Positive(t, c.Unseen, class)
	}
}
