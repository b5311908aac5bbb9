package spread

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"windfall/drift/wind"
)

func lone(height, speed float64) wind.Profile {
	return wind.Profile{VeerDeg: wind.DefaultVeer, Levels: []wind.Level{{Height: height, Speed: speed, FromDeg: 270}}}
}

func whole(speed float64) wind.Profile {
	return wind.Profile{Levels: []wind.Level{{Height: 10, Speed: speed, FromDeg: 270}, {Height: 3000, Speed: speed, FromDeg: 270}}}
}

// total is the standard deviation of a component of the runs' wind at z.
func total(p wind.Profile, s *wind.Spread, z float64) float64 {
	u, v := p.At(z)
	r := s.At(z)
	return math.Sqrt(r.SD*r.SD + s.Carried*s.Carried*Carried(u+r.U, v+r.V))
}

// Calm below does not mean calm aloft: the error of a calm reading is that of
// any other, and grows with height.
func TestACalmReadingIsNoCertainty(t *testing.T) {
	for _, sun := range []float64{40, -20} {
		calm, breeze := Fitted.Of(lone(10, 0), Source{Sun: sun}), Fitted.Of(lone(10, 4), Source{Sun: sun})
		last := 0.0
		for _, z := range []float64{100, 300, 600, 1500, 3000} {
			sd := total(lone(10, 0), calm, z)
			assert.InDelta(t, total(lone(10, 4), breeze, z), sd, 0.05*sd, "sun %v, %v m", sun, z)
			assert.Greater(t, sd, last)
			last = sd
		}
		assert.Greater(t, last, 5.0)
	}
}

// The night's wind aloft is stronger over the reading than the day's, and its
// error greater; the turn with height is clockwise in the north, the other way
// in the south, and the flier's own where it is given.
func TestNightDayAndHemisphere(t *testing.T) {
	at := func(p wind.Profile, s Source) (speed, from float64) {
		sp := Fitted.Of(p, s)
		u, v := p.At(500)
		r := sp.At(500)
		return math.Hypot(u+r.U, v+r.V), math.Mod(math.Atan2(-u-r.U, -v-r.V)*180/math.Pi+360, 360)
	}
	north, south := lone(10, 5), lone(10, 5)
	south.South = true
	day, dayFrom := at(north, Source{Sun: 40})
	night, nightFrom := at(north, Source{Sun: -20})
	between, _ := at(north, Source{Sun: math.NaN()})
	assert.Greater(t, night, 1.2*day)
	assert.Greater(t, between, day)
	assert.Less(t, between, night)
	assert.Greater(t, nightFrom, dayFrom)
	assert.Greater(t, dayFrom, 280.0)
	_, southFrom := at(south, Source{Sun: 40})
	assert.InDelta(t, 270-(dayFrom-270), southFrom, 1e-9)
	_, own := at(north, Source{Sun: 40, Veer: true})
	assert.InDelta(t, 270+15*(500-60)/540.0, own, 1e-9)
}

// The variance of age grows from nothing in proportion to it and levels off at
// the climate's, of which the mean has then gone back to nothing: an
// autoregression, whose share kept and new variance make the climate's together.
func TestAgeLevelsOff(t *testing.T) {
	m := &Fitted
	rapid.Check(t, func(t *rapid.T) {
		z, h := rapid.Float64Range(0, 5000).Draw(t, "z"), rapid.Float64Range(0, 100).Draw(t, "hours")
		share, v := m.kept(z, h)
		if c := m.climate(z); math.Abs(share*share*c+v-c) > 1e-9*c {
			t.Fatalf("share %v, variance %v of %v", share, v, c)
		}
	})
	_, v := m.kept(100, 0.01)
	assert.InDelta(t, m.Rate*m.Rate*0.01, v, 0.01*v)
	weeks := m.Of(whole(8), Source{Age: 500, Sun: 40})
	u, _ := whole(8).At(600)
	assert.InDelta(t, -u, weeks.At(600).U, 0.02)
	assert.InDelta(t, math.Sqrt(m.climate(600)+1.1*1.1), weeks.At(600).SD, 0.01)
	assert.Contains(t, weeks.Says, "21 days old")
	assert.Equal(t, m.Of(whole(8), Source{Age: 3, Sun: 40}).Rows, m.Of(whole(8), Source{Age: -3, Sun: 40}).Rows, "after the launch counts the same")
	far := m.Of(whole(8), Source{Away: 3 * 1000 * m.KmPerHour, Sun: 40})
	assert.Equal(t, m.Of(whole(8), Source{Age: 3, Sun: 40}).Rows, far.Rows, "a place so far away counts as hours")
	assert.Contains(t, far.Says, "km away")
}

// A profile of the hour keeps the default up to its top; above, the error grows
// with the distance from it.
func TestAboveTheTop(t *testing.T) {
	p := wind.Profile{Levels: []wind.Level{{Height: 10, Speed: 5, FromDeg: 270}, {Height: 120, Speed: 7, FromDeg: 280}}}
	s := Fitted.Of(p, Source{Sun: 40})
	assert.Nil(t, s.For(115))
	assert.Nil(t, s.For(190), "hardly above it")
	high := s.For(800)
	require.NotNil(t, high)
	assert.InDelta(t, p.ShapeSD(100), high.At(100).SD, 1e-9)
	assert.Greater(t, high.At(800).SD, 3.0)
	assert.Greater(t, high.Reach, wind.ShapeScale)
	assert.Less(t, high.Reach, Fitted.Reach)
	assert.Equal(t, wind.Fresh, wind.Profile{Spread: s}.Kind())
}

// An ascent takes an hour: a sounding counts as of the hour as long.
func TestASoundingOfTheHour(t *testing.T) {
	assert.Equal(t, wind.Fresh, Fitted.Of(whole(5), Source{Name: "sounding", Age: 0.9}).Kind)
	assert.Equal(t, wind.Old, Fitted.Of(whole(5), Source{Name: "sounding", Age: 1.1}).Kind)
	assert.Equal(t, wind.Old, Fitted.Of(whole(5), Source{Name: "levels", Age: 0.9}).Kind)
}

// A reading at the pad makes no map wider, teaches most where it was made and
// nothing far above; by the closed form of two normals that correlate.
func TestAReadingAtThePad(t *testing.T) {
	m := &Fitted
	p := whole(8)
	before := m.Of(p, Source{Age: 6, Sun: 40})
	r := Measurement{Height: 10, Speed: 3, FromDeg: 200}
	after := m.Measured(p, before, r)
	assert.Nil(t, m.Measured(p, nil, r))
	prior := total(p, before, 10)
	left := total(p, after, 10)
	n := m.Noise(r)
	assert.InDelta(t, math.Sqrt(prior*prior*n/(prior*prior+n)), left, 0.02)
	u, v := p.At(10)
	mu, mv := wind.Level{Speed: 3, FromDeg: 200}.UV()
	k := prior * prior / (prior*prior + n)
	b, a := before.At(10), after.At(10)
	assert.InDelta(t, u+b.U+k*(mu-u-b.U), u+a.U, 1e-9)
	assert.InDelta(t, v+b.V+k*(mv-v-b.V), v+a.V, 1e-9)
	for _, z := range heights {
		assert.LessOrEqual(t, total(p, after, z), total(p, before, z)+1e-9, "%v m", z)
	}
	assert.InDelta(t, total(p, before, 9000), total(p, after, 9000), 0.05)
	assert.Greater(t, m.Noise(Measurement{Height: 10, Speed: 3, Age: 2}), n)
	assert.Greater(t, m.Noise(Measurement{Height: 10, Speed: 3, FromDeg: math.NaN()}), n)
}

// A wind high up alone leaves the ground to the climate; the law would have it
// blow there in proportion.
func TestALoneWindHighUp(t *testing.T) {
	p := lone(3000, 25)
	s := Fitted.Of(p, Source{Sun: 40})
	u, v := p.At(10)
	r := s.At(10)
	assert.Less(t, math.Hypot(u+r.U, v+r.V), 0.5*math.Hypot(u, v))
	assert.Greater(t, total(p, s, 10), 0.9*Fitted.Climate)
	assert.Less(t, total(p, s, 3000), 3.0)
	assert.Contains(t, s.Says, "one wind at 3000 m alone")
}

func TestALongLeadIsWider(t *testing.T) {
	assert.Equal(t, 1.0, Fitted.Lead(12))
	assert.InDelta(t, 2, Fitted.Lead(Fitted.LeadSilent+Fitted.LeadHours), 1e-12)
}

func TestSays(t *testing.T) {
	for want, s := range map[string]Source{
		"an airport report alone, 2.5 h old, by day": {Name: "airport report", Age: 2.5, Sun: 30},
		"the surface wind alone, by night":           {Sun: -30},
		"the surface wind alone":                     {Sun: math.NaN()},
	} {
		assert.Equal(t, want, Fitted.Of(lone(10, 3), s).Says)
	}
	for want, s := range map[string]Source{
		"a sounding, 12 h old, from 90 km away":   {Name: "sounding", Age: 12, Away: 90e3},
		"a profile, from 40 min after the launch": {Age: -2.0 / 3},
		"levels of the hour up to 3000 m":         {},
		"a sounding of the hour":                  {Name: "sounding"},
	} {
		assert.Equal(t, want, Fitted.Of(whole(3), s).Says)
	}
}
