package grid

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/peterstace/simplefeatures/geom"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"windfall/geo"
	"windfall/geo/plane"
)

var usual = []float64{0.5, 0.75, 0.9, 0.95}

// normal returns n points of a normal with standard deviations sx, sy along
// axes turned anticlockwise by turn (rad).
func normal(n int, seed uint64, at geo.XY, sx, sy, turn float64) []geo.XY {
	r := rand.New(rand.NewPCG(seed, 1))
	s, c := math.Sincos(turn)
	out := make([]geo.XY, n)
	for i := range out {
		a, b := r.NormFloat64()*sx, r.NormFloat64()*sy
		out[i] = at.Add(geo.XY{X: a*c - b*s, Y: a*s + b*c})
	}
	return out
}

func mapOf(t *testing.T, pts []geo.XY, w []float64) *Map {
	t.Helper()
	m, err := From(geo.Frame{}, pts, w, Options{})
	require.NoError(t, err)
	return m
}

// The highest-density area of a normal is -2 ln(1-p) pi sx sy (closed form).
// Besides the sampling error of the area, 1/sqrt(n) of itself and less, the
// smoothing may add the few per cent that From promises.
func TestAreasOfANormal(t *testing.T) {
	for _, c := range []struct {
		n      int
		ratio  float64
		within float64 // %
	}{{1000, 1, 7}, {5000, 1, 3}, {20000, 1, 2.5}, {20000, 6, 2.5}, {100000, 3, 1.2}} {
		m := mapOf(t, normal(c.n, 7, geo.XY{X: 300, Y: 100}, 60*c.ratio, 60, 0.5), nil)
		for _, a := range m.Contours(usual) {
			truth := -2 * math.Log(1-a.Probability) * math.Pi * 3600 * c.ratio
			assert.InDelta(t, 0, 100*(a.AreaM2/truth-1), c.within, "n %d ratio %g p %g", c.n, c.ratio, a.Probability)
		}
	}
}

// heap is a normal that holds a share of a lumpy cloud.
type heap struct {
	share        float64
	at           geo.XY
	sx, sy, turn float64
}

func (h heap) density(q geo.XY) float64 {
	s, c := math.Sincos(h.turn)
	d := q.Sub(h.at)
	a, b := (d.X*c+d.Y*s)/h.sx, (d.Y*c-d.X*s)/h.sy
	return h.share * math.Exp(-(a*a+b*b)/2) / (2 * math.Pi * h.sx * h.sy)
}

// lumpy is like a cloud with outcomes: a streamer, a wider late opening, a
// ballistic return near the pad and a main that opened high, far downwind.
var lumpy = []heap{
	{0.86, geo.XY{X: 300, Y: 100}, 120, 60, 0.5}, {0.05, geo.XY{X: 250, Y: 120}, 200, 120, 0.5},
	{0.04, geo.XY{X: 150, Y: 20}, 60, 60, 0}, {0.05, geo.XY{X: 900, Y: 500}, 150, 100, 0.5},
}

func draw(n int, hs []heap) []geo.XY {
	var out []geo.XY
	for k, h := range hs {
		out = append(out, normal(int(h.share*float64(n)+0.5), uint64(k+20), h.at, h.sx, h.sy, h.turn)...)
	}
	return out
}

// exact tabulates the density itself in 4 m cells.
func exact(hs []heap) *Map {
	m := &Map{West: -1200, South: -1000, Cell: 4, NX: 750, NY: 600, P: make([]float64, 750*600)}
	for k := range m.P {
		for _, h := range hs {
			m.P[k] += 16 * h.density(m.Centre(k%m.NX, k/m.NX))
		}
	}
	return m
}

func TestAreasOfALumpyCloud(t *testing.T) {
	truth := exact(lumpy).Contours(usual)
	for _, c := range []struct {
		n      int
		within float64 // %
	}{{5000, 5.5}, {20000, 4}} { // 95 %: two standard errors of the share, dA/dp being 12 areas a unit, and 1.5 % of smoothing
		got := mapOf(t, draw(c.n, lumpy), nil).Contours(usual)
		for i := range usual {
			assert.InDelta(t, 0, 100*(got[i].AreaM2/truth[i].AreaM2-1), c.within, "n %d p %g", c.n, usual[i])
		}
		assert.LessOrEqual(t, len(got[3].Shape), 4, "no specks")
	}
}

// Two heaps ten standard deviations apart are each as sharp as one alone.
func TestTwoHeapsAreNotMelted(t *testing.T) {
	two := []heap{{0.5, geo.XY{}, 40, 40, 0}, {0.5, geo.XY{X: 400, Y: 300}, 40, 40, 0}}
	m := mapOf(t, draw(10000, two), nil)
	assert.Less(t, m.Smooth, 20.0)
	for _, a := range m.Contours(usual) {
		truth := 2 * -2 * math.Log(1-a.Probability) * math.Pi * 1600
		assert.InDelta(t, 0, 100*(a.AreaM2/truth-1), 3, "p %g", a.Probability)
	}
}

func TestMassIsExact(t *testing.T) {
	far := append(normal(5000, 3, geo.XY{}, 5, 5, 0), geo.XY{X: 3e5, Y: 2e5}, geo.XY{X: -2e5})
	for name, pts := range map[string][]geo.XY{
		"one": {{X: 3, Y: 4}}, "same": {{X: 3, Y: 4}, {X: 3, Y: 4}}, "two": {{}, {X: 1e3}},
		"line": {{}, {X: 1}, {X: 2}, {X: 3}}, "far": far, "cloud": draw(2000, lumpy),
	} {
		m := mapOf(t, pts, nil)
		sum := m.Outside
		for _, p := range m.P {
			require.GreaterOrEqual(t, p, 0.0)
			sum += p
		}
		assert.InDelta(t, 1, sum, 1e-12, name)
		assert.LessOrEqual(t, m.NX*m.NY, defaultMaxCells, name)
		assert.Len(t, m.P, m.NX*m.NY, name)
		if name == "far" {
			assert.InDelta(t, 2.0/5002, m.Outside, 1e-9, "the two far points are left out, and counted")
			assert.Less(t, m.Cell, 1.0)
		} else {
			assert.Zero(t, m.Outside, name)
		}
	}
}

// A resampled cloud, where points repeat, is that of its weighted points.
func TestRepeatsCountAsWeight(t *testing.T) {
	pts := normal(800, 5, geo.XY{}, 30, 20, 0)
	var repeated []geo.XY
	w := make([]float64, len(pts))
	for i, p := range pts {
		w[i] = float64(i%5 + 1)
		for range i%5 + 1 {
			repeated = append(repeated, p)
		}
	}
	a, b := mapOf(t, pts, w), mapOf(t, repeated, nil)
	require.Equal(t, a.NX*a.NY, b.NX*b.NY)
	assert.InDeltaSlice(t, a.P, b.P, 1e-12)
}

// The mass within a contour, from every cell split in 9, is the claimed one.
func TestContourMass(t *testing.T) {
	m := mapOf(t, draw(1000, lumpy), nil)
	for _, a := range m.Contours(usual) {
		var in float64
		for k, p := range m.P {
			if p < 1e-9 {
				continue
			}
			c := m.Centre(k%m.NX, k/m.NX)
			for v := range 9 {
				q := c.Add(geo.XY{X: m.Cell * (float64(v%3) - 1) / 3, Y: m.Cell * (float64(v/3) - 1) / 3})
				if a.Shape.Contains(q) {
					in += p / 9
				}
			}
		}
		assert.InDelta(t, a.Probability, in, 0.01*a.Probability)
		assert.InDelta(t, a.AreaM2, m.Area(a.Probability), 1e-9)
	}
}

// judged is a shape as simplefeatures has it.
func judged(ps plane.Polygons) geom.Geometry {
	var out []geom.Polygon
	for _, p := range ps {
		var rings []geom.LineString
		for _, r := range p {
			var xy []float64
			for _, q := range r {
				xy = append(xy, q.X, q.Y)
			}
			rings = append(rings, geom.NewLineString(geom.NewSequence(xy, geom.DimXY)))
		}
		out = append(out, geom.NewPolygon(rings))
	}
	return geom.NewMultiPolygon(out).AsGeometry()
}

// Rings are simple, closed, turn the right way and nest, as an independent
// geometry library judges: a ring-shaped cloud gives holes, specks give islands.
func TestContoursAreValid(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	var ring []geo.XY
	for range 3000 {
		ring = append(ring, geo.Polar(300+20*r.NormFloat64(), 360*r.Float64()))
	}
	ring = append(ring, normal(300, 1, geo.XY{}, 20, 20, 0)...)
	for name, pts := range map[string][]geo.XY{
		"ring": ring, "lumpy": draw(1000, lumpy), "few": normal(12, 3, geo.XY{}, 100, 100, 0),
		"noise": normal(40, 3, geo.XY{}, 1e4, 1e4, 0),
	} {
		m := mapOf(t, pts, nil)
		for _, a := range m.Contours([]float64{0.1, 0.5, 0.9, 0.99, 0.9999999}) {
			g := judged(a.Shape)
			require.NoError(t, g.Validate(), name)
			assert.InEpsilon(t, g.Area(), a.AreaM2, 1e-9, name)
			for _, poly := range a.Shape {
				for k, r := range poly {
					assert.Equal(t, r[0], r[len(r)-1])
					assert.Equal(t, k > 0, r.Area() < 0, name)
				}
			}
			if name == "ring" && a.Probability == 0.9 {
				require.Len(t, a.Shape, 2, "the island in the middle")
				assert.Len(t, a.Shape[0], 2, "a hole around the island")
			}
		}
	}
}

// LevelAt of a normal is 1 - exp(-r2/2) (closed form), r in standard deviations.
func TestLevelAt(t *testing.T) {
	m := mapOf(t, normal(50000, 9, geo.XY{}, 50, 50, 0), nil)
	for _, r := range []float64{0.3, 1, 1.5, 2, 2.5} {
		mean := 0.0
		for k := range 24 { // a map of 50000 points is rough by some 5 % of its density
			mean += m.LevelAt(geo.Polar(50*r, float64(k)*15)) / 24
		}
		assert.InDelta(t, 1-math.Exp(-r*r/2), mean, 0.015, "r %g", r)
	}
	assert.Equal(t, 1.0, m.LevelAt(geo.XY{X: 1e6}))
}

func TestBadClouds(t *testing.T) {
	one := []geo.XY{{}}
	for name, f := range map[string]func() error{
		"no points": func() error { _, err := From(geo.Frame{}, nil, nil, Options{}); return err },
		"1 points but 2 weights": func() error {
			_, err := From(geo.Frame{}, one, []float64{1, 2}, Options{})
			return err
		},
		"weight 0 is -1":         func() error { _, err := From(geo.Frame{}, one, []float64{-1}, Options{}); return err },
		"weight 0 is NaN":        func() error { _, err := From(geo.Frame{}, one, []float64{math.NaN()}, Options{}); return err },
		"all 1 weights are zero": func() error { _, err := From(geo.Frame{}, one, []float64{0}, Options{}); return err },
		"point 0 is":             func() error { _, err := From(geo.Frame{}, []geo.XY{{X: math.Inf(1)}}, nil, Options{}); return err },
		"zero or more":           func() error { _, err := From(geo.Frame{}, one, nil, Options{Cell: -1}); return err },
	} {
		assert.ErrorContains(t, f(), name)
	}
}

func BenchmarkFrom(b *testing.B) {
	for _, n := range []int{5000, 20000, 200000, 1000000} {
		pts := draw(n, lumpy)
		b.Run(strconv.Itoa(n), func(b *testing.B) {
			for b.Loop() {
				if _, err := From(geo.Frame{}, pts, nil, Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkContours(b *testing.B) {
	m, err := From(geo.Frame{}, draw(20000, lumpy), nil, Options{})
	require.NoError(b, err)
	for b.Loop() {
		m.Contours(usual)
	}
}

// Whatever the points and weights: mass sums to one, areas grow with their
// probability, levels lie between 0 and 1, and no contour is invalid.
func TestAnyCloud(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 60).Draw(t, "n")
		scale := math.Pow(10, rapid.Float64Range(-3, 5).Draw(t, "scale"))
		pts, w := make([]geo.XY, n), make([]float64, n)
		for i := range pts {
			pts[i] = geo.XY{X: scale * rapid.Float64Range(-1, 1).Draw(t, "x"), Y: scale * rapid.Float64Range(-1, 1).Draw(t, "y")}
			w[i] = rapid.SampledFrom([]float64{0, 1e-9, 1, 1, 3, 1e6}).Draw(t, "w")
		}
		w[0] = 1
		m, err := From(geo.Frame{}, pts, w, Options{MaxCells: 1 << 14})
		require.NoError(t, err)
		sum := m.Outside
		for _, p := range m.P {
			sum += p
		}
		assert.InDelta(t, 1, sum, 1e-9)
		assert.LessOrEqual(t, m.NX*m.NY, 1<<14)
		last := 0.0
		for _, a := range m.Contours(usual) {
			assert.GreaterOrEqual(t, a.AreaM2, last)
			last = a.AreaM2
			require.NoError(t, judged(a.Shape).Validate())
		}
		for _, q := range pts {
			l := m.LevelAt(q)
			assert.True(t, l >= 0 && l <= 1, "%g", l)
		}
	})
}

func ExampleFrom() {
	pts := normal(2000, 1, geo.XY{X: 300, Y: 100}, 80, 40, 0)
	m, err := From(geo.Frame{}, pts, nil, Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("half of it in %.1f ha\n", m.Area(0.5)/1e4)
	// Output: half of it in 1.4 ha
}

func ExampleMoments_Ellipse() {
	m, err := Measure([]geo.XY{{X: 10}, {X: -10}, {Y: 5}, {Y: -5}}, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	e := m.Ellipse(0.5)
	fmt.Printf("%.1f m by %.1f m, toward %.0f degrees\n", e.SemiMajor, e.SemiMinor, e.AzimuthDeg)
	// Output: 9.6 m by 4.8 m, toward 90 degrees
}
