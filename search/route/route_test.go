package route

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"windfall/geo"
	"windfall/geo/ground"
	"windfall/geo/plane"
)

func square(x, y, r float64) plane.Polygons {
	return plane.Polygons{plane.Rectangle(x-r, y-r, x+r, y+r)}
}

func TestRoundASquare(t *testing.T) {
	w := Foot(&ground.Ground{NoGo: []ground.NoGo{{Name: "pond", For: ground.All, Area: square(0, 0, 50)}}}, geo.XY{})
	a, b := geo.XY{X: -100}, geo.XY{X: 100}
	require.False(t, w.Free(a, b))
	require.True(t, w.Inside(geo.XY{}))
	pts, d, ok := w.Path(a, b)
	require.True(t, ok)
	require.Equal(t, b, pts[len(pts)-1])
	// the taut string: two slopes over 50 m by 50 m and the far side
	require.InDelta(t, 2*math.Hypot(50, 50)+100, d, 4)
}

func TestRiverWithOneBridge(t *testing.T) {
	g := &ground.Ground{
		Barriers:  []ground.Barrier{{Name: "river", Line: plane.Line{{Y: -5000}, {Y: 5000}}}},
		Crossings: []geo.XY{{X: 0, Y: 300}},
	}
	a, b := geo.XY{X: -100}, geo.XY{X: 100}
	_, d, ok := Foot(g, geo.XY{}).Path(a, b)
	require.True(t, ok)
	require.InDelta(t, 2*math.Hypot(100, 300), d, 0.5)
	require.True(t, Air(g, geo.XY{}).Free(a, b), "a river stops no drone")
	g.Crossings = nil
	require.Greater(t, first(Foot(g, geo.XY{}).Path(a, b)), 9900.0, "round the end")
	g.NoGo = []ground.NoGo{{For: ground.Walkers, Area: square(100, 0, 20)}}
	_, _, ok = Foot(g, geo.XY{}).Path(a, b)
	require.False(t, ok, "no way into a pond")
	require.True(t, Air(g, geo.XY{}).Free(a, b), "walkers only")
}

func first(_ []geo.XY, d float64, _ bool) float64 { return d }

// Every way keeps clear of all squares, whatever they are, is no shorter than
// the straight line and has the length of its legs.
func TestWaysAreClear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := &ground.Ground{}
		for range rapid.IntRange(0, 5).Draw(t, "n") {
			g.NoGo = append(g.NoGo, ground.NoGo{For: ground.All, Area: square(rapid.Float64Range(-80, 80).Draw(t, "x"), rapid.Float64Range(-80, 80).Draw(t, "y"), rapid.Float64Range(5, 30).Draw(t, "r"))})
		}
		w := Foot(g, geo.XY{})
		a, b := geo.XY{X: -150, Y: rapid.Float64Range(-50, 50).Draw(t, "ay")}, geo.XY{X: 150}
		pts, d, ok := w.Path(a, b)
		if !ok {
			t.Fatal("no way round squares")
		}
		at, sum := a, 0.0
		for _, q := range pts {
			n := q.Sub(at).Norm()
			for s := 0.0; s <= n; s += 0.5 {
				if w.Inside(at.Add(q.Sub(at).Scale(s / math.Max(n, 1e-9)))) {
					t.Fatal("through a square")
				}
			}
			at, sum = q, sum+n
		}
		if math.Abs(sum-d) > 1e-6 || d < b.Sub(a).Norm()-1e-9 {
			t.Fatalf("length %g, legs %g", d, sum)
		}
	})
}

// The table's ways keep clear of everything, and are hardly longer than the
// shortest.
func TestTableIsNearlyShortest(t *testing.T) {
	g := &ground.Ground{
		NoGo:     []ground.NoGo{{Name: "pond", For: ground.All, Area: square(0, 0, 60)}, {Name: "yard", For: ground.All, Area: square(200, 40, 40)}},
		Barriers: []ground.Barrier{{Name: "wall", Line: plane.Line{{X: 100, Y: -400}, {X: 100, Y: 400}}}},
	}
	g.Crossings = []geo.XY{{X: 100, Y: 150}}
	w := Foot(g, geo.XY{})
	table := w.Table()
	n := 0
	for x := -300.0; x <= 400; x += 70 {
		for y := -250.0; y <= 250; y += 61 {
			a, b := geo.XY{X: -290, Y: 13}, geo.XY{X: x, Y: y}
			if w.Near(b, 2*Clearance) {
				continue
			}
			_, want, ok := w.Path(a, b)
			require.True(t, ok)
			pts, got, ok := table.Way(a, b)
			require.True(t, ok)
			require.Equal(t, b, pts[len(pts)-1])
			require.GreaterOrEqual(t, got, want-5, "the corner is seen from the middle of a square")
			require.LessOrEqual(t, got, 1.05*want+20)
			for i := 0; i+2 < len(pts); i++ {
				require.True(t, w.Free(pts[i], pts[i+1]))
			}
			n++
		}
	}
	require.Greater(t, n, 60)
	shut := Foot(&ground.Ground{Barriers: g.Barriers[:1:1]}, geo.XY{})
	_, _, ok := shut.Table().Way(geo.XY{X: 90}, geo.XY{X: 110})
	require.True(t, ok, "round the end of the wall")
}

// Of too many corners the nearest are joined; legs keep clear of all.
func TestTooManyCorners(t *testing.T) {
	w := &World{chunk: make([]chunk, 799)}
	var cand []geo.XY
	for i := range 5000 {
		cand = append(cand, geo.XY{X: float64(4999 - i)})
	}
	got := w.within(cand, geo.XY{X: 100})
	require.Len(t, got, 1000, "1000 of them in pairs along 800 runs are 4e8 looks")
	require.Equal(t, 4000, w.LeftOut())
	require.Contains(t, got, geo.XY{X: 0})
	require.NotContains(t, got, geo.XY{X: 1001})
	require.Len(t, w.within(cand[:900], geo.XY{}), 900)
	require.Zero(t, w.LeftOut())
}
