package look

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"windfall/geo"
	"windfall/search/look/scene"
)

// taken is a picture of made-up ground with things on it.
func taken(t testing.TB, w, h int, things ...scene.Thing) image.Image {
	t.Helper()
	rng := rand.New(rand.NewPCG(5, 5))
	p := scene.FromImage(scene.Meadow(256, 3), w, h, 1, image.Pt(17, 40))
	for _, th := range things {
		p.Draw(th, rng)
	}
	b, err := p.Take(scene.Camera{Blur: 0.7, Noise: 2, Exposure: 1, Quality: 88}, rng)
	require.NoError(t, err)
	m, err := jpeg.Decode(bytes.NewReader(b))
	require.NoError(t, err)
	return m
}

func paint(t testing.TB, name string) scene.Paint {
	for _, p := range scene.Paints {
		if p.Name == name {
			return p
		}
	}
	t.Fatalf("no paint %s", name)
	return scene.Paint{}
}

// A rocket five pixels wide lies on grass: it is the first candidate, with its
// place, length, direction and colour.
func TestFind(t *testing.T) {
	for _, name := range []string{"orange", "white", "blue"} {
		th := scene.Thing{Shape: scene.Rocket, Paint: paint(t, name), Width: 5, X: 420, Y: 260, Turn: 0.6}
		cs := Ready(taken(t, 800, 600, th)).Find(Options{Colours: Colours(name)})
		require.NotEmpty(t, cs, name)
		c := cs[0]
		require.InDelta(t, 420, c.X, 6, name)
		require.InDelta(t, 260, c.Y, 6, name)
		require.InDelta(t, 108, c.Long, 20, name)
		require.InDelta(t, 0.6, c.Turn, 0.1, name)
		rgb := th.Paint.RGB
		got := [3]uint8{uint8(rgb[0]), uint8(rgb[1]), uint8(rgb[2])}
		require.Less(t, colourGap(got, c.Colour), 0.2, "%s is told as %v", name, c.Colour)
	}
}

func TestFindOnEmptyGround(t *testing.T) {
	require.LessOrEqual(t, len(Ready(taken(t, 1200, 900)).Find(Options{})), 1)
	require.Empty(t, Ready(image.NewGray(image.Rect(0, 0, 40, 3000))).Find(Options{}), "too narrow to have a background")
	require.Empty(t, Ready(image.NewGray(image.Rect(0, 0, 400, 300))).Find(Options{}), "one colour alone")
}

// With the size of pixels known, what is too large, too small or not on the
// ground is left out.
func TestFindBySize(t *testing.T) {
	m := taken(t, 800, 600, scene.Thing{Shape: scene.Rocket, Paint: paint(t, "red"), Width: 5, X: 420, Y: 260, Turn: 0.6})
	px := func(m float64) func(x, y float64) float64 { return func(float64, float64) float64 { return m } }
	rocket := []Thing{{Long: 1.65, Wide: 0.076}}
	require.NotEmpty(t, Ready(m).Find(Options{Pixel: px(0.0152), Things: rocket}))
	require.Empty(t, Ready(m).Find(Options{Pixel: px(0.3), Things: rocket}), "thirty metres long")
	require.Empty(t, Ready(m).Find(Options{Pixel: px(0.001), Things: rocket}), "ten centimetres long")
	require.Empty(t, Ready(m).Find(Options{Pixel: px(0), Things: rocket}), "the sky")
}

// Colours in Oklab as CSS Color Module Level 4 has them, from memory.
func TestOklab(t *testing.T) {
	for rgb, want := range map[[3]uint8][3]float32{
		{255, 255, 255}: {1, 0, 0},
		{255, 0, 0}:     {0.62796, 0.22486, 0.12585},
		{0, 255, 0}:     {0.86644, -0.23389, 0.17950},
		{0, 0, 255}:     {0.45201, -0.03246, -0.31153},
		{0, 0, 0}:       {0, 0, 0},
	} {
		l, a, b := oklab(rgb[0], rgb[1], rgb[2])
		tol := 1e-3
		if rgb == [3]uint8{} {
			tol = 0.04 // the table of cube roots is coarse at its foot
		}
		require.InDelta(t, want[0], l, tol, "%v", rgb)
		require.InDelta(t, want[1], a, tol, "%v", rgb)
		require.InDelta(t, want[2], b, tol, "%v", rgb)
	}
	rapid.Check(t, func(t *rapid.T) {
		c := [3]uint8{rapid.Uint8Min(20).Draw(t, "r"), rapid.Uint8Min(20).Draw(t, "g"), rapid.Uint8Min(20).Draw(t, "b")}
		l, a, b := oklab(c[0], c[1], c[2])
		back := srgb([3]float64{float64(l), float64(a), float64(b)})
		for k := range c {
			if math.Abs(float64(c[k])-float64(back[k])) > 2 {
				t.Fatalf("%v came back as %v", c, back)
			}
		}
	})
}

// The distance is gonum's Mahalanobis distance with the same mean and spread.
func TestFar2AgainstGonum(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	var m moments
	data := mat.NewDense(200, 3, nil)
	for i := range 200 {
		u, v, w := rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()
		c := []float32{float32(0.5 + 0.1*u), float32(0.05*u + 0.04*v), float32(0.02*u - 0.03*v + 0.05*w)}
		m.add(c)
		data.SetRow(i, []float64{float64(c[0]), float64(c[1]), float64(c[2])})
	}
	g := m.gauss(0)
	var cov mat.SymDense
	stat.CovarianceMatrix(&cov, data, nil)
	cov.ScaleSym(199.0/200, &cov) // gonum divides by n-1
	var chol mat.Cholesky
	require.True(t, chol.Factorize(&cov))
	mean := mat.NewVecDense(3, []float64{float64(g.mean[0]), float64(g.mean[1]), float64(g.mean[2])})
	for range 20 {
		c := []float32{rng.Float32(), rng.Float32() - 0.5, rng.Float32() - 0.5}
		x := mat.NewVecDense(3, []float64{float64(c[0]), float64(c[1]), float64(c[2])})
		want := stat.Mahalanobis(x, mean, &chol)
		require.InEpsilon(t, want, math.Sqrt(float64(g.far2(c))), 2e-3)
	}
}

// In noise of one colour, one pixel in a thousand is as rare as three decades:
// the tail of the chi distribution of three axes.
func TestRarityInNoise(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	p := &planes{w: 800, h: 600, lab: make([]float32, 3*800*600)}
	for i := range p.lab {
		p.lab[i] = float32(0.3 + 0.05*rng.NormFloat64())
	}
	o := oddness(p, 0)
	require.InDelta(t, 3.37, o.q99, 0.1, "chi, three degrees of freedom, one in a hundred")
	require.InDelta(t, 4.03, o.q999, 0.15, "one in a thousand")
	n := 0
	for _, d := range o.d {
		if o.rarity(d) >= 3 {
			n++
		}
	}
	require.InDelta(t, 480, n, 150)
	require.InDelta(t, float64(o.reaching(4.2)), float64(o.reaching(3.2))+math.Max(o.q999-o.q99, leastDecade), 1e-3)
}

// A JPEG as it was decoded and the same pixels as RGB give the same planes.
func TestHalveOfBothForms(t *testing.T) {
	m := taken(t, 200, 150)
	out := image.NewRGBA(m.Bounds())
	for y := range 150 {
		for x := range 200 {
			out.Set(x, y, m.At(x, y))
		}
	}
	a, b := halve(m), halve(out)
	require.Equal(t, [2]int{100, 75}, [2]int{a.w, a.h})
	for i := range a.lab {
		require.InDelta(t, a.lab[i], b.lab[i], 0.02)
	}
	grey := image.NewGray(image.Rect(3, 3, 8, 8))
	grey.SetGray(3, 3, color.Gray{255})
	require.Equal(t, 2, halve(grey).w, "an odd column is left out")
}

func TestBlur(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	ground := scene.Meadow(256, 3)
	for sd, want := range map[float64]float64{0.6: 1, 4.5: 4} {
		p := scene.FromImage(ground, 600, 400, 1, image.Pt(0, 0))
		b, err := p.Take(scene.Camera{Blur: sd, Noise: 1.5, Exposure: 1, Quality: 90}, rng)
		require.NoError(t, err)
		m, err := jpeg.Decode(bytes.NewReader(b))
		require.NoError(t, err)
		require.Equal(t, want, Ready(m).Blur(), "blurred by %g pixels", sd)
	}
	require.Equal(t, 1.0, Ready(image.NewGray(image.Rect(0, 0, 300, 300))).Blur(), "even ground says nothing")
}

func TestColours(t *testing.T) {
	cs := Colours("Lime and black, lime")
	require.Len(t, cs, 2)
	require.Equal(t, "lime", cs[0].Name)
	require.Empty(t, Colours("camouflage"))
	lab := func(r, g, b uint8) [3]float64 {
		l, a, c := oklab(r, g, b)
		return [3]float64{float64(l), float64(a), float64(c)}
	}
	require.Greater(t, favour(cs, lab(140, 220, 50)), 1.5)
	require.Greater(t, favour(cs, lab(90, 140, 30)), 0.8, "the same in shade")
	require.Less(t, favour(cs, lab(200, 30, 35)), 0.1)
	require.Zero(t, favour(nil, lab(0, 0, 0)))
}

func sight(picture int, at geo.XY, score float64, c [3]uint8) Sight {
	return Sight{Candidate: Candidate{Long: 1.4, Wide: 0.1, Score: score, Colour: c}, Picture: picture, At: at, Error: 4, Pixel: 1}
}

func TestJoin(t *testing.T) {
	orange, white := [3]uint8{220, 110, 30}, [3]uint8{230, 230, 230}
	spots := Join([]Sight{
		sight(1, geo.XY{X: 100}, 15, orange),
		sight(2, geo.XY{X: 104, Y: 2}, 18, orange),
		sight(3, geo.XY{X: 98, Y: -1}, 14, orange),
		sight(2, geo.XY{X: 101}, 12, orange), // another thing in the same picture
		sight(4, geo.XY{X: 101}, 13, white),
		sight(5, geo.XY{X: 160}, 16, orange),
	})
	require.Len(t, spots, 4)
	best := spots[0]
	require.Len(t, best.Sights, 3)
	require.InDelta(t, (100+104+98)/3.0, best.At.X, 1e-9)
	require.InDelta(t, 18+perTwice*math.Log2(3), best.Score, 1e-9)
	require.InDelta(t, 4/math.Sqrt(3), best.Error, 1e-5)
	require.Less(t, best.Error, 4.0)
	// the end of it that another picture shows is it too, though that stands out more
	end := sight(9, geo.XY{X: 101}, 21, orange)
	end.Long, end.Cut = 0.3, true
	spots = Join([]Sight{end, sight(1, geo.XY{X: 100}, 15, orange)})
	require.Len(t, spots, 1)
	require.Equal(t, 1, spots[0].Sights[0].Picture)
	require.InDelta(t, 21.5, spots[0].Score, 1e-9)
	end.Cut = false
	require.Len(t, Join([]Sight{end, sight(1, geo.XY{X: 100}, 15, orange)}), 2, "a third as long, and whole")
	// many pictures of one flight share half of their error
	var many []Sight
	for i := range 30 {
		many = append(many, sight(i, geo.XY{}, 12, orange))
	}
	require.InDelta(t, 2, Join(many)[0].Error, 1e-9)
}

func TestRank(t *testing.T) {
	spots := []Spot{{At: geo.XY{X: 1}, Score: 15}, {At: geo.XY{X: 2}, Score: 14}, {At: geo.XY{X: 3}, Score: 13}}
	got := Rank(spots, func(q geo.XY) float64 { return []float64{0, 0.001, 1, 1e6}[int(q.X)] })
	require.Equal(t, []float64{3, 2, 1}, []float64{got[0].At.X, got[1].At.X, got[2].At.X}, "15-2, 14, 13+2")
	require.Equal(t, 15.0, spots[0].Score)
	require.InDelta(t, 13, Rank(spots[:1], func(geo.XY) float64 { return 0 })[0].Rank(), 1e-12)
}

// The measured chances never fall as pixels grow, and lie between 0 and 1.
func TestSeen(t *testing.T) {
	for cover := range grounds {
		for _, cs := range [][]Colour{nil, Colours("orange"), Colours("brown"), Colours("white")} {
			last := 0.0
			for px := 0.5; px < 50; px += 0.25 {
				p := Seen(cover, px, cs)
				require.GreaterOrEqual(t, p, last, "%s at %g pixels", cover, px)
				require.LessOrEqual(t, p, 1.0)
				last = p
			}
		}
		require.Greater(t, Seen(cover, 6, Colours("red")), Seen(cover, 6, Colours("brown")), cover)
		require.Zero(t, Seen(cover, 1, Colours("red")))
		require.Zero(t, Seen(cover, math.NaN(), Colours("red")))
	}
	require.Less(t, Seen("snow", 6, Colours("white")), Seen("snow", 6, Colours("red")))
	require.Equal(t, Seen("woodland", 6, nil), Seen("no such cover", 6, nil), "unknown ground is the hardest")
}

func BenchmarkFind(b *testing.B) {
	p := scene.FromImage(scene.Meadow(512, 3), 4000, 3000, 1, image.Pt(0, 0))
	file, err := p.Take(scene.Camera{Blur: 0.7, Noise: 2, Exposure: 1, Quality: 90}, rand.New(rand.NewPCG(1, 1)))
	require.NoError(b, err)
	b.SetBytes(int64(len(file)))
	b.ReportAllocs()
	for b.Loop() {
		m, err := jpeg.Decode(bytes.NewReader(file))
		require.NoError(b, err)
		r := Ready(m)
		r.Find(Options{})
		r.Blur()
	}
}
