package blocks

import (
	"context"
	"math"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"windfall/geo"
	"windfall/geo/grid"
)

func anyBlock(t *rapid.T) Block {
	b := Block{
		Lo: rapid.Float64Range(-500, 500).Draw(t, "lo"), V: rapid.Float64Range(-500, 500).Draw(t, "v"),
		Gap: rapid.Float64Range(10, 60).Draw(t, "gap"), N: rapid.IntRange(3, 24).Draw(t, "n"), Back: rapid.Bool().Draw(t, "back"),
	}
	b.Hi = b.Lo + rapid.Float64Range(40, 400).Draw(t, "length")
	if rapid.Bool().Draw(t, "side") {
		b.Gap = -b.Gap
	}
	return b
}

func near(t *rapid.T, p, q point, what string) {
	if p.sub(q).norm() > 1e-6 {
		t.Fatalf("%s: %v, want %v", what, p, q)
	}
}

// Lanes are equally long, a spacing apart and walked to and fro; what is left
// after some of them goes on where they end.
func TestLanes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := anyBlock(t)
		cs := b.corners(nil)
		near(t, b.begin(), cs[0], "begin")
		near(t, b.end(), cs[len(cs)-1], "end")
		if len(cs) != 2*b.N {
			t.Fatalf("%d corners of %d lanes", len(cs), b.N)
		}
		for k := 2; k+1 < len(cs); k += 2 {
			if math.Abs(cs[k].v-cs[k-2].v-b.Gap) > 1e-9 || math.Abs(cs[k].u-cs[k-1].u) > 1e-9 {
				t.Fatalf("lane %d is not beside the one before", k/2)
			}
		}
		n := rapid.IntRange(0, b.N-1).Draw(t, "done")
		rest := b.After(n)
		for k, p := range rest.corners(nil) {
			near(t, p, cs[2*n+k], "after")
		}
		x := b.box()
		for _, p := range cs {
			if p.u < x.u0-1e-9 || p.u > x.u1+1e-9 || p.v < x.v0-1e-9 || p.v > x.v1+1e-9 {
				t.Fatalf("%v is not in the box", p)
			}
		}
	})
}

// Every course of an expanding rectangle lies a spacing outside the fourth
// before it, and none crosses another.
func TestExpandingRectangle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := anyBlock(t)
		b.Spiral, b.N = true, max(b.N, 6)
		cs := b.corners(nil)
		near(t, b.end(), cs[len(cs)-1], "end")
		for k := 4; k+1 < len(cs); k++ {
			p, q := cs[k-4], cs[k]
			out := math.Abs(q.v - p.v)
			if k%2 == 1 {
				out = math.Abs(q.u - p.u)
			}
			if math.Abs(out-math.Abs(b.Gap)) > 1e-6 {
				t.Fatalf("course %d lies %g m outside the fourth before it", k, out)
			}
		}
		for i := 1; i < len(cs); i++ {
			for j := i + 2; j < len(cs); j++ {
				if cross(cs[i-1], cs[i], cs[j-1], cs[j]) {
					t.Fatalf("courses %d and %d cross", i, j)
				}
			}
		}
	})
}

// task is a normal cloud with so many walkers at its foot.
func task(walkers int) *Task {
	m := &grid.Map{West: -400, South: -400, Cell: 10, NX: 80, NY: 80, P: make([]float64, 6400)}
	sum := 0.0
	for c := range m.P {
		q := m.Centre(c%80, c/80)
		m.P[c] = math.Exp(-(q.X*q.X/(90*90) + q.Y*q.Y/(60*60)) / 2)
		sum += m.P[c]
	}
	for c := range m.P {
		m.P[c] /= sum
	}
	t := &Task{Map: m, Axes: []geo.XY{{X: 1}, {X: 0.8, Y: 0.6}}, Seed: 7}
	for i := range walkers {
		at := geo.XY{X: -150 + 20*float64(i), Y: -160}
		t.Searchers = append(t.Searchers, Searcher{Foot: true, Width: []float64{30, 12}, Speed: []float64{1, 0.7}, At: at, Start: at, End: 3000, Turn: 4, Most: 3})
	}
	return t
}

// What passes take and what they leave is what there was, and putting it back
// leaves no trace, whatever their direction.
func TestLedgerKeepsItsBooks(t *testing.T) {
	tk := task(1)
	r := newRaster(tk, likely(tk), 30, geo.XY{X: 1}, 3)
	rapid.Check(t, func(t *rapid.T) {
		l := newLedger(r)
		draw := rapid.Float64Range(-100, 900)
		var took float64
		for range rapid.IntRange(1, 8).Draw(t, "passes") {
			p := pass{a: point{draw.Draw(t, "u"), draw.Draw(t, "v")}, b: point{draw.Draw(t, "u"), draw.Draw(t, "v")}}
			switch rapid.IntRange(0, 2).Draw(t, "way") {
			case 0:
				p.b.v = p.a.v
			case 1:
				p.b.u = p.a.u
			}
			took += l.sweep(&p, &tk.Searchers[0], 1) // all at once, a second before the end
		}
		var left, all float64
		for c, v := range l.left {
			if v < -1e-15 {
				t.Fatalf("cell %d is left with %g", c, v)
			}
			left, all = left+v, all+r.p[c]
		}
		if math.Abs(left+took-all) > 1e-9 {
			t.Fatalf("took %g and left %g of %g", took, left, all)
		}
		l.restore()
		for c, v := range l.left {
			if v != r.p[c] {
				t.Fatalf("cell %d is not put back", c)
			}
		}
	})
}

// A slanting pass finds as much as one along the raster: the same strip on a
// raster turned under it.
func TestSlantFindsAsMuch(t *testing.T) {
	tk := task(1)
	a, b := geo.XY{X: -120, Y: -90}, geo.XY{X: 100, Y: 75}
	d := b.Sub(a)
	found := func(u geo.XY) float64 {
		r := newRaster(tk, likely(tk), 30, u, 3)
		p := pass{a: r.in(a), b: r.in(b)}
		if math.Abs(p.a.v-p.b.v) < 1e-9 {
			p.b.v = p.a.v
		}
		return newLedger(r).sweep(&p, &tk.Searchers[0], 1)
	}
	straight, slant := found(d.Scale(1/d.Norm())), found(geo.XY{X: 1})
	require.InEpsilon(t, straight, slant, 0.03)
	steep := found(geo.XY{Y: 1})
	require.InEpsilon(t, straight, steep, 0.03)
}

// Nobody's lanes lie on another's ground or cross them, everybody is home in
// time, nobody has more blocks than allowed, and the layout is the same on any
// number of cores.
func TestLay(t *testing.T) {
	tk := task(3)
	l, err := Lay(context.Background(), tk)
	require.NoError(t, err)
	r := newRaster(tk, likely(tk), usual(tk, likely(tk)), l.Axis, 3)
	c := newChain(tk, r, newWays(tk, nil), 30, 0)
	bs := c.shifted(l.Origin, l.Blocks)
	for i := range bs {
		require.NotEmpty(t, bs[i])
		require.LessOrEqual(t, len(bs[i]), 3)
		var s schedule
		require.True(t, c.plan(i, bs[i], &s))
		require.Equal(t, len(bs[i]), len(s.blocks))
		require.LessOrEqual(t, s.passes[len(s.passes)-1].t1, 3000.0)
		for j := range i {
			for _, a := range bs[i] {
				for _, b := range bs[j] {
					require.Zero(t, crossings(&a, &b))
					require.Zero(t, a.box().meet(b.box()).area())
				}
			}
		}
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	again, err := Lay(context.Background(), tk)
	require.NoError(t, err)
	require.Equal(t, l, again)
}

// A wall parts the cloud: no block lies across it, and who must go round pays
// for the way.
func TestBlocksLieInOnePiece(t *testing.T) {
	tk := task(2)
	gate := geo.XY{X: 60}
	tk.Foot = World{
		Blocked: func(q geo.XY, d float64) bool { return math.Abs(q.X-60) < d },
		Way: func(a, b geo.XY) ([]geo.XY, bool) {
			if (a.X-60)*(b.X-60) > 0 {
				return []geo.XY{b}, true
			}
			return []geo.XY{gate, b}, true
		},
	}
	l, err := Lay(context.Background(), tk)
	require.NoError(t, err)
	n := 0
	for _, bs := range l.Blocks {
		for _, b := range bs {
			n++
			cs := l.Corners(b)
			for _, q := range cs[1:] {
				require.Positive(t, (q.X-60)*(cs[0].X-60), "a block lies across the wall")
			}
		}
	}
	require.Positive(t, n)
}

// Half the ground is cover in which a walker is slow and sees little, and it
// slopes: times on the raster are those of the ground.
func TestGroundSlows(t *testing.T) {
	tk := task(1)
	tk.Class = func(q geo.XY) int {
		if q.X > 0 {
			return 1
		}
		return 0
	}
	tk.Elevation = func(q geo.XY) (float64, bool) { return q.Y / 5, true }
	tk.Slope = func(s float64) float64 { return 1 / (1 + math.Abs(s)) }
	cells := likely(tk)
	r := newRaster(tk, cells, 30, geo.XY{X: 1}, 3)
	open := r.takes(r.worlds[onFoot], r.in(geo.XY{X: -100, Y: 0}), r.in(geo.XY{X: -50, Y: 0}))
	require.InDelta(t, 50, open, 1e-6)
	thick := r.takes(r.worlds[onFoot], r.in(geo.XY{X: 50, Y: 0}), r.in(geo.XY{X: 100, Y: 0}))
	require.InDelta(t, 50/0.7, thick, 1e-6)
	up := r.takes(r.worlds[onFoot], r.in(geo.XY{X: -100, Y: 0}), r.in(geo.XY{X: -100, Y: 50}))
	require.InDelta(t, 50*1.2, up, 1e-6)
	w := newWays(tk, cells)
	require.InEpsilon(t, 100+50/0.7, w.straight(&tk.Searchers[0], geo.XY{X: -100}, geo.XY{X: 50}), 0.06)
	l, err := Lay(context.Background(), tk)
	require.NoError(t, err)
	require.NotEmpty(t, l.Blocks[0])
}

// The last place that the raster holds lies in its last cell, whatever rounding
// does.
func TestRasterHoldsItsCells(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := &raster{h: rapid.Float64Range(1, 40).Draw(t, "h"), nu: rapid.IntRange(1, 900).Draw(t, "nu"), nv: 1}
		u := float64(r.nu) * r.h
		for range rapid.IntRange(0, 4).Draw(t, "less") {
			u = math.Nextafter(u, 0)
		}
		if r.holds(point{u, 0}) && int(u/r.h) >= r.nu {
			t.Fatalf("%g is held, but lies in cell %d of %d", u, int(u/r.h), r.nu)
		}
	})
}

// Ten minutes are no time for three lanes: a lane or two are better than none.
func TestLittleTime(t *testing.T) {
	tk := task(1)
	tk.Searchers[0].End = 420
	l, err := Lay(context.Background(), tk)
	require.NoError(t, err)
	require.NotEmpty(t, l.Blocks[0])
	require.Less(t, l.Blocks[0][0].N, 3)
}

// A layout whose budget ends is the best till then: not empty,
// not much worse than the whole, the same every time; it costs little more than the budget.
func TestBudgetEnds(t *testing.T) {
	whole, err := Lay(context.Background(), task(4))
	require.NoError(t, err)
	require.False(t, whole.Short, "four walkers are within the budget")
	tight := task(4)
	tight.most = 2e7
	var had []*Layout
	for range 2 {
		l, err := Lay(context.Background(), tight)
		require.NoError(t, err)
		had = append(had, l)
	}
	require.Equal(t, had[0], had[1])
	require.True(t, had[0].Short)
	require.False(t, had[0].empty())
	require.Greater(t, had[0].Value, 0.8*whole.Value)

	c := newChain(tight, newRaster(tight, likely(tight), 30, geo.XY{X: 1}, 2), newWays(tight, nil), 30, 1)
	c.begin()
	c.budget = 1e6
	c.run(context.Background(), 1e6, 0.001, 0.0001)
	require.True(t, c.short)
	require.InEpsilon(t, c.budget, c.spent, 0.5, "a few hundred steps either way")
}

func TestLayStops(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	stop()
	_, err := Lay(ctx, task(1))
	require.ErrorIs(t, err, context.Canceled)
}
