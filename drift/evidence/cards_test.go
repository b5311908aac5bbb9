package evidence

import (
	"context"
	"math"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/drift"
	"windfall/drift/wind"
	"windfall/geo"
)

// hill is ground that rises 3 m in each 100 m to the east, and is not known
// beyond 5 km.
type hill struct{}

func (hill) Elevation(q geo.XY) (float64, bool) { return 400 + 0.03*q.X, math.Abs(q.X) < 5000 }

func cardFlight(t testing.TB, change func(*drift.Flight)) *drift.Model {
	impulse, burn, propellant, delay := 60.0, 1.2, 0.035, 6.0
	f := drift.Flight{
		When:     time.Date(2026, 4, 18, 10, 0, 0, 0, time.UTC),
		Site:     drift.Site{Pad: orb.Point{-4.9, 41.9}, Elevation: 400},
		Rail:     drift.Rail{Length: 1.5, LeanDeg: 4, TowardDeg: 200},
		Vehicle:  drift.Vehicle{Mass: 0.8, Diameter: 0.054, Length: 1.1, Drag: []drift.MachCd{{Cd: 0.55}}},
		Motor:    drift.Motor{Impulse: &impulse, Burn: &burn, Propellant: &propellant, Delay: &delay},
		Recovery: []drift.Device{{Kind: "streamer", CdS: 0.05, OpeningDelay: 0.5}},
		Wind: []wind.Choice{{Weight: 1, Profile: wind.Profile{Levels: []wind.Level{
			{Height: 10, Speed: 4, FromDeg: 200}, {Height: 300, Speed: 8, FromDeg: 215}}}}},
	}
	if change != nil {
		change(&f)
	}
	m, err := drift.Prepare(f)
	require.NoError(t, err)
	return m
}

// atPlace is a place east and north of the pad.
func atPlace(m *drift.Model, name string, q geo.XY) Candidate {
	return Candidate{Name: name, At: m.Frame().ToLonLat(q)}
}

func eventOf(t testing.TB, c Card, name string) CardEvent {
	for _, e := range c.Events {
		if e.Event == name {
			return e
		}
	}
	t.Fatalf("no %s in %v", name, c.Events)
	return CardEvent{}
}

// By hand: on level ground the landing lies 1.7 m below a standing person's
// eyes, at 40 m an elevation angle of -atan(1.7/40) = -2.434 degrees. An eye at
// 1.6 m would say -2.291, one at 16 m -21.8.
func TestCardEyeHeight(t *testing.T) {
	m := cardFlight(t, nil)
	down := m.Nominal().At
	cards, err := Cards(context.Background(), m, []Candidate{atPlace(m, "gate", down.Add(geo.XY{X: -40}))}, CardOptions{Runs: 40})
	require.NoError(t, err)
	e := eventOf(t, cards[0], "landing")
	assert.InDelta(t, -2.434, e.Height, 0.01)
	assert.InDelta(t, 40, e.Distance, 0.01)
	assert.InDelta(t, 90, e.Bearing, 0.05)
}

// On a hill that rises eastward the eye rises with the ground, 9 m at 300 m; by
// hand, from the foot of a landing 40 m to the west and 1.2 m lower.
func TestCardEyeOnAHill(t *testing.T) {
	m := cardFlight(t, func(f *drift.Flight) { f.Terrain = hill{} })
	down := m.Nominal().At
	cards, err := Cards(context.Background(), m, []Candidate{atPlace(m, "east", down.Add(geo.XY{X: 40}))}, CardOptions{Runs: 10})
	require.NoError(t, err)
	e := eventOf(t, cards[0], "landing")
	assert.InDelta(t, -math.Atan2(1.7+1.2, 40)*180/math.Pi, e.Height, 0.05)
	assert.InDelta(t, 270, e.Bearing, 0.05)
	_, err = Cards(context.Background(), m, []Candidate{atPlace(m, "far", geo.XY{X: 70e3})}, CardOptions{})
	assert.ErrorContains(t, err, "70 km from the pad")
}

// Angles are those of plane trigonometry from the nominal flight's own path;
// nine in ten of the drawn flights lie within each span.
func TestCardsSpanTheFlights(t *testing.T) {
	m := cardFlight(t, nil)
	stands := []Candidate{atPlace(m, "north", geo.XY{Y: 400}), atPlace(m, "pad", geo.XY{})}
	cards, err := Cards(context.Background(), m, stands, CardOptions{Runs: 200, Seed: 3})
	require.NoError(t, err)
	apogee := eventOf(t, cards[0], "apogee")
	n := m.Nominal()
	var top drift.Sample
	for _, s := range n.Path {
		if s.Z > top.Z {
			top = s
		}
	}
	assert.InDelta(t, math.Atan2(top.Z-1.7, math.Hypot(top.X, top.Y-400))*180/math.Pi, apogee.Height, 0.3)
	assert.InDelta(t, geo.NormDeg(math.Atan2(top.X, top.Y-400)*180/math.Pi), apogee.Bearing, 1)
	assert.InDelta(t, n.ApogeeS, apogee.At, 1e-9)
	for _, c := range cards {
		landing := eventOf(t, c, "landing")
		from := m.Frame().ToXY(orb.Point{c.Lon, c.Lat})
		in, total := 0, 200
		var w drift.Work
		var input drift.Input
		for i := range total {
			m.Draw(3, i, &input)
			d := m.Fly(input, &w).At.Sub(from)
			if geo.NormDeg(d.BearingDeg()-landing.Span[0]+1e-6) <= geo.NormDeg(landing.Span[1]-landing.Span[0])+2e-6 {
				in++
			}
		}
		assert.InDelta(t, 0.9, float64(in)/float64(total), 0.02, c.Name)
		assert.Positive(t, *c.Declination+3, "a few degrees at most in Spain")
		for i, e := range c.Events {
			assert.NotEqual(t, "burnout", e.Event)
			assert.True(t, e.AtSpan[0] <= e.At+1e-9 || e.Event != "apogee", e.Event)
			if i > 0 && e.Event != "landing" {
				assert.GreaterOrEqual(t, e.At-c.Events[i-1].At, 1.0)
			}
		}
		assert.Equal(t, "landing", c.Events[len(c.Events)-1].Event)
	}
}

// Without a time the declination is not known; a cancelled run is no card.
func TestCardsWithoutTime(t *testing.T) {
	m := cardFlight(t, func(f *drift.Flight) { f.When = time.Time{} })
	stands := []Candidate{atPlace(m, "gate", geo.XY{X: 100})}
	cards, err := Cards(context.Background(), m, stands, CardOptions{Runs: 10})
	require.NoError(t, err)
	assert.Nil(t, cards[0].Declination)
	ctx, stop := context.WithCancel(context.Background())
	stop()
	_, err = Cards(ctx, m, stands, CardOptions{})
	assert.ErrorIs(t, err, context.Canceled)
}

func TestSpanned(t *testing.T) {
	design := seenEvent{t: 5, bearing: 359, height: 10, distance: 7}
	e := spanned("x", design, []view{{"other": {}}})
	assert.Equal(t, CardEvent{Event: "x", At: 5, AtSpan: [2]float64{5, 5}, Bearing: 359, Span: [2]float64{359, 359}, Height: 10, HeightSpan: [2]float64{10, 10}, Distance: 7}, e)
	var seen []view
	for k := range 100 { // 349 to 8.8 degrees, through north
		seen = append(seen, view{"x": {t: float64(k), bearing: geo.NormDeg(349 + 0.2*float64(k))}})
	}
	e = spanned("x", design, seen)
	assert.Equal(t, [2]float64{5, 94}, e.AtSpan)
	assert.InDelta(t, 350, e.Span[0], 1e-9)
	assert.InDelta(t, 7.8, e.Span[1], 1e-9)
}
