package search

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"windfall/geo"
	"windfall/geo/ground"
	"windfall/geo/plane"
)

// middle is likely ground, 400 m about the origin.
func middle() (cells []geo.XY) {
	for x := -200.0; x <= 200; x += 20 {
		for y := -200.0; y <= 200; y += 20 {
			cells = append(cells, geo.XY{X: x, Y: y})
		}
	}
	return cells
}

// apartDeg is the angle between u and the axis turned by deg, a quarter turn
// being nothing.
func apartDeg(u geo.XY, deg float64) float64 {
	d := math.Mod(math.Atan2(u.Y, u.X)*180/math.Pi-deg, 90)
	return math.Min(math.Mod(d+90, 90), math.Mod(90-d, 90))
}

// Fields whose edges all run one way or across it give that axis, whatever the
// angle and however long the edges beyond the likely ground.
func TestEdgesGiveAnAxis(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		deg := rapid.Float64Range(-180, 180).Draw(t, "deg")
		u := turned(geo.XY{X: 1}, deg*math.Pi/180)
		v := geo.XY{X: -u.Y, Y: u.X}
		var ring plane.Ring
		w, h := rapid.Float64Range(30, 100).Draw(t, "w"), rapid.Float64Range(30, 100).Draw(t, "h")
		for _, c := range [][2]float64{{-w, -h}, {w, -h}, {w, h}, {-w, h}, {-w, -h}} {
			ring = append(ring, u.Scale(c[0]).Add(v.Scale(c[1])))
		}
		g := &ground.Ground{Covers: []ground.Cover{{Class: "crop", Area: plane.Polygons{{ring}}}}}
		far := plane.Line{{X: 1000, Y: -3000}, {X: 1700, Y: 3000}} // not on the likely ground
		g.Barriers = []ground.Barrier{{Name: "road", Line: far}}
		axis, ok := edges(g, middle()).axis()
		if !ok || apartDeg(axis, deg) > 0.01 {
			t.Fatalf("axis %v, edges at %g degrees", axis, deg)
		}
	})
}

// Edges in all directions agree on none.
func TestRoundEdgesGiveNoAxis(t *testing.T) {
	var ring plane.Ring
	for k := range 41 {
		s, c := math.Sincos(float64(k) * math.Pi / 20)
		ring = append(ring, geo.XY{X: 100 * c, Y: 100 * s})
	}
	_, ok := edges(&ground.Ground{NoGo: []ground.NoGo{{Name: "pond", Area: plane.Polygons{{ring}}}}}, middle()).axis()
	require.False(t, ok)
}

type tilted struct{ gx, gy float64 }

func (p tilted) Elevation(q geo.XY) (float64, bool) { return 100 + p.gx*q.X + p.gy*q.Y, true }

func TestSlopeGivesAnAxis(t *testing.T) {
	s, c := math.Sincos(25 * math.Pi / 180)
	axis, ok := slopes(tilted{0.1 * c, 0.1 * s}, middle()).axis()
	require.True(t, ok)
	require.InDelta(t, 0, apartDeg(axis, 25), 1e-6)
	_, ok = slopes(tilted{0.02, 0}, middle()).axis()
	require.False(t, ok, "level enough to walk any way")
}

// On a steep slope lanes along it cost no more than on the level, lanes up and
// down it up to half of the speed (Tobler): a plan on a round cloud lays most of
// its way along the slope or nearly.
func TestSteepGroundIsWalkedAlong(t *testing.T) {
	deg := 25.0
	s, c := math.Sincos(deg * math.Pi / 180)
	p := Problem{Map: cloud(10, blob{geo.XY{X: 150, Y: 80}, 110, 109, 0, 1}), Searchers: walkers(2, geo.XY{}, 60), Target: rocket, Terrain: tilted{0.3 * c, 0.3 * s}}
	pl, err := Make(context.Background(), p, Options{})
	require.NoError(t, err)
	var along, up float64
	for _, r := range pl.Searchers {
		for _, l := range r.Legs {
			d := l.b().Sub(l.a())
			if l.Kind == SearchLeg {
				rise := math.Abs(d.X*c + d.Y*s)
				along, up = along+math.Sqrt(math.Max(0, d.X*d.X+d.Y*d.Y-rise*rise)), up+rise
			}
		}
	}
	require.Greater(t, along, 2*up)
}

// shape reports the share of a searcher's way in blocks that runs along its
// likeliest axis or across it, to two degrees, the mean length of its legs and
// how many are under 15 m; pieces of one straight line are one leg.
func shape(r Route) (along, mean float64, short int) {
	type leg struct{ bearing, m float64 }
	var legs []leg
	hist := map[int]float64{}
	var all float64
	for _, l := range r.Legs {
		d := l.b().Sub(l.a())
		if l.Block == "" {
			continue
		}
		b := d.BearingDeg()
		if n := len(legs); n > 0 && math.Abs(math.Remainder(b-legs[n-1].bearing, 360)) < 1 {
			legs[n-1].m += d.Norm()
		} else {
			legs = append(legs, leg{b, d.Norm()})
		}
		all += d.Norm()
		for k := -2; k <= 2; k++ {
			hist[(int(math.Round(b))+k+360)%90] += d.Norm()
		}
	}
	for _, v := range hist {
		along = math.Max(along, v/all)
	}
	for _, l := range legs {
		if l.m < 15 {
			short++
		}
	}
	return along, all / math.Max(1, float64(len(legs))), short
}
