package search

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"windfall/geo"
	"windfall/geo/grid"
	"windfall/geo/ground"
	"windfall/geo/plane"
)

// blob is a normal cloud; turn in degrees, of its long axis, anticlockwise from
// east.
type blob struct {
	at     geo.XY
	sx, sy float64
	turn   float64
	share  float64
}

// cloud makes a map of normal clouds; what the cells do not hold is outside.
func cloud(cell float64, blobs ...blob) *grid.Map {
	x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, b := range blobs {
		r := 3.5 * math.Max(b.sx, b.sy)
		x0, x1 = math.Min(x0, b.at.X-r), math.Max(x1, b.at.X+r)
		y0, y1 = math.Min(y0, b.at.Y-r), math.Max(y1, b.at.Y+r)
	}
	m := &grid.Map{West: x0, South: y0, Cell: cell, NX: int((x1-x0)/cell) + 1, NY: int((y1-y0)/cell) + 1}
	m.Frame.Origin = orb.Point{-5.5, 39.05}
	m.P = make([]float64, m.NX*m.NY)
	sum := 0.0
	for c := range m.P {
		q := m.Centre(c%m.NX, c/m.NX)
		for _, b := range blobs {
			d := q.Sub(b.at)
			s, k := math.Sincos(b.turn * math.Pi / 180)
			u, v := (d.X*k+d.Y*s)/b.sx, (-d.X*s+d.Y*k)/b.sy
			m.P[c] += b.share * math.Exp(-(u*u+v*v)/2) / (2 * math.Pi * b.sx * b.sy) * cell * cell
		}
		sum += m.P[c]
	}
	m.Outside = 1 - sum
	return m
}

// audit re-walks a plan leg by leg, by code of its own: no gap in place or time,
// no leg faster than its searcher, none through a no-go area, over a barrier
// away from a crossing or beyond reach, every search leg in one cover, everybody
// back in time; and the POS claimed is that of 10 000 targets drawn from the map
// and looked for along the legs, within four standard errors.
func audit(t *testing.T, p Problem, pl *Plan) {
	t.Helper()
	require.InDelta(t, 1, pl.POS+pl.Left, 1e-9, "conservation")
	require.LessOrEqual(t, pl.POS, pl.UpperBound+1e-9)
	var legPOS float64
	for i, r := range pl.Searchers {
		s := p.Searchers[i]
		at, now, flown := s.Start, s.Joins/60, 0.0
		for _, l := range r.Legs {
			require.InDelta(t, 0, l.a().Sub(at).Norm(), 1e-9, "%s leg %d: gap in place", r.Name, l.N)
			require.InDelta(t, now, l.StartMin, 1e-9, "%s leg %d: gap in time", r.Name, l.N)
			d, dt := l.b().Sub(l.a()).Norm(), (l.EndMin-l.StartMin)*60
			require.LessOrEqual(t, d, s.Speed*dt*(1+1e-9), "%s leg %d is too fast", r.Name, l.N)
			at, now, flown = l.b(), l.EndMin, flown+dt
			if l.Kind == RechargeLeg {
				require.Zero(t, d)
				require.Equal(t, s.Start, at)
				require.GreaterOrEqual(t, dt, s.Recharge-1e-9)
				flown = 0
				continue
			}
			if s.Kind == Drone && s.Sortie > 0 {
				require.LessOrEqual(t, flown, s.Sortie, "%s leg %d: out of charge", r.Name, l.N)
			}
			legPOS += l.POS
			auditGround(t, p, s, l)
		}
		if len(r.Legs) > 0 {
			require.Equal(t, TransitLeg, r.Legs[0].Kind, "%s sets out in transit", r.Name)
			require.Equal(t, ReturnLeg, r.Legs[len(r.Legs)-1].Kind, r.Name)
		}
		require.InDelta(t, 0, at.Sub(s.Start).Norm(), 0.008, "%s is not back", r.Name)
		require.LessOrEqual(t, now, (s.Joins+s.Available)/60+1e-9, "%s is late", r.Name)
	}
	require.InDelta(t, pl.POS, legPOS, 1e-9)
	for i, r := range pl.Searchers {
		auditBlocks(t, p.Searchers[i], r)
	}
	pos, mean := monteCarlo(p.Map, pl, targets)
	se := math.Sqrt(pos*(1-pos)/targets) + 1e-4
	require.InDelta(t, pos, pl.POS, 4*se+0.002, "POS by drawn targets") // 0.002: the account's raster
	require.InDelta(t, mean, pl.MeanToFind, 4*pl.Minutes/2/math.Sqrt(targets)+0.002*pl.Minutes)
}

// auditBlocks checks that the blocks of a route say what its legs do: courses
// next to each other are a spacing apart and as long as said, and what the legs
// find is what the block finds.
func auditBlocks(t *testing.T, s Searcher, r Route) {
	t.Helper()
	legs := map[string][]Leg{}
	for _, l := range r.Legs {
		if l.Block != "" {
			require.Equal(t, SearchLeg, l.Kind)
			legs[l.Block] = append(legs[l.Block], l)
		}
	}
	require.Len(t, legs, len(r.Blocks))
	last := 0.0
	for _, b := range r.Blocks {
		ls := legs[b.Name]
		require.NotEmpty(t, ls)
		require.InDelta(t, 0, ls[0].a().Sub(geo.XY{X: b.Begin.East, Y: b.Begin.North}).Norm(), 0.02)
		require.InDelta(t, 0, ls[len(ls)-1].b().Sub(geo.XY{X: b.End.East, Y: b.End.North}).Norm(), 0.02)
		require.Equal(t, b.StartMin, ls[0].StartMin)
		require.Equal(t, b.EndMin, ls[len(ls)-1].EndMin)
		require.GreaterOrEqual(t, b.StartMin, last)
		last = b.EndMin
		pos := 0.0
		for _, l := range ls {
			pos += l.POS
		}
		require.InDelta(t, pos, b.POS, 1e-9)
		require.LessOrEqual(t, b.POS, b.POA+1e-9)
		require.InDelta(t, b.POS, b.POA*b.POD, 1e-9)
		sum := 0.0 // of all legs to the block's last
		for _, l := range r.Legs {
			sum += l.POS
			if l.N == ls[len(ls)-1].N {
				break
			}
		}
		require.InDelta(t, sum, b.Cumulative, 1e-9)
		if s.Kind == Walker {
			require.GreaterOrEqual(t, b.LaneM, 40.0, "%s", b.Name)
			require.GreaterOrEqual(t, b.Lanes, 3, "%s", b.Name)
		}
		turns := bends(ls)
		if b.Kind == Lanes {
			require.Equal(t, 2*b.Lanes-1, len(turns), "%s: courses", b.Name)
		} else {
			require.Equal(t, b.Lanes, len(turns), "%s: courses", b.Name)
		}
		require.InDelta(t, b.LaneM, turns[0].Norm(), 0.2)
		require.InDelta(t, b.SpacingM, turns[1].Norm(), 0.2)
		require.InDelta(t, 0, math.Remainder(b.OutDeg-turns[0].BearingDeg(), 360), 0.2)
		require.InDelta(t, 0, math.Remainder(b.SideDeg-turns[1].BearingDeg(), 360), 0.2)
	}
}

// bends joins legs that run on in one direction.
func bends(ls []Leg) (out []geo.XY) {
	for _, l := range ls {
		d := l.b().Sub(l.a())
		if n := len(out); n > 0 && math.Abs(math.Remainder(out[n-1].BearingDeg()-d.BearingDeg(), 360)) < 3 {
			out[n-1] = out[n-1].Add(d)
		} else {
			out = append(out, d)
		}
	}
	return out
}

const targets = 10000

func auditGround(t *testing.T, p Problem, s Searcher, l Leg) {
	t.Helper()
	d := l.b().Sub(l.a())
	n := int(d.Norm()) + 1
	for k := 0; k <= n; k++ {
		q := l.a().Add(d.Scale(float64(k) / float64(n)))
		if s.Kind == Drone && s.Reach > 0 {
			require.LessOrEqual(t, q.Sub(s.Start).Norm(), s.Reach, "%s leg %d: beyond reach", s.Name, l.N)
		}
		if p.Ground == nil {
			continue
		}
		for _, g := range p.Ground.NoGo {
			if g.For == ground.All || string(g.For) == string(s.Kind)+"s" {
				require.False(t, g.Area.Contains(q), "%s leg %d: in %s", s.Name, l.N, g.Name)
			}
		}
		if far := math.Min(float64(k), float64(n-k)); l.Kind == SearchLeg && far > 1 {
			require.Equal(t, l.Cover, coverAt(p.Ground, q), "%s leg %d: cover", s.Name, l.N)
		}
	}
	if p.Ground == nil || s.Kind == Drone {
		return
	}
	for _, b := range p.Ground.Barriers {
		for i := 1; i < len(b.Line); i++ {
			q, ok := plane.Meet(l.a(), l.b(), b.Line[i-1], b.Line[i])
			if !ok {
				continue
			}
			near := math.Inf(1)
			for _, c := range p.Ground.Crossings {
				near = math.Min(near, c.Sub(q).Norm())
			}
			require.Less(t, near, 0.5, "%s leg %d crosses %s", s.Name, l.N, b.Name)
		}
	}
}

// coverAt is the class of the last cover drawn that holds q.
func coverAt(g *ground.Ground, q geo.XY) string {
	class := ground.Open
	for _, c := range g.Covers {
		if c.Area.Contains(q) {
			class = c.Class
		}
	}
	return class
}

// monteCarlo draws n targets and returns the mean POS and the mean minutes to
// find under the exponential law.
func monteCarlo(m *grid.Map, pl *Plan, n int) (pos, mean float64) {
	r := rand.New(rand.NewPCG(11, 3))
	cum := make([]float64, len(m.P)+1)
	for i, v := range m.P {
		cum[i+1] = cum[i] + v
	}
	for k := 0; k < n; k++ {
		u := (float64(k) + r.Float64()) / float64(n)
		if u >= cum[len(m.P)] {
			mean += pl.Minutes / float64(n)
			continue
		}
		lo, hi := 0, len(m.P)
		for hi-lo > 1 {
			if mid := (lo + hi) / 2; cum[mid] <= u {
				lo = mid
			} else {
				hi = mid
			}
		}
		at := geo.XY{X: m.West + (float64(lo%m.NX)+r.Float64())*m.Cell, Y: m.South + (float64(lo/m.NX)+r.Float64())*m.Cell}
		var when []float64
		for _, rt := range pl.Searchers {
			for _, l := range rt.Legs {
				d := l.b().Sub(l.a())
				len2 := d.X*d.X + d.Y*d.Y
				if l.Kind != SearchLeg || len2 == 0 {
					continue
				}
				e := at.Sub(l.a())
				s := (e.X*d.X + e.Y*d.Y) / len2
				if s >= 0 && s < 1 && math.Abs(e.X*d.Y-e.Y*d.X)/math.Sqrt(len2) <= l.SweepWidth/2 {
					when = append(when, l.StartMin+s*(l.EndMin-l.StartMin))
				}
			}
		}
		pos += (1 - math.Exp(-float64(len(when)))) / float64(n)
		mean += expect(when, pl.Minutes) / float64(n)
	}
	return pos, mean
}

// expect returns the mean time of the first of independent detections, each
// with chance 1 - 1/e, and end without one.
func expect(when []float64, end float64) float64 {
	left, sum, last := 1.0, 0.0, 0.0
	for range when {
		next := math.Inf(1)
		for _, w := range when {
			if w > last {
				next = math.Min(next, w)
			}
		}
		if math.IsInf(next, 1) {
			break
		}
		sum += left * (next - last)
		for _, w := range when {
			if w == next {
				left /= math.E
			}
		}
		last = next
	}
	return sum + left*(end-last)
}

func poly(xy ...float64) plane.Polygons {
	var r plane.Ring
	for i := 0; i < len(xy); i += 2 {
		r = append(r, geo.XY{X: xy[i], Y: xy[i+1]})
	}
	return plane.Polygons{{append(r, r[0])}}
}

func walkers(n int, at geo.XY, minutes float64) []Searcher {
	names := []string{"ana", "ben", "cleo", "dan", "eva", "fin"}
	var out []Searcher
	for i := range n {
		out = append(out, Searcher{Name: names[i], Kind: Walker, Speed: 3.2 / 3.6, Start: at.Add(geo.XY{X: 15 * float64(i)}), Available: minutes * 60})
	}
	return out
}

func scout(at geo.XY, minutes float64) Searcher {
	return Searcher{Name: "scout", Kind: Drone, Speed: 6, Height: 30, FieldDeg: 72, Pixels: 3840, Sortie: 18 * 60, Recharge: 240, Reach: 600, Start: at, Available: minutes * 60}
}

var rocket = Target{Length: 1.65, Width: 0.076, Colour: "lime", SeenAt: map[string]float64{"short grass": 20, "crop": 10}}

func TestPlansStandUpToAnAudit(t *testing.T) {
	river := &ground.Ground{
		Barriers:  []ground.Barrier{{Name: "river", Line: plane.Line{{X: -900, Y: 260}, {X: -200, Y: 240}, {X: 150, Y: 300}, {X: 900, Y: 250}}}},
		Crossings: []geo.XY{{X: -200, Y: 240}},
	}
	patches := &ground.Ground{
		Covers: []ground.Cover{{Class: "short grass", Area: poly(-800, -800, 800, -800, 800, 800, -800, 800)}, {Class: "crop", Area: poly(100, -500, 700, -500, 600, 600, 150, 500)}},
		NoGo: []ground.NoGo{
			{Name: "pond", For: ground.All, Area: poly(180, 150, 300, 140, 320, 260, 200, 280)},
			{Name: "paddock", For: ground.Walkers, Area: poly(350, -100, 460, -100, 460, 80, 400, 20, 350, 80)},
			{Name: "yard", For: ground.Drones, Area: poly(0, 300, 60, 300, 60, 360, 0, 360)},
		},
	}
	for _, c := range []struct {
		name string
		p    Problem
	}{
		{"round, one walker", Problem{Map: cloud(10, blob{geo.XY{X: 250, Y: 120}, 110, 110, 0, 1}), Searchers: walkers(1, geo.XY{}, 60)}},
		{"long, three walkers and a drone", Problem{Map: cloud(10, blob{geo.XY{X: 300, Y: 200}, 220, 70, 35, 1}), Searchers: append(walkers(3, geo.XY{}, 60), scout(geo.XY{X: 20, Y: 10}, 60))}},
		{"two modes", Problem{Map: cloud(12, blob{geo.XY{X: -200, Y: 100}, 70, 50, 0, 0.6}, blob{geo.XY{X: 450, Y: 300}, 90, 60, 60, 0.4}), Searchers: walkers(2, geo.XY{}, 75)}},
		{"long walk-in", Problem{Map: cloud(12, blob{geo.XY{X: 1500, Y: 0}, 120, 80, 20, 1}), Searchers: walkers(2, geo.XY{}, 110)}},
		{"river with one bridge", Problem{Map: cloud(12, blob{geo.XY{X: 200, Y: 350}, 150, 100, 10, 1}), Searchers: walkers(2, geo.XY{}, 80), Ground: river}},
		{"patches", Problem{Map: cloud(10, blob{geo.XY{X: 250, Y: 100}, 160, 130, 50, 1}), Searchers: append(walkers(2, geo.XY{}, 60), scout(geo.XY{X: -40}, 45)), Ground: patches}},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.p.Target = rocket
			pl, err := Make(context.Background(), c.p, Options{})
			require.NoError(t, err)
			audit(t, c.p, pl)
			for _, r := range pl.Searchers {
				along, mean, short := shape(r)
				require.Greater(t, along, 0.5, "%s: share of the way on one axis", r.Name)
				require.Greater(t, mean, 80.0, "%s: mean leg (m)", r.Name)
				require.LessOrEqual(t, short, 2, "%s: legs under 15 m", r.Name)
			}
			for _, k := range []Pattern{ExpandingSquare, Parallel, Sector, nearestFirst} {
				q, err := Make(context.Background(), c.p, Options{Pattern: k})
				require.NoError(t, err, k)
				audit(t, c.p, q)
				require.Less(t, pl.MeanToFind, q.MeanToFind, "slower than %s", k)
				require.GreaterOrEqual(t, pl.POS, q.POS, "finds less than %s", k)
				t.Logf("%-16s %.3f of its mean time, POS %.3f to %.3f", k, pl.MeanToFind/q.MeanToFind, pl.POS, q.POS)
			}
		})
	}
}
