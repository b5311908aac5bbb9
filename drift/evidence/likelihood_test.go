package evidence

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"windfall/drift"
	"windfall/geo"
)

func made(t require.TestingT, s Sighting, m model) *term {
	got, err := ready(s, m)
	require.NoError(t, err)
	return got
}

// The bearing that a term has of a point is the azimuth of the WGS 84 geodesic
// from the observer (tidwall/geodesic, Karney's algorithms), to 1e-4 degrees
// within 10 km of the pad: the bound in the comment of stand.
func TestBearingIsTheGeodesics(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lat := rapid.Float64Range(-70, 70).Draw(t, "lat")
		l := &placed{newLinear(6), geo.Frame{Origin: orb.Point{rapid.Float64Range(-180, 180).Draw(t, "lon"), lat}}}
		coord := rapid.Float64Range(-7000, 7000)
		from := geo.XY{X: coord.Draw(t, "ox"), Y: coord.Draw(t, "oy")}
		p := geo.XY{X: coord.Draw(t, "px"), Y: coord.Draw(t, "py")}
		if p.Sub(from).Norm() < 100 {
			t.Skip("too near")
		}
		at := l.Frame().Place(from)
		s := made(t, Sighting{Kind: Bearing{Observer: Observer{From: &at}, BearingDeg: ptr(0), Moment: Moment{Event: "landing"}}}, l)
		got, _ := s.law.(*bearingLaw).direction(&moment{x: p.X, y: p.Y})
		want := geo.Frame{Origin: l.Frame().ToLonLat(from)}.ToXY(l.Frame().ToLonLat(p)).BearingDeg()
		assert.InDelta(t, 0, wrapDeg(got-want), 1e-4)
	})
}

// placed is a linear flight at another pad.
type placed struct {
	*linear
	frame geo.Frame
}

func (p *placed) Frame() geo.Frame { return p.frame }

// The likelihood of a bearing of the landing is the documented one: with
// standard deviation s and chance 1-e of a mistake,
// e exp(-d^2/2s^2)/(s sqrt(2 pi)) + (1-e)/360 a degree. Values by hand.
func TestBearingLikelihood(t *testing.T) {
	l := newLinear(6)
	from := l.Frame().Place(geo.XY{})
	for _, c := range []struct{ off, sd, sure, want float64 }{
		{0, 3, 0.95, 0.95*0.13298076 + 0.05/360},
		{6, 3, 0.95, 0.95*0.01799699 + 0.05/360}, // 0.39894228/3 exp(-2)
		{90, 3, 0.95, 0.05 / 360},
		{8, 8, 0.85, 0.85*0.03024634 + 0.15/360}, // 0.39894228/8 exp(-1/2)
	} {
		s := made(t, Sighting{Kind: Bearing{Observer: Observer{From: &from}, BearingDeg: ptr(90 - c.off), BearingSD: c.sd, Moment: Moment{Event: "landing"}}, Sure: ptr(c.sure)}, l)
		got := math.Exp(logAdd(s.likelihood(&drift.Landing{At: geo.XY{X: 500}}, nil), s.wrong))
		assert.InEpsilon(t, c.want, got, 1e-6, "%+v", c)
	}
}

// Every likelihood is a density of what is said: over all that could be said
// it sums to one, right and mistaken together.
func TestLikelihoodsSumToOne(t *testing.T) {
	l := newLinear(6)
	from := l.Frame().Place(geo.XY{X: 900, Y: -500})
	w := &drift.Work{Record: true}
	land := l.Fly(drift.Input{Z: make([]float64, 6)}, w)
	total := func(make func(v float64) Sighting, lo, hi, step float64) float64 {
		sum := 0.0
		for v := lo + step/2; v < hi; v += step {
			s := made(t, make(v), l)
			sum += step * math.Exp(logAdd(s.likelihood(&land, w), s.wrong))
		}
		return sum
	}
	bearing := func(b Bearing) func(v float64) Sighting {
		return func(v float64) Sighting {
			b.From, b.BearingDeg = &from, ptr(v)
			return Sighting{Kind: b}
		}
	}
	// The sum over bearings is exact to the step; a time near the landing
	// leaves room for having landed already, hence at 40 s of 90.
	assert.InDelta(t, 1, total(bearing(Bearing{Moment: Moment{Event: "landing"}}), 0, 360, 0.25), 1e-6)
	assert.InDelta(t, 1, total(bearing(Bearing{Moment: Moment{At: ptr(40)}}), 0, 360, 0.25), 1e-6)
	assert.InDelta(t, 1, total(bearing(Bearing{Moment: Moment{After: ptr(20), Before: ptr(60)}}), 0, 360, 0.25), 1e-6)
	assert.InDelta(t, 1, total(bearing(Bearing{}), 0, 360, 0.25), 1e-6)
	assert.InDelta(t, 1, total(bearing(Bearing{Radio: true, Moment: Moment{Event: "ejection"}}), 0, 360, 0.25), 1e-6)

	// In an interval that the flight does not outlast, the chance that it was
	// still in the air is a factor: it lands at 90 s, the interval is 80 to 100.
	half := 0.95*0.5 + 0.05
	assert.InDelta(t, half, total(bearing(Bearing{Moment: Moment{After: ptr(80), Before: ptr(100)}}), 0, 360, 0.25), 1e-6)

	// A mistaken time is flat from 0 to twice the stated one, which therefore
	// changes with it: the right part alone sums to the chance of being right.
	sum := 0.0
	for v := 60.05; v < 120; v += 0.1 {
		s := made(t, Sighting{Kind: Timing{Moment: Moment{Event: "landing", At: ptr(v)}}}, l)
		sum += 0.1 * math.Exp(s.likelihood(&land, w))
	}
	assert.InDelta(t, 0.95, sum, 1e-6)

	// Bearing and elevation angle together.
	sum = 0.0
	for b := 0.5; b < 360; b++ {
		for e := -29.5; e < 60; e++ {
			s := made(t, Sighting{Kind: Bearing{Observer: Observer{From: &from}, BearingDeg: ptr(b), ElevDeg: ptr(e), Moment: Moment{At: ptr(40)}}}, l)
			sum += math.Exp(s.likelihood(&land, w))
		}
	}
	assert.InDelta(t, 0.95, sum, 1e-3)
}

// Statements that hold or not, against the normal distribution by hand:
// the chance beyond 1 standard deviation is 0.15865525, beyond 2 0.02275013.
func TestStatements(t *testing.T) {
	l := newLinear(6)
	w := &drift.Work{Record: true}
	land := l.Fly(drift.Input{Z: make([]float64, 6)}, w) // lands at 90 s, 223.6 m from the pad
	value := func(s Sighting) float64 { return math.Exp(made(t, s, l).likelihood(&land, w)) / 0.95 }
	assert.InDelta(t, 0.84134475, value(Sighting{Kind: Timing{Moment: Moment{Event: "landing", After: ptr(88), TimeSD: 2}}}), 1e-8)
	assert.InDelta(t, 0.02275013, value(Sighting{Kind: Timing{Moment: Moment{Event: "landing", Before: ptr(86), TimeSD: 2}}}), 1e-8)
	assert.InDelta(t, 1, value(Sighting{Kind: Timing{Moment: Moment{Event: "opening", After: ptr(30)}}}), 1e-12, "it never came: later than any time")
	assert.Zero(t, value(Sighting{Kind: Timing{Moment: Moment{Event: "opening", Before: ptr(30)}}}))

	// Heard from 340 m beyond the landing, one second late.
	ear := l.Frame().Place(geo.XY{X: 200 + 340, Y: -100})
	at := made(t, Sighting{Kind: Timing{Observer: Observer{From: &ear}, Moment: Moment{Event: "landing", At: ptr(91), Heard: true}}}, l)
	assert.InDelta(t, 1, at.law.(*timingLaw).seconds(&land, w)-90, 1e-3)

	// Behind the wood, at least 223.6 m away: an even chance at that distance.
	pad := l.Frame().Place(geo.XY{})
	far := made(t, Sighting{Kind: Bearing{Observer: Observer{From: &pad}, BearingDeg: ptr(116.565), FartherThan: ptr(land.At.Norm()), Moment: Moment{Event: "landing"}}}, l)
	assert.InDelta(t, math.Log(0.5), far.law.(*bearingLaw).within(land.At.Norm()), 1e-9)
	assert.Less(t, far.law.(*bearingLaw).within(100), math.Log(0.001))
}

func TestNothingInAndLooks(t *testing.T) {
	l := newLinear(6, drift.Chance{Name: "nominal", P: 0.9}, drift.Chance{Name: "no recovery", P: 0.1})
	corner := func(x, y float64) orb.Point { return l.Frame().ToLonLat(geo.XY{X: x, Y: y}) }
	ring := orb.Ring{corner(100, -200), corner(300, -200), corner(300, 0), corner(100, 0), corner(100, -200)}
	hole := orb.Ring{corner(240, -160), corner(280, -160), corner(280, -120), corner(240, -120), corner(240, -160)}
	s := made(t, Sighting{Kind: NothingIn{Geometry: geojson.NewGeometry(orb.Polygon{ring, hole})}, Sure: ptr(0.8)}, l)
	for _, c := range []struct{ x, y, want float64 }{{200, -100, 0.2}, {0, 0, 1}, {260, -140, 1}, {110, -10, 0.2}} {
		got := math.Exp(s.likelihood(&drift.Landing{At: geo.XY{X: c.x, Y: c.y}}, nil))
		assert.InDelta(t, c.want, got, 1e-12, "%+v", c)
	}

	w := &drift.Work{Events: []drift.Event{{Name: "opening", T: 12}}}
	looks := func(looked string, l2 drift.Landing, when *float64) float64 {
		return math.Exp(made(t, Sighting{Kind: Looks{Looked: looked, Moment: Moment{At: when}}}, l).law.right(&l2, w))
	}
	assert.InDelta(t, openSeen, looks(looksOpen, drift.Landing{LandingS: 80}, nil), 1e-12)
	assert.InDelta(t, openFalse, looks(looksOpen, drift.Landing{LandingS: 80}, ptr(5)), 1e-12, "not open yet")
	assert.InDelta(t, openFalse, looks(looksOpen, drift.Landing{LandingS: 80, Outcome: 1}, nil), 1e-12)
	assert.InDelta(t, 0.5, looks(looksFast, drift.Landing{LandingS: 80, LandingMps: fastMps}, nil), 1e-12)
	assert.Greater(t, looks(looksFast, drift.Landing{LandingS: 20, LandingMps: 60}, nil), 0.95)
	assert.Less(t, looks(looksFast, drift.Landing{LandingS: 80, LandingMps: 6}, nil), 0.05)
}

func TestReadyRefuses(t *testing.T) {
	from := &geo.Place{Lat: 39.05, Lon: -5.58}
	for _, c := range []struct {
		s    Sighting
		want string
	}{
		{Sighting{Kind: Bearing{Observer: Observer{From: from}, BearingDeg: ptr(361)}}, "bearing 361 is not possible"},
		{Sighting{Kind: Bearing{Observer: Observer{From: from}, BearingDeg: ptr(math.NaN())}}, "bearing NaN is not possible"},
		{Sighting{Kind: Bearing{Observer: Observer{From: from}, BearingDeg: ptr(1), ElevDeg: ptr(91)}}, "elevation 91 is not possible"},
		{Sighting{Kind: Bearing{BearingDeg: ptr(1)}}, "needs from"},
		{Sighting{Kind: Bearing{Observer: Observer{From: &geo.Place{Lat: 95}}, BearingDeg: ptr(1)}}, "latitude"},
		{Sighting{Kind: Bearing{Observer: Observer{From: from}, BearingDeg: ptr(1), Moment: Moment{At: ptr(3), After: ptr(2)}}}, "cannot both be"},
		{Sighting{Kind: Bearing{Observer: Observer{From: from}, BearingDeg: ptr(1), Moment: Moment{After: ptr(3), Before: ptr(2)}}}, "swap them"},
		{Sighting{Kind: Bearing{Observer: Observer{From: from}, BearingDeg: ptr(1), FartherThan: ptr(3), NearerThan: ptr(2)}}, "swap them"},
		{Sighting{Kind: Bearing{Observer: Observer{From: from}, BearingDeg: ptr(1), Moment: Moment{Event: "bang"}}}, `event "bang" is not known`},
		{Sighting{Kind: Bearing{Observer: Observer{From: from}, BearingDeg: ptr(1), Moment: Moment{Event: "opening 0"}}}, "not known"},
		{Sighting{Kind: Timing{Moment: Moment{Event: "landing"}}}, "needs an event and a time"},
		{Sighting{Kind: Timing{Moment: Moment{Event: "landing", At: ptr(-1)}}}, "at -1 is not possible"},
		{Sighting{Kind: Timing{Moment: Moment{Event: "landing", Since: "landing", At: ptr(1)}}}, "is the event itself"},
		{Sighting{Kind: Timing{Moment: Moment{Event: "landing", Heard: true, At: ptr(1)}}}, "heard needs from"},
		{Sighting{Kind: Height{HeightM: ptr(300)}}, "a height needs a moment"},
		{Sighting{Kind: NothingIn{}}, "needs an area"},
		{Sighting{Kind: PartFound{Part: "pod"}}, "needs its name"},
		{Sighting{Kind: Looks{Looked: "odd"}}, "write open or fast"},
		{Sighting{Kind: Looks{Looked: looksOpen, Moment: Moment{After: ptr(3)}}}, "needs one moment or none"},
		{Sighting{Kind: Bearing{Observer: Observer{From: from}, BearingDeg: ptr(1), Moment: Moment{Since: "ejection"}}}, "needs a time that counts from it"},
		{Sighting{Kind: Looks{Looked: looksOpen}, Sure: ptr(1.2)}, "sure 1.2"},
		{Sighting{}, "needs a kind"},
	} {
		assert.ErrorContains(t, c.s.Ready(), c.want)
	}
	s := Sighting{Kind: Bearing{Observer: Observer{From: from}, BearingDeg: ptr(360), Moment: Moment{Event: "opening 2"}}}
	require.NoError(t, s.Ready())
	assert.Zero(t, *s.Kind.(Bearing).BearingDeg)
	assert.Equal(t, 3.0, s.Kind.(Bearing).BearingSD)
	assert.Equal(t, 0.95, *s.Sure)
	assert.Contains(t, s.String(), "bearing 0 deg from 39.05000,-5.58000 at opening 2")

	far := Sighting{ID: 4, Kind: Bearing{Observer: Observer{From: &geo.Place{Lat: 42.6, Lon: -5.58}}, BearingDeg: ptr(3), Moment: Moment{Event: "landing"}}}
	_, err := ready(far, newLinear(6))
	assert.ErrorContains(t, err, "sighting 4")
	assert.ErrorContains(t, err, "394 km from the pad; nobody sees a rocket from beyond 60 km")
}
