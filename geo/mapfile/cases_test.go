package mapfile

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"windfall/geo"
	"windfall/geo/grid"
	"windfall/geo/plane"
)

// small is demo on a coarser map.
func small() *Landing {
	l := demo()
	l.Chance = demoMap(l.Frame, 60, 20)
	l.Areas = l.Chance.Contours([]float64{0.5, 0.75, 0.9, 0.95})
	return l
}

// awkward are landings that no writer may trip over.
func awkward() map[string]*Landing {
	cases := map[string]*Landing{"demo": small(), "nothing": {}, "map alone": small(), "empty plan": small()}
	cases["map alone"].Plan = nil
	cases["empty plan"].Plan = &Plan{}
	cases["nothing"].Plan = &Plan{Searchers: []Route{{}}}

	hostile := small()
	evil := "<b>&\"'🚀\x00\x1b]]>\u2028</script>\uffff{{.}} \n" + strings.Repeat("x", 300)
	hostile.Title, hostile.Subtitle, hostile.Cautions, hostile.Contacts = evil, evil, []string{evil}, []string{evil}
	hostile.NoGo[0].Name, hostile.Barriers[0].Name, hostile.Outlines[0].Name, hostile.Parts[0].Name = evil, evil, evil, evil
	hostile.Rays[0].By, hostile.Rays[0].Text, hostile.Covered[0].By = evil, evil, evil
	hostile.Spots = []Spot{{Name: evil, At: geo.XY{X: 3}}}
	for i := range hostile.Plan.Searchers {
		hostile.Plan.Searchers[i].Name, hostile.Plan.Searchers[i].Kind = evil, evil
		hostile.Plan.Searchers[i].StartName = evil
	}
	cases["hostile names"] = hostile

	many := small()
	rng := rand.New(rand.NewPCG(3, 4))
	track := Strip{By: "Ada", Width: 16}
	for i := range 5000 {
		t := float64(i) / 100
		track.Path = append(track.Path, geo.XY{X: 300 + 200*math.Sin(t), Y: 4*float64(i)/50 - 100 + 0.3*rng.NormFloat64()})
	}
	many.Covered = append(many.Covered, track)
	cases["a long track"] = many

	crowd := small()
	for i := range 40 {
		r := crowd.Plan.Searchers[i%4]
		r.Name = fmt.Sprintf("searcher %d", i)
		crowd.Plan.Searchers = append(crowd.Plan.Searchers, r)
	}
	cases["44 searchers"] = crowd

	flat := small()
	flat.Areas = []grid.Area{{Probability: 0.5}, {Probability: 0.9, Shape: plane.Polygons{{}, {corners(1, 1, 1, 1, 1, 1)}, {corners(0, 0, 10, 0)}}}}
	flat.NoGo = []Zone{{}}
	flat.Barriers = []Line{{Path: []geo.XY{{X: 1}}}, {}}
	flat.Covered = []Strip{{}, {Path: []geo.XY{{X: 1}, {X: 1}}, Width: 5}}
	flat.Rays = []Ray{{BearingDeg: 720, SpreadDeg: 400}, {}}
	flat.Ellipses = []grid.Ellipse{{Probability: 0.5}}
	flat.Chance = &grid.Map{Frame: flat.Frame, Cell: 10, NX: 1, NY: 1, P: []float64{1}}
	cases["shapes of nothing"] = flat

	for name, at := range map[string]orb.Point{
		"antimeridian, from the west": {179.9985, -17}, "antimeridian, from the east": {-179.9985, 17}, "on the antimeridian": {180, 52},
		"equator": {0, 0}, "north pole": {0, 90}, "south pole": {77, -90}, "near the pole": {-120, 89.998}, "polar": {20, 85},
	} {
		l := small()
		l.Frame.Origin, l.Chance.Frame.Origin = at, at
		cases[name] = l
	}
	return cases
}

// eachCase runs f on every awkward landing.
func eachCase(t *testing.T, f func(t *testing.T, l *Landing)) {
	for name, l := range awkward() {
		t.Run(name, func(t *testing.T) { f(t, l) })
	}
}
