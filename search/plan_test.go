package search

import (
	"context"
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"windfall/geo"
	"windfall/geo/geotest"
	"windfall/geo/grid"
	"windfall/geo/ground"
	"windfall/geo/plane"
	"windfall/search/detect"
	"windfall/search/internal/blocks"
)

// Source: testdata/reference/search_patterns.csv (IAMSAR Manual, volume II, from
// memory): ends of the legs.
func TestPatternGeometry(t *testing.T) {
	want := map[string][]geo.XY{}
	for _, r := range geotest.Table(t, "search_patterns.csv") {
		want[r.Text("pattern")] = append(want[r.Text("pattern")], geo.XY{X: r.Number("end_x_east_m"), Y: r.Number("end_y_north_m")})
	}
	a := &agent{Searcher: Searcher{Speed: 1}, end: 5000, t: newTerra(nil, nil), width: []float64{100}}
	square := expandingSquares(moments{}, a.t, []*agent{a})[0]
	for i, q := range want["expanding_square"] {
		require.InDelta(t, 0, square[i+1].p.Sub(q).Norm(), 1e-3, "leg %d", i+1)
	}
	for i, q := range want["sector"] {
		require.InDelta(t, 0, sectorLegs(500, 0)[i].Sub(q).Norm(), 1e-3, "leg %d", i+1)
	}
	require.Len(t, want["sector"], 9)
}

// A map of even chance whose area takes the whole time once: plain parallel
// sweeps are what is asked for, and a plan must come close to the 0.632 that a
// coverage of 1 gives, with next to all of its search legs on two axes at right
// angles.
func TestEvenMapIsSweptPlainly(t *testing.T) {
	m := &grid.Map{West: 0, South: 0, Cell: 10, NX: 40, NY: 30, P: make([]float64, 1200)}
	m.Frame.Origin = orb.Point{-5, 40}
	for i := range m.P {
		m.P[i] = 1.0 / 1200
	}
	const w = 30.0 // m: ten lanes of 400 m
	p := Problem{Map: m, Target: Target{SeenAt: map[string]float64{"open": w / 1.645}},
		Searchers: []Searcher{{Name: "a", Kind: Walker, Speed: 1, Available: 400*300/w + 700, Start: geo.XY{X: -20, Y: -20}}}}
	pl, err := Make(context.Background(), p, Options{})
	require.NoError(t, err)
	audit(t, p, pl)
	require.Greater(t, pl.POS, 0.57)
	axes := map[int]float64{}
	var all float64
	for _, l := range pl.Searchers[0].Legs {
		d := l.b().Sub(l.a())
		if l.Kind == SearchLeg {
			axes[int(math.Round(math.Mod(d.BearingDeg(), 90)/15))%6] += d.Norm()
			all += d.Norm()
		}
	}
	most := 0.0
	for _, v := range axes {
		most = math.Max(most, v)
	}
	require.Greater(t, most/all, 0.75, "legs wander")
}

// One walker on a round cloud: of all single blocks of a grid of lengths, lanes,
// spacings, axes and corners to begin at, walked and reckoned exactly, none finds
// sooner than the plan by more than 1 %.
func TestAgainstEveryBlock(t *testing.T) {
	p := Problem{Map: cloud(10, blob{geo.XY{X: 200, Y: 80}, 80, 60, 20, 1}), Searchers: walkers(1, geo.XY{}, 50), Target: rocket}
	pl, err := Make(context.Background(), p, Options{})
	require.NoError(t, err)
	_, agents, _, err := ready(p)
	require.NoError(t, err)
	w := agents[0].width[0]
	best := math.Inf(1)
	for _, deg := range []float64{20, 110} {
		l := &blocks.Layout{Origin: geo.XY{X: 200, Y: 80}, Axis: turned(geo.XY{X: 1}, deg*math.Pi/180)}
		for n := 3; n <= 8; n++ {
			for half := 40.0; half <= 160; half += 40 {
				for _, gap := range []float64{-1.2, -1, -0.7, 0.7, 1, 1.2} {
					for _, back := range []bool{false, true} {
						b := blocks.Block{Lo: -half, Hi: half, V: -gap * w * float64(n-1) / 2, Gap: gap * w, N: n, Back: back}
						steps, done := agents[0].follow([]course{l.Corners(b)})
						if done == 0 {
							continue
						}
						tl := account(newField(p.Map, 4, detect.Exponential), agents, [][]step{steps}, sliceS)
						best = math.Min(best, tl.moment/60+(1-tl.pos)*50)
					}
				}
			}
		}
	}
	require.LessOrEqual(t, pl.MeanToFind, best*1.01)
}

func TestSameProblemSamePlan(t *testing.T) {
	p := Problem{Map: cloud(15, blob{geo.XY{X: 200, Y: 50}, 90, 60, 20, 1}), Searchers: append(walkers(2, geo.XY{}, 40), scout(geo.XY{}, 30)), Target: rocket}
	a, err := Make(context.Background(), p, Options{Seed: 1})
	require.NoError(t, err)
	b, err := Make(context.Background(), p, Options{Seed: 1})
	require.NoError(t, err)
	require.Equal(t, a, b)
}

func TestReplan(t *testing.T) {
	p := Problem{Map: cloud(15, blob{geo.XY{X: 200, Y: 50}, 120, 80, 20, 1}), Searchers: walkers(3, geo.XY{}, 60), Target: rocket}
	pl, err := Make(context.Background(), p, Options{})
	require.NoError(t, err)
	late := walkers(4, geo.XY{X: 30}, 40)[3]
	next, err := Replan(context.Background(), p, pl, Change{At: 1200, Leaves: []string{"ana"}, Late: map[string]float64{"ben": 300}, Joins: []Searcher{late}})
	require.NoError(t, err)
	require.Len(t, next.Searchers, 3)
	var sum float64
	for _, v := range next.Map.P {
		sum += v
	}
	require.InDelta(t, 1, sum+next.Map.Outside, 1e-9, "what is left is a map again")
	again, err := Make(context.Background(), next, Options{})
	require.NoError(t, err)
	for i, r := range again.Searchers {
		s := next.Searchers[i]
		if s.At != nil {
			require.InDelta(t, 0, r.Legs[0].a().Sub(*s.At).Norm(), 0.01, "%s goes on from where they are", s.Name)
		}
		last := r.Legs[len(r.Legs)-1]
		require.InDelta(t, 0, last.b().Sub(s.Start).Norm(), 0.01)
		require.LessOrEqual(t, last.EndMin, (s.Joins+s.Available)/60+1e-9)
	}
	_, err = Replan(context.Background(), p, pl, Change{At: 1200, Leaves: []string{"zoe"}})
	require.ErrorContains(t, err, `"zoe" is not in the plan`)
	_, err = Replan(context.Background(), p, pl, Change{At: 9000})
	require.ErrorContains(t, err, "write a time within the plan")
}

// POS of a track and what is left after it sum to 1, and Missed says of points
// what Searched says of the map.
func TestSearchedIsBayes(t *testing.T) {
	m := cloud(1.5, blob{geo.XY{}, 60, 40, 0, 1})
	passes := Passes([][]geo.XY{{{X: -150}, {X: 150}, {X: 150, Y: 30}, {X: -150, Y: 30}}}, walkers(1, geo.XY{}, 10)[0], rocket, nil)
	after, pos, err := Searched(m, detect.Exponential, passes)
	require.NoError(t, err)
	missed := Missed(detect.Exponential, passes)
	var left, sum float64
	for c, v := range m.P {
		q := m.Centre(c%m.NX, c/m.NX)
		left += v * missed(q)
		sum += after.P[c]
	}
	require.InDelta(t, 1, sum+after.Outside, 1e-9)
	require.InDelta(t, 1-pos, left+m.Outside, 0.02) // a row of points more or less under a strip of 35 m: 4 % of the POS
	require.InDelta(t, m.Outside/(1-pos), after.Outside, 1e-9)
}

// A quarter of what lies in the wood is seen by nobody: it is counted as not
// found, whatever is walked, and stays on the map after a walk in vain.
func TestUnseenShare(t *testing.T) {
	m := cloud(10, blob{geo.XY{X: 200}, 60, 60, 0, 1})
	wood := &ground.Ground{Covers: []ground.Cover{{Class: "woodland", Area: poly(-900, -900, 900, -900, 900, 900, -900, 900)}}}
	tg := Target{SeenAt: map[string]float64{"woodland": 40}, Unseen: map[string]float64{"woodland": 0.25}}
	p := Problem{Map: m, Searchers: walkers(2, geo.XY{}, 300), Target: tg, Ground: wood}
	pl, err := Make(context.Background(), p, Options{})
	require.NoError(t, err)
	require.InDelta(t, 1, pl.POS+pl.Left, 1e-9)
	require.Less(t, pl.POS, 0.75)
	require.Greater(t, pl.POS, 0.65, "the rest is found")
	require.LessOrEqual(t, pl.POS, pl.UpperBound+1e-9)
	require.LessOrEqual(t, pl.UpperBound, 0.75+1e-9)
	require.Contains(t, strings.Join(pl.Cautions, "\n"), "25 % of what lies in woodland is taken as seen by nobody")
	var lines [][]geo.XY
	for range 8 {
		for x := -150.0; x <= 550; x += 40 {
			lines = append(lines, []geo.XY{{X: x, Y: -400}, {X: x, Y: 400}})
		}
	}
	passes := Passes(lines, p.Searchers[0], tg, wood)
	require.InDelta(t, 0.25, Missed(detect.Exponential, passes)(geo.XY{X: 200}), 0.001)
	_, pos, err := Searched(m, detect.Exponential, passes)
	require.NoError(t, err)
	require.InDelta(t, 0.75, pos, 0.005)
}

func TestRefusals(t *testing.T) {
	m := cloud(20, blob{geo.XY{X: 200}, 60, 60, 0, 1})
	for _, c := range []struct {
		name string
		p    func(p *Problem)
		want string
	}{
		{"nobody", func(p *Problem) { p.Searchers = nil }, "searchers: none given"},
		{"no speed", func(p *Problem) { p.Searchers[0].Speed = 0 }, `searchers[0].speed "0 m/s" is no speed`},
		{"no time", func(p *Problem) { p.Searchers[0].Available = 0 }, `searchers[0].available "0 s" is no time to search`},
		{"twins", func(p *Problem) { p.Searchers = append(p.Searchers, p.Searchers[0]) }, `name "ana" is taken`},
		{"in a pond", func(p *Problem) {
			p.Ground = &ground.Ground{NoGo: []ground.NoGo{{For: ground.All, Area: poly(-50, -50, 50, -50, 50, 50, -50, 50)}}}
		}, "is in a no-go area"},
		{"moat", func(p *Problem) {
			p.Ground = &ground.Ground{Barriers: []ground.Barrier{{Line: plane.Line(plane.Rectangle(-50, -50, 50, 50)[0])}}}
		}, "none of the likely ground can be reached"},
		{"no map", func(p *Problem) { p.Map = nil }, "the map has no cells"},
		{"no chance", func(p *Problem) {
			q := *m
			q.P = make([]float64, len(m.P))
			q.Outside = 1
			p.Map = &q
		}, "the map holds no chance at all"},
		{"camera", func(p *Problem) { p.Searchers = []Searcher{scout(geo.XY{}, 10)}; p.Searchers[0].FieldDeg = 190 }, `camera.field_of_view "190 deg"`},
		{"wind", func(p *Problem) {
			p.Searchers = []Searcher{scout(geo.XY{}, 10)}
			p.Searchers[0].MaxWind = 5
			p.Wind = 9
		}, "no searcher has time"},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := Problem{Map: m, Searchers: walkers(1, geo.XY{}, 30), Target: rocket}
			c.p(&p)
			_, err := Make(context.Background(), p, Options{})
			require.ErrorContains(t, err, c.want)
		})
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	_, err := Make(ctx, Problem{Map: m, Searchers: walkers(1, geo.XY{}, 30), Target: rocket}, Options{})
	require.ErrorIs(t, err, context.Canceled)
}

// hill rises to the north, 1 in 4.
type hill struct{}

func (hill) Elevation(p geo.XY) (float64, bool) { return p.Y / 4, true }

// Source: Tobler 1993: 6 exp(-3.5 |s + 0.05|) km/h, 0.41 of the level speed at a
// slope of +0.25 (closed form).
func TestSlopeSlows(t *testing.T) {
	require.InDelta(t, math.Exp(-3.5*0.25), tobler(0.25), 1e-12)
	require.Equal(t, 1.0, tobler(-0.05))
	p := Problem{Map: cloud(20, blob{geo.XY{Y: 300}, 80, 80, 0, 1}), Searchers: walkers(1, geo.XY{}, 60), Target: rocket, Terrain: hill{}}
	pl, err := Make(context.Background(), p, Options{})
	require.NoError(t, err)
	audit(t, p, pl)
	flat := p
	flat.Terrain = nil
	fl, err := Make(context.Background(), flat, Options{})
	require.NoError(t, err)
	require.Less(t, pl.POS, fl.POS)
}

func benchmarkMake(b *testing.B, cell float64) {
	p := Problem{Map: cloud(cell, blob{geo.XY{X: 300, Y: 200}, 286, 180, 30, 1}), Searchers: walkers(4, geo.XY{}, 90), Target: rocket}
	b.ReportMetric(float64(len(p.Map.P)), "cells")
	for b.Loop() {
		if _, err := Make(context.Background(), p, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

// Four searchers, 90 minutes, on 40 000 and on 160 000 cells.
func BenchmarkMake40k(b *testing.B)  { benchmarkMake(b, 10) }
func BenchmarkMake160k(b *testing.B) { benchmarkMake(b, 5) }
