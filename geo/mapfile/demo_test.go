package mapfile

import (
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"windfall/geo"
	"windfall/geo/grid"
	"windfall/geo/place"
	"windfall/geo/plane"
)

// demo is an invented evening at the invented site Garza: a bent cloud of
// chance with an island, four searchers, two sightings, a pond to keep out of.
func demo() *Landing {
	l := &Landing{
		Title: "garza-07", Subtitle: "14 March 2026, 10:30: after two sightings, search of 90 minutes",
		Frame:   geo.Frame{Origin: orb.Point{-5.5831, 39.0512}},
		Nominal: &geo.XY{X: 455, Y: 210}, Mean: &geo.XY{X: 480, Y: 235},
	}
	d := 1.4
	l.Declination = &d
	l.Chance = demoMap(l.Frame, 200, 6)
	l.Areas = l.Chance.Contours([]float64{0.5, 0.75, 0.9, 0.95})
	l.Ellipses = []grid.Ellipse{
		{Probability: 0.5, SemiMajor: 190, SemiMinor: 85, AzimuthDeg: 62},
		{Probability: 0.9, SemiMajor: 346, SemiMinor: 155, AzimuthDeg: 62},
	}
	l.Rays = []Ray{
		{By: "Ines", From: geo.XY{X: -80, Y: 30}, BearingDeg: 68, SpreadDeg: 3, Text: "at ejection, 31 s"},
		{By: "Tom & Ada", From: geo.XY{X: 150, Y: -220}, BearingDeg: 34, SpreadDeg: 5},
	}
	l.NoGo = []Zone{{Name: "reservoir", For: "walkers", Shape: plane.Polygons{{corners(620, 20, 760, 60, 740, 170, 640, 140, 620, 20)}}}}
	l.Outlines = []Zone{{Name: "field", Shape: plane.Polygons{{corners(-150, -250, 560, -200, 540, 460, -130, 400, -150, -250)}}}}
	l.Barriers = []Line{{Name: "stream", Path: []geo.XY{{X: 560, Y: -300}, {X: 600, Y: 0}, {X: 590, Y: 300}, {X: 680, Y: 600}}}}
	l.Crossings = []Spot{{Name: "plank bridge", At: geo.XY{X: 595, Y: 150}}}
	l.Covers = []Zone{{Name: "woodland", Shape: plane.Polygons{{corners(250, 350, 420, 360, 400, 470, 240, 450, 250, 350)}}}}
	l.Covered = []Strip{{By: "Ada", Path: []geo.XY{{X: 200, Y: 100}, {X: 300, Y: 160}, {X: 320, Y: 260}}, Width: 18, POD: 0.6}}
	pod := Landing{Mean: &geo.XY{X: 180, Y: 40}, Ellipses: []grid.Ellipse{{SemiMajor: 60, SemiMinor: 35, AzimuthDeg: 50}}}
	l.Parts = []Part{{Name: "camera pod", Chance: 0.06, Mean: *pod.Mean, Areas: []grid.Area{{Probability: 0.5, AreaM2: math.Pi * 60 * 35, Shape: plane.Polygons{pod.ellipse(0)}}}}}
	l.Cautions = []string{
		"Ask before you enter ground that is not yours; keep out of the hatched areas.",
		"Do not touch power lines, and never climb for a rocket. Call the grid operator.",
		"An ejection charge or motor may still be live: stand off, look, disarm before you lift it.",
	}
	l.Plan = demoPlan()
	return l
}

// corners is a ring, or a line, of x, y after x, y.
func corners(xy ...float64) plane.Ring {
	var r plane.Ring
	for i := 0; i < len(xy); i += 2 {
		r = append(r, geo.XY{X: xy[i], Y: xy[i+1]})
	}
	return r
}

// demoMap is a density of three bumps on n by n cells.
func demoMap(f geo.Frame, n int, cell float64) *grid.Map {
	m := &grid.Map{Frame: f, West: -150, South: -350, Cell: cell, NX: n, NY: n, P: make([]float64, n*n), Outside: 0.004}
	sum := 0.0
	for k := range m.P {
		c := m.Centre(k%n, k/n)
		for _, b := range []struct{ x, y, s, t, w float64 }{{470, 230, 150, 90, 1}, {300, 60, 60, 60, 0.35}, {700, 480, 50, 40, 0.12}} {
			dx, dy := (c.X-b.x)/b.s, (c.Y-b.y-0.0006*(c.X-b.x)*(c.X-b.x))/b.t
			m.P[k] += b.w * math.Exp(-(dx*dx+dy*dy)/2) / (b.s * b.t)
		}
		hole := c.Sub(geo.XY{X: 380, Y: 170}).Norm() / 45 // looked at already
		m.P[k] *= 1 - 0.95*math.Exp(-hole*hole/2)
		sum += m.P[k]
	}
	for k := range m.P {
		m.P[k] *= (1 - m.Outside) / sum
	}
	return m
}

func demoPlan() *Plan {
	p := &Plan{Begin: time.Date(2026, 3, 14, 9, 50, 0, 0, time.UTC), Minutes: 90, POS: 0.81, UpperBound: 0.88, Enough: Enough{12, 0.74}}
	rng := rand.New(rand.NewPCG(1, 2))
	for i, s := range []Route{
		{Name: "east", Kind: "walker", Start: geo.XY{X: 40, Y: -60}, StartName: "car park", SweepWidth: 18, Pace: 0.75},
		{Name: "north", Kind: "walker", Start: geo.XY{X: 40, Y: -60}, SweepWidth: 14},
		{Name: "lane", Kind: "walker", Start: geo.XY{X: 500, Y: -180}, SweepWidth: 18},
		{Name: "scout", Kind: "drone", Start: geo.XY{X: 0, Y: 20}, SweepWidth: 42, Height: 30},
	} {
		at, t := s.Start, 0.0
		speed := []float64{50, 50, 50, 360}[i]
		leg := func(to geo.XY, kind string) {
			g := Leg{N: len(s.Legs) + 1, Kind: kind, From: at, To: to, StartMin: t}
			t += to.Sub(at).Norm() / speed
			if kind == "recharge" {
				t += 4
			}
			g.EndMin = math.Round(t*1000) / 1000
			if kind == "search" {
				g.SweepWidth, g.POA, g.POD = s.SweepWidth, 0.02+0.04*rng.Float64(), 0.5+0.3*rng.Float64()
				g.POS = g.POA * g.POD
			}
			s.Legs, at = append(s.Legs, g), to
		}
		x, y := 330+70*float64(i%3), 140+60*float64(i/2)
		leg(geo.XY{X: x, Y: y}, "transit")
		for j := range 6 {
			fj := float64(j)
			leg(geo.XY{X: x + 120*float64((j+1)%2), Y: y + fj*s.SweepWidth}, "search")
			leg(geo.XY{X: x + 120*float64((j+1)%2), Y: y + (fj+1)*s.SweepWidth}, "search")
		}
		leg(s.Start, "return")
		if s.Kind == "drone" {
			leg(s.Start, "recharge")
		}
		s.Minutes = t
		if s.Name != "lane" { // she is told leg by leg
			s.Blocks = []Block{demoBlock(&s, routeLetter(i)+"1")}
		}
		p.Searchers = append(p.Searchers, s)
	}
	return p
}

// demoBlock makes a block of a route's search legs.
func demoBlock(s *Route, name string) Block {
	b := Block{Name: name, Lanes: 6, Lane: 120, Spacing: s.SweepWidth, Out: 90, Back: 270, StartMin: math.Inf(1)}
	for i := range s.Legs {
		if g := &s.Legs[i]; g.Kind == Search {
			if math.IsInf(b.StartMin, 1) {
				b.Begin, b.StartMin = g.From, g.StartMin
			}
			g.Block, b.End, b.EndMin, b.POA, b.POS = name, g.To, g.EndMin, b.POA+g.POA, b.POS+g.POS
		}
	}
	b.POD, b.Sum = b.POS/b.POA, b.POS
	return b
}

func TestRenderForTheEye(t *testing.T) {
	dir := os.Getenv("WINDFALL_LOOK")
	if dir == "" {
		t.Skip("WINDFALL_LOOK=folder writes every file there to be looked at")
	}
	l := demo()
	o := Options{Grid: place.MGRS, Formats: []string{"kml", "kmz", "gpx", "geojson", "png", "svg", "sheet"}}
	files, err := Files(l, o)
	require.NoError(t, err)
	l.Plan = nil
	more, err := Files(l, o)
	require.NoError(t, err)
	for _, f := range append(files, more...) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, f.Name), f.Data, 0o644))
	}
}
