package plane

import (
	"fmt"
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"github.com/peterstace/simplefeatures/geom"
	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"windfall/geo"
)

func ExamplePolygons_Distance() {
	field := Polygons{Rectangle(-200, -100, 200, 100)}
	fmt.Println(field.Area(), field.Contains(geo.XY{X: 150}), field.Distance(geo.XY{X: 260, Y: 180}))
	// Output: 80000 true 100
}

var side = rapid.Float64Range(-100, 100)

func point(t *rapid.T, name string) geo.XY {
	return geo.XY{X: side.Draw(t, name+"x"), Y: side.Draw(t, name+"y")}
}

// star is a ring that does not cross itself: corners about a middle.
func star(t *rapid.T, name string, at geo.XY, least, most float64) Ring {
	var r Ring
	n := rapid.IntRange(3, 12).Draw(t, name)
	for k := range n {
		d := rapid.Float64Range(least, most).Draw(t, name)
		r = append(r, at.Add(geo.Polar(d, -360*float64(k)/float64(n))))
	}
	return append(r, r[0])
}

func segment(a, b geo.XY) geom.Geometry {
	return geom.NewLineString(geom.NewSequence([]float64{a.X, a.Y, b.X, b.Y}, geom.DimXY)).AsGeometry()
}

// Two libraries of plane geometry judge: orb and simplefeatures.
func TestInsideAsOrbSays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		hole := star(t, "hole", geo.XY{}, 5, 19)
		ps := Polygons{{star(t, "outer", geo.XY{}, 45, 90), hole}, {star(t, "other", geo.XY{X: 200}, 5, 90)}}
		var m orb.MultiPolygon
		for _, p := range ps {
			m = append(m, p.orb())
		}
		q := point(t, "q").Scale(2)
		assert.Equal(t, planar.MultiPolygonContains(m, orb.Point{q.X, q.Y}), ps.Contains(q))
		edge := planar.DistanceFrom(m, orb.Point{q.X, q.Y})
		assert.InDelta(t, edge, ps.Edge(q), 1e-9)
		if ps.Contains(q) {
			edge = 0
		}
		assert.InDelta(t, edge, ps.Distance(q), 1e-9)
		assert.Equal(t, planar.Area(m), ps.Area())
		assert.Positive(t, hole.Area(), "anticlockwise")
		b := m.Bound()
		assert.Equal(t, Box{geo.XY{X: b.Min[0], Y: b.Min[1]}, geo.XY{X: b.Max[0], Y: b.Max[1]}}, ps.Bound())
	})
}

func TestSegmentsAsSimplefeaturesSays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b, c, d := point(t, "a"), point(t, "b"), point(t, "c"), point(t, "d")
		want, ok := geom.Distance(segment(a, b), segment(c, d))
		if !ok {
			t.Skip("a segment without length")
		}
		assert.InDelta(t, want, Between(a, b, c, d), 1e-9)
		if at, ok := Meet(a, b, c, d); ok {
			assert.InDelta(t, 0, Distance(at, a, b), 1e-9)
			assert.InDelta(t, 0, Distance(at, c, d), 1e-6*(1+d.Sub(c).Norm()))
		} else if want > 1e-9 {
			assert.Positive(t, Between(a, b, c, d))
		}
		l := Line{a, b, c}
		p := orb.Point{d.X, d.Y}
		near, far := l.Nearest(d)
		assert.InDelta(t, planar.DistanceFrom(l.orb(), p), far, 1e-9)
		assert.InDelta(t, far, d.Sub(near).Norm(), 1e-12)
		assert.True(t, l.Within(d, far+1e-9) && !l.Within(d, far-1e-6))
		assert.InDelta(t, planar.Length(l.orb()), l.Length(), 1e-9)
	})
}

func TestClipAndSimplify(t *testing.T) {
	b := Box{Max: geo.XY{X: 10, Y: 10}}
	assert.Equal(t, []Line{{{X: 0, Y: 5}, {X: 10, Y: 5}}}, b.ClipLine(Line{{X: -5, Y: 5}, {X: 25, Y: 5}}))
	assert.InDelta(t, 25, Polygons{b.ClipPolygon(Rectangle(5, 5, 50, 50))}.Area(), 1e-12)
	assert.Nil(t, b.ClipPolygon(Rectangle(20, 20, 30, 30)))
	l := Line{{}, {X: 5, Y: 0.5}, {X: 10}, {X: 10, Y: 10}}
	assert.Equal(t, Line{{}, {X: 10}, {X: 10, Y: 10}}, l.Simplify(1))
	p := Rectangle(5, 5, 50, 50)
	b.ClipPolygon(p)
	assert.Equal(t, Rectangle(5, 5, 50, 50), p, "what is clipped stays as it was")
}

func TestBox(t *testing.T) {
	b := Empty().Extend(geo.XY{X: 1, Y: 2}).Extend(geo.XY{X: 5, Y: -2})
	assert.Equal(t, Box{geo.XY{X: 1, Y: -2}, geo.XY{X: 5, Y: 2}}, b)
	assert.Equal(t, geo.XY{X: 4, Y: 4}, b.Size())
	assert.Equal(t, geo.XY{X: 3}, b.Center())
	assert.True(t, b.Contains(geo.XY{X: 5, Y: 2}))
	assert.False(t, b.Contains(geo.XY{X: 5.1, Y: 2}))
	assert.True(t, b.Pad(0.2).Contains(geo.XY{X: 5.1, Y: 2}))
	assert.True(t, b.Intersects(Box{geo.XY{X: 5, Y: 2}, geo.XY{X: 9, Y: 9}}))
	assert.False(t, b.Intersects(Box{geo.XY{X: 5.1, Y: 2}, geo.XY{X: 9, Y: 9}}))
	assert.False(t, Empty().Contains(geo.XY{}))
	assert.Equal(t, Empty(), Polygons{{}}.Bound())
	assert.Equal(t, Empty(), Line(nil).Bound())
}

// Nothing, points alone and rings without area give nothing, and no panic.
func TestAwkwardShapes(t *testing.T) {
	q := geo.XY{X: 1, Y: 1}
	for _, ps := range []Polygons{nil, {}, {{}}, {{{}}}, {{{q}}}, {{{q, q, q, q}}}, {{{q, {}, q}}}} {
		assert.False(t, ps.Contains(geo.XY{X: 0.4, Y: 0.5}))
		assert.Zero(t, ps.Area())
		assert.False(t, math.IsNaN(ps.Distance(geo.XY{X: 9})))
	}
	assert.True(t, math.IsInf(Polygons{}.Distance(q), 1))
	_, d := Line{q}.Nearest(q)
	assert.True(t, math.IsInf(d, 1))
	assert.Equal(t, q, Nearest(geo.XY{}, q, q))
	_, _, ok := Cross(geo.XY{}, q, q, q.Scale(2))
	assert.False(t, ok, "parallel")
}

func TestFromLonLat(t *testing.T) {
	f := geo.Frame{Origin: orb.Point{-5.58, 39.05}}
	want := Polygons{Rectangle(-50, -20, 300, 400)}
	var m orb.MultiPolygon
	for _, p := range want {
		for _, r := range p {
			var ring orb.Ring
			for _, q := range r {
				ring = append(ring, f.ToLonLat(q))
			}
			m = append(m, orb.Polygon{ring})
		}
	}
	got := FromLonLat(f, m)
	for k, q := range want[0][0] {
		assert.InDelta(t, 0, got[0][0][k].Sub(q).Norm(), 1e-6)
	}
}

// Rectangles in a row melt into one, apart ones stay apart, and the area is
// that of what they cover; too many stay as they are.
func TestUnion(t *testing.T) {
	row := Polygons{Rectangle(0, 0, 10, 4), Rectangle(8, 1, 20, 3), Rectangle(40, 0, 50, 4)}
	got := row.Union()
	assert.Len(t, got, 2)
	assert.InDelta(t, 40+20+40, got.Area(), 1e-9)
	frame := Polygons{Rectangle(0, 0, 9, 2), Rectangle(0, 7, 9, 9), Rectangle(0, 0, 2, 9), Rectangle(7, 0, 9, 9)}.Union()
	assert.InDelta(t, 81-25, frame.Area(), 1e-9)
	assert.Len(t, frame[0], 2, "the hole in the middle")
	assert.Equal(t, row[:1], row[:1].Union())
	many := make(Polygons, mostUnited+1)
	for i := range many {
		many[i] = Rectangle(0, 0, 1, 1)
	}
	assert.Len(t, many.Union(), mostUnited+1)
	bad := Polygons{{{{}, {X: 1}, {}}}, Rectangle(0, 0, 1, 1)}
	assert.NotPanics(t, func() { bad.Union() })
}

func TestLines(t *testing.T) {
	assert.Len(t, Polygons{Rectangle(0, 0, 1, 1), Rectangle(2, 2, 3, 3)}.Lines(), 2)
}
