package search

import (
	"context"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"windfall/geo"
	"windfall/geo/grid"
)

// blob is a normal cloud.
type blob struct {
	at     geo.XY
	sx, sy float64
	turn   float64 // degrees, of the x axis, anticlockwise
	share  float64
}

// cloud makes a map of normal clouds, the rest outside.
func cloud(cell float64, blobs ...blob) *grid.Map {
	x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, b := range blobs {
		r := 3.5 * math.Max(b.sx, b.sy)
		x0, x1 = math.Min(x0, b.at.X-r), math.Max(x1, b.at.X+r)
		y0, y1 = math.Min(y0, b.at.Y-r), math.Max(y1, b.at.Y+r)
	}
	m := &grid.Map{West: x0, South: y0, Cell: cell, NX: int((x1-x0)/cell) + 1, NY: int((y1-y0)/cell) + 1}
	m.Frame.Origin = [2]float64{-5.5, 39.05}
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

func TestFirst(t *testing.T) {
	m := cloud(10, blob{geo.XY{X: 300, Y: 200}, 200, 120, 30, 1})
	p := Problem{Map: m, Target: Target{Length: 1.65, Width: 0.076, Colour: "lime", SeenAt: map[string]float64{"short grass": 20}},
		Searchers: []Searcher{{Name: "east", Kind: Walker, Speed: 3 / 3.6, Available: 5400},
			{Name: "scout", Kind: Drone, Speed: 6, Height: 30, FieldDeg: 72, Pixels: 3840, Sortie: 18 * 60, Recharge: 240, Reach: 500, Available: 3600}}}
	for _, pat := range []Pattern{"", ExpandingSquare, Parallel, Sector, nearestFirst} {
		pl, err := Make(context.Background(), p, Options{Pattern: pat})
		require.NoError(t, err)
		require.InDelta(t, 1, pl.POS+pl.Left, 1e-9)
		fmt.Println(pat, pl.POS, pl.UpperBound, pl.MeanToFind, pl.MeanIfFound, pl.Minutes, len(pl.Searchers[0].Legs), len(pl.Searchers[1].Legs), pl.Searchers[1].Minutes)
	}
}

func show(pl *Plan) {
	for _, r := range pl.Searchers {
		for _, l := range r.Legs {
			fmt.Printf("%s %d %s (%.0f,%.0f)-(%.0f,%.0f) %.3f-%.3f w%.0f poa %.4f pod %.3f pos %.5f\n", r.Name, l.N, l.Kind, l.From.East, l.From.North, l.To.East, l.To.North, l.StartMin, l.EndMin, l.SweepWidth, l.POA, l.POD, l.POS)
		}
	}
}
