package situation_test

import (
	"context"
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/flightfile"
	. "windfall/cmd/windfall/internal/situation"
	"windfall/drift/compare"
	"windfall/drift/evidence"
	"windfall/geo"
	"windfall/geo/plane"
	"windfall/search"
	"windfall/search/detect"
)

const flightText = `flight: heron-01
when: 2026-05-02T12:00:00+02:00
site: {pad: "41.9050, -4.9210", elevation: 700 m, ceiling: 500 m}
rail: {length: 1.5 m}
vehicle: {mass: 600 g, diameter: 54 mm, length: 1.2 m}
motor: {impulse: 100 N s, burn: 1.2 s, delay: 7 s, propellant: 60 g}
recovery: [{device: parachute, trigger: ejection, descent_rate: 5 m/s}]
wind: [{height: 2 m, from: 210 deg, speed: 9 mph}]
parts: [{name: pod, mass: 30 g, drag_area: 20 cm2, sheds: {between: [burnout, apogee]}, chance: 5 %}]
searchers:
  - {name: east, kind: walker, speed: 3 km/h, available: 30 min}
  - {name: west, kind: walker, speed: 3 km/h, available: 30 min}
target: {size: 1.2 m by 54 mm, colour: lime, seen_at: {short grass: 17 m}}
`

// input is a small flight as read, with lines of its file replaced.
func input(t testing.TB, replace ...string) Input {
	t.Helper()
	text := strings.NewReplacer(replace...).Replace(flightText)
	f, err := flightfile.Parse("heron/flight.yaml", []byte(text), nil)
	require.NoError(t, err)
	m, err := f.Model()
	require.NoError(t, err)
	return Input{Flight: f.Flight, Model: m, Field: f.Field, Ground: f.Ground, Searchers: f.Searchers, Target: f.Target,
		Assumed: f.Assumed, Cautions: f.Warnings}
}

func predict(t testing.TB, in Input) *State {
	t.Helper()
	s, err := Predict(context.Background(), in, Options{Runs: 2000, Seed: 1})
	require.NoError(t, err)
	return s
}

// track is a straight way through the middle of a state's map.
func track(s *State, law detect.Law, length float64) Track {
	m := s.Moments.Mean
	return Track{By: "Ines", Law: law, Width: 20, Searcher: search.Searcher{Kind: search.Walker, Speed: 1},
		Lines: [][]geo.XY{{{X: m.X - length/2, Y: m.Y}, {X: m.X + length/2, Y: m.Y}}}}
}

func TestPredictIsTheSameTwice(t *testing.T) {
	in := input(t)
	a, b := predict(t, in), predict(t, in)
	assert.Equal(t, a.Map.P, b.Map.P)
	assert.Equal(t, a.Moments, b.Moments)
	require.Len(t, a.Parts, 1)
	assert.Equal(t, "pod", a.Parts[0].Name)
	assert.NotNil(t, a.Parts[0].Map)
}

// The chance that a track had to find it is the share of the runs' weight that
// it does not miss; what is left of each run is its weight times the chance to
// have been missed, and the map falls likewise: Bayes, counted run by run. The
// state before is not touched.
func TestWithoutIsBayes(t *testing.T) {
	for _, law := range []detect.Law{"", detect.Exponential, detect.InverseCube} {
		before := predict(t, input(t))
		p, mean := append([]float64{}, before.Map.P...), before.Moments.Mean
		tr := track(before, law, 600)
		after, pos, err := Without(before, tr)
		require.NoError(t, err)
		assert.Equal(t, p, before.Map.P)
		assert.Equal(t, mean, before.Moments.Mean)
		assert.Empty(t, before.Input.Tracks)

		passes := search.Passes(tr.Lines, tr.Searcher, before.Input.Target, nil)
		if law == "" {
			law = detect.Exponential
		}
		missed := search.Missed(law, passes)
		total, want := 0.0, make([]float64, len(before.Cloud.Landings))
		for i, l := range before.Cloud.Landings {
			want[i] = missed(l.At) / float64(len(want))
			total += want[i]
		}
		for i := range want {
			want[i] /= total
		}
		assert.InDeltaSlice(t, want, after.Cloud.Weights, 1e-12)
		assert.Equal(t, pos, after.FoundBy)
		assert.InDelta(t, 1-total, pos, 0.02, "the map's POS against the runs': smoothing moves some over the strip's edge")
		var sum float64
		for _, v := range after.Map.P {
			sum += v
		}
		assert.InDelta(t, 1, sum+after.Map.Outside, 1e-9)
	}
}

// Ground looked at in pictures is taken out of the map like ground walked over,
// and drawn; two looks at one place count as the better one.
func TestLookedAtIsBayes(t *testing.T) {
	before := predict(t, input(t))
	m := before.Moments.Mean
	area := func(chance float64) Track {
		r := plane.Rectangle(m.X-100, m.Y-100, m.X+100, m.Y+100)
		return Track{By: "scout", Looked: &search.Survey{Areas: []search.Looked{{Ground: r, Chance: chance}}}}
	}
	after, pos, err := Without(before, area(0.8))
	require.NoError(t, err)
	inside := 0.0
	for _, l := range before.Cloud.Landings {
		if math.Abs(l.At.X-m.X) <= 100 && math.Abs(l.At.Y-m.Y) <= 100 {
			inside += 1 / float64(len(before.Cloud.Landings))
		}
	}
	require.Greater(t, inside, 0.05)
	assert.InDelta(t, 0.8*inside, pos, 0.02, "the map's POS against the runs': smoothing moves some over the edge")
	assert.InDelta(t, pos, after.FoundBy, 1e-12)
	both, posBoth, err := Without(before, area(0.3), area(0.8))
	require.NoError(t, err)
	assert.InDelta(t, pos, posBoth, 1e-12)
	assert.InDeltaSlice(t, after.Map.P, both.Map.P, 1e-12)
	assert.InDeltaSlice(t, after.Cloud.Weights, both.Cloud.Weights, 1e-12)

	r, err := Summarise(after, SummaryOptions{})
	require.NoError(t, err)
	l := Layers(after, r)
	require.Len(t, l.Covered, 1)
	assert.InDelta(t, 200, l.Covered[0].Width, 1e-9)
	assert.InDelta(t, 200, l.Covered[0].Path[1].Sub(l.Covered[0].Path[0]).Norm(), 1e-9)
	assert.Equal(t, 0.8, l.Covered[0].POD)
}

// Two tracks one after the other leave what both at once do, whatever the law
// of each; together they find it with 1 - (1-a)(1-b).
func TestTracksAdd(t *testing.T) {
	s := predict(t, input(t))
	a, b := track(s, detect.Exponential, 500), track(s, detect.InverseCube, 300)
	first, posA, err := Without(s, a)
	require.NoError(t, err)
	second, posB, err := Without(first, b)
	require.NoError(t, err)
	both, _, err := Without(s, a, b)
	require.NoError(t, err)
	assert.InDelta(t, 1-(1-posA)*(1-posB), second.FoundBy, 1e-12)
	assert.InDelta(t, second.FoundBy, both.FoundBy, 1e-9)
	assert.InDeltaSlice(t, second.Cloud.Weights, both.Cloud.Weights, 1e-12)
	assert.Len(t, both.Input.Tracks, 2)
	assert.Same(t, s.Unwalked, both.Unwalked)

	// Read with the flight, they make the same map.
	in := s.Input
	in.Tracks = []Track{a, b}
	read, err := Locate(context.Background(), in, Options{Runs: 2000, Seed: 1})
	require.NoError(t, err)
	assert.InDeltaSlice(t, both.Map.P, read.Map.P, 1e-12)
}

func TestLocateInAnyCase(t *testing.T) {
	in := input(t)
	at := in.Model.Frame().Place(geo.XY{X: 0, Y: -500})
	bearing := func(id int64, deg float64) evidence.Sighting {
		return evidence.Sighting{ID: id, By: "Rui", Kind: evidence.Bearing{
			Observer: evidence.Observer{From: &at}, Moment: evidence.Moment{Event: "landing"}, BearingDeg: &deg, BearingSD: 0.5}}
	}
	in.Sightings = []evidence.Sighting{bearing(1, 90), bearing(2, 270)}
	_, err := Locate(context.Background(), in, Options{Runs: 2000, Seed: 1})
	var c *evidence.Contradiction
	require.ErrorAs(t, err, &c)
	s, err := Locate(context.Background(), in, Options{Runs: 2000, Seed: 1, Always: true})
	require.NoError(t, err)
	r, err := Summarise(s, SummaryOptions{})
	require.NoError(t, err)
	assert.NotEmpty(t, r.Cautions)

	seen := s.Moments.Mean
	in.Sightings = []evidence.Sighting{bearing(3, seen.Sub(geo.XY{X: 0, Y: -500}).BearingDeg())}
	s, err = Locate(context.Background(), in, Options{Runs: 2000, Seed: 1})
	require.NoError(t, err)
	r, err = Summarise(s, SummaryOptions{})
	require.NoError(t, err)
	require.Len(t, r.Sightings, 1)
	assert.True(t, r.Sightings[0].MovedMost)
	assert.Less(t, r.Landing.Within(0.9), r.Prior.Landing.Within(0.9))
	assert.Len(t, Layers(s, r).Rays, 1)
}

// What a plan does for what lies at a place, against the laws by hand: an
// exponential pass within half the sweep width misses with 1/e; an inverse-cube
// pass at distance x with exp(-W^2/(4 pi x^2)) (Koopman 1980, from memory).
func TestPlanWorth(t *testing.T) {
	leg := func(kind search.LegKind, y, start float64) search.Leg {
		return search.Leg{Kind: kind, From: geo.Place{East: 0, North: y}, To: geo.Place{East: 100, North: y}, StartMin: start, EndMin: start + 10, SweepWidth: 20}
	}
	p := &search.Plan{Searchers: []search.Route{
		{Legs: []search.Leg{leg(search.SearchLeg, 8, 30), leg(search.TransitLeg, 0, 0)}},
		{Legs: []search.Leg{leg(search.SearchLeg, -5, 10)}},
	}}
	q := geo.XY{X: 25, Y: 0}
	w := PlanWorth(p, q, detect.Exponential)
	assert.InDelta(t, 1-math.Exp(-2), w.Probability, 1e-12)
	assert.InDelta(t, 12.5, *w.First, 1e-9)
	a, b := 1-math.Exp(-1), math.Exp(-1)*(1-math.Exp(-1))
	assert.InDelta(t, (a*12.5+b*32.5)/(a+b), *w.Mean, 1e-9)

	miss := func(x float64) float64 { return math.Exp(-20 * 20 / (4 * math.Pi * x * x)) }
	assert.InDelta(t, 1-miss(8)*miss(5), PlanWorth(p, q, detect.InverseCube).Probability, 1e-12)

	none := PlanWorth(p, geo.XY{X: 25, Y: 60}, detect.Exponential)
	assert.Equal(t, Worth{}, none)
}

func TestJudge(t *testing.T) {
	s := predict(t, input(t))
	mean := s.Moments.Mean
	j, err := Judge(s, Find{At: mean})
	require.NoError(t, err)
	assert.InDelta(t, 0, j.Miss, 1e-9)
	assert.Less(t, j.Level, 0.5)
	assert.Equal(t, []float64{0.5, 0.75, 0.9, 0.95}, j.Inside)
	assert.Nil(t, j.Unwalked)

	far := Find{At: mean.Add(geo.XY{X: 5000, Y: 0})}
	j, err = Judge(s, far)
	require.NoError(t, err)
	assert.InDelta(t, 5000, j.Miss, 1e-9)
	assert.InDelta(t, 90, j.Bearing, 1e-9)
	assert.Equal(t, 1.0, j.Level)
	assert.Empty(t, j.Inside)

	// One standard deviation along an axis of the 39.3 % ellipse is one.
	e := s.Moments.Ellipse(1 - math.Exp(-0.5))
	rad := e.AzimuthDeg * math.Pi / 180
	along := geo.XY{X: math.Sin(rad), Y: math.Cos(rad)}.Scale(e.SemiMajor)
	j, err = Judge(s, Find{At: mean.Add(along)})
	require.NoError(t, err)
	assert.InDelta(t, 1, j.MissSD, 1e-6)

	after, _, err := Without(s, track(s, "", 800))
	require.NoError(t, err)
	j, err = Judge(after, Find{At: mean})
	require.NoError(t, err)
	require.NotNil(t, j.Unwalked)
	assert.Less(t, *j.Unwalked, j.Level, "its own hollow")

	j, err = Judge(s, Find{At: s.Parts[0].Moments.Mean, Part: "pod"})
	require.NoError(t, err)
	assert.Less(t, j.Level, 0.5)
	for _, c := range []struct {
		find Find
		says string
	}{
		{Find{Part: "fin"}, `part "fin" is not in the flight file; write pod`},
		{Find{Outcome: "lost"}, `outcome "lost" is not one of this flight's; write nominal`},
	} {
		_, err := Judge(s, c.find)
		assert.ErrorContains(t, err, c.says)
	}
	assert.False(t, Find{At: mean.Add(mean)}.Mistyped(context.Background(), s.Input))
	assert.True(t, Find{At: geo.XY{X: 20e3}}.Mistyped(context.Background(), s.Input))
}

func TestPlans(t *testing.T) {
	ctx := context.Background()
	s := predict(t, input(t))
	plan := func(o PlanOptions) (*Plan, error) {
		o.Pattern = search.Parallel
		return MakePlan(ctx, s, o)
	}
	p, err := plan(PlanOptions{})
	require.NoError(t, err)
	assert.Equal(t, s.Input.Flight.When, p.Begin)
	assert.Same(t, s, p.State, "nothing about the state changes")
	assert.Greater(t, p.POS, 0.0)

	r, err := SummarisePlan(p)
	require.NoError(t, err)
	l := PlanLayers(p, r)
	require.Len(t, l.Plan.Searchers, 2)
	assert.Len(t, l.Plan.Searchers[0].Legs, len(p.Searchers[0].Legs))

	// Sunset there on that day is at 21:19, the end of civil twilight at 21:49
	// local time, as the summary has them; half an hour of search ends by it.
	evening := time.Date(2026, 5, 2, 21, 30, 0, 0, time.FixedZone("", 7200))
	short, err := plan(PlanOptions{Begin: evening})
	require.NoError(t, err)
	for _, who := range short.Searchers {
		assert.LessOrEqual(t, who.Minutes, 20.0)
	}
	dark := evening.Add(2 * time.Hour)
	_, err = plan(PlanOptions{Begin: dark})
	assert.ErrorIs(t, err, ErrDark)
	_, err = plan(PlanOptions{Begin: dark, AfterDark: true})
	assert.NoError(t, err)

	changed, err := plan(PlanOptions{Change: &Change{At: 600, Leaves: []string{"east"}, Joins: []string{"west"}}})
	require.NoError(t, err)
	assert.Equal(t, s.Input.Flight.When.Add(10*time.Minute), changed.Begin)
	require.Len(t, changed.Searchers, 1)
	assert.Equal(t, "west", changed.Searchers[0].Name)
	assert.NotSame(t, s.Map, changed.State.Map)
	assert.Len(t, s.Input.Searchers, 2, "the state before is not touched")
	_, err = plan(PlanOptions{Change: &Change{At: 600, Joins: []string{"north"}}})
	assert.ErrorContains(t, err, `joins "north": not all are searchers`)

	alone := *s
	alone.Input.Searchers = nil
	p, err = MakePlan(ctx, &alone, PlanOptions{Pattern: search.Parallel})
	require.NoError(t, err)
	assert.Contains(t, strings.Join(p.State.Input.Assumed, "\n"), "searchers: one walker from the pad")
	assert.Empty(t, alone.Input.Searchers)
}

// Who is missing from the likely ground, or in it without hope, is told to stop.
func TestLeftAfter(t *testing.T) {
	ctx := context.Background()
	in := input(t, "available: 30 min", "available: 5 min")
	before := predict(t, in)
	after, pos, err := Without(before, track(before, "", 400))
	require.NoError(t, err)
	left, err := LeftAfter(ctx, before, after, pos, PlanOptions{})
	require.NoError(t, err)
	assert.Equal(t, pos, left.POS)
	require.NotNil(t, left.NextHour)
	assert.Contains(t, left.Advice, "going on is worth while")
	assert.Len(t, left.Outcomes, len(in.Model.Outcomes()))

	lost := *after
	m := *after.Map
	m.P = append([]float64{}, m.P...)
	for i := range m.P {
		m.P[i] *= 0.4 / (1 - m.Outside)
	}
	m.Outside = 0.6
	lost.Map = &m
	left, err = LeftAfter(ctx, before, &lost, pos, PlanOptions{})
	require.NoError(t, err)
	assert.Contains(t, left.Advice, "more likely outside the map than in it: stop")

	stopped, cancel := context.WithCancel(ctx)
	cancel()
	_, err = LeftAfter(stopped, before, after, pos, PlanOptions{})
	assert.ErrorIs(t, err, context.Canceled)
}

func TestSummary(t *testing.T) {
	s := predict(t, input(t))
	r, err := Summarise(s, SummaryOptions{BeforeLaunch: true})
	require.NoError(t, err)
	sum := 0.0
	for _, o := range r.Outcomes {
		sum += o.Probability
	}
	assert.InDelta(t, 1, sum, 1e-9)
	assert.Equal(t, s.Map.Area(0.9), r.Landing.Within(0.9))
	assert.True(t, math.IsNaN(r.Landing.Within(0.33)))
	assert.Contains(t, r.RulesNote, "no figures of this country")
	assert.NotEmpty(t, r.Sensitivity)
	assert.Equal(t, "above ceiling", r.Places[len(r.Places)-1].Name)
	require.NotNil(t, r.Sun)
	assert.EqualValues(t, "daylight", r.Light)
	text, err := json.Marshal(r)
	require.NoError(t, err)
	assert.Contains(t, string(text), `"flight":"heron-01","seed":1,"runs":2000,`)

	after, _, err := Without(s, track(s, "", 400))
	require.NoError(t, err)
	r, err = Summarise(after, SummaryOptions{})
	require.NoError(t, err)
	assert.Empty(t, r.Sensitivity)
	require.NotNil(t, r.Parts[0].Landing)
	l := Layers(after, r)
	require.Len(t, l.Covered, 1)
	assert.Equal(t, "Ines", l.Covered[0].By)
	assert.Len(t, l.Parts, 1)
	assert.Len(t, l.Areas, 4)
	assert.NotNil(t, l.Declination)
}

// A card's bearings are those of the flight as designed from where its observer
// stands; the set chosen is the best of those tried.
func TestSpot(t *testing.T) {
	in := input(t)
	f := in.Model.Frame()
	cands := []evidence.Candidate{{Name: "gate", At: f.ToLonLat(geo.XY{X: -400, Y: 300})}, {Name: "barn", At: f.ToLonLat(geo.XY{X: 500, Y: 0})}}
	r, err := Spot(context.Background(), in, cands, evidence.SpotterOptions{N: 1, Seed: 1, SeesTo: 2000, Runs: 1000, Trials: 10})
	require.NoError(t, err)
	require.Len(t, r.Cards, 1)
	assert.Equal(t, r.Best[0].Places[0], r.Cards[0].Name)
	last := r.Cards[0].Events[len(r.Cards[0].Events)-1]
	at := geo.XY{X: r.Cards[0].East, Y: r.Cards[0].North}
	assert.Equal(t, "landing", last.Event)
	assert.InDelta(t, in.Model.Nominal().At.Sub(at).BearingDeg(), last.Bearing, 0.1)
	assert.Contains(t, strings.Join(r.Cautions, "\n"), "no terrain in the flight file")
}

func TestCompared(t *testing.T) {
	in := input(t)
	late := input(t, "delay: 7 s", "delay: 9 s")
	vary := func(settings []compare.Setting) (compare.Flight, error) {
		if settings[0].Value == "9 s" {
			return compare.Flight{Model: late.Model}, nil
		}
		return compare.Flight{Model: in.Model}, nil
	}
	o := compare.Options{Runs: 200, Seed: 1}
	table, err := compare.Run(context.Background(), compare.Input{Base: in.Model, Axes: []compare.Axis{{Key: "motor.delay", Values: []string{"7 s", "9 s"}}}, Vary: vary}, o)
	require.NoError(t, err)
	r := Compared(table, o)
	assert.Equal(t, "area", r.RankedBy)
	require.Len(t, r.Rows, 2)
	assert.NotEmpty(t, r.Reason)
	assert.InDelta(t, r.Rows[0].Centre.Distance, math.Hypot(r.Rows[0].Landing.Mean.East, r.Rows[0].Landing.Mean.North), 1e-9)
}
