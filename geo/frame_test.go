package geo

import (
	"fmt"
	"math"
	"testing"

	"windfall/geo/geotest"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// Cases of testdata/reference/geodesic.csv: GeographicLib 2.1.2 GeodSolve
// (Karney 2013). Points to 1 mm; azimuths to 1e-6 degrees beyond 100 m. The
// near-antipodal rows are beyond what a frame claims.
func TestFrameAgainstGeographicLib(t *testing.T) {
	checked := 0
	for _, r := range geotest.Table(t, "geodesic.csv") {
		if r.Text("group") != "short" && r.Text("group") != "antimeridian" {
			continue
		}
		var v [7]float64
		for i, column := range []string{"lat1", "lon1", "azi1", "lat2", "lon2", "azi2", "s12_m"} {
			v[i] = r.Number(column)
		}
		if math.Abs(v[0]) == 90 || math.Abs(v[3]) == 90 || v[6] == 0 {
			continue
		}
		frame := Frame{Origin: orb.Point{v[1], v[0]}}
		want := Polar(v[6], v[2])
		got := frame.ToXY(orb.Point{v[4], v[3]})
		assert.InDelta(t, 0, got.Sub(want).Norm(), 1e-3+v[6]*1e-6*math.Pi/180, r.Text("id"))
		if v[6] > 100 {
			assert.InDelta(t, 0, math.Remainder(got.BearingDeg()-v[2], 360), 1e-6, r.Text("id"))
		}
		p := frame.ToLonLat(want)
		perDeg := 111e3
		assert.InDelta(t, v[3], p.Lat(), 1e-3/perDeg, r.Text("id"))
		assert.InDelta(t, 0, math.Remainder(p.Lon()-v[4], 360), 1e-3/(perDeg*math.Cos(v[3]*math.Pi/180)), r.Text("id"))
		checked++
	}
	assert.Greater(t, checked, 40)
}

// What goes out comes back, near the poles, the date line and the equator too.
func TestFrameRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := Frame{Origin: orb.Point{
			rapid.SampledFrom([]float64{-180, -179.9999, 0, 12.3, 179.9999, 180}).Draw(t, "lon"),
			rapid.SampledFrom([]float64{-89.9, -80, -33.3, 0, 1e-9, 47, 89.9}).Draw(t, "lat"),
		}}
		q := XY{rapid.Float64Range(-50e3, 50e3).Draw(t, "x"), rapid.Float64Range(-50e3, 50e3).Draw(t, "y")}
		p := f.ToLonLat(q)
		back := f.ToXY(p)
		if d := back.Sub(q).Norm(); d > 1e-4 {
			t.Fatalf("%v went to %v and came back %g m off", q, p, d)
		}
		if p.Lon() < -180 || p.Lon() > 180 {
			t.Fatalf("longitude %g", p.Lon())
		}
	})
}

func TestNormDeg(t *testing.T) {
	for in, want := range map[float64]float64{0: 0, 360: 0, -90: 270, 725: 5, -1e-17: 0} {
		assert.Equal(t, want, NormDeg(in), in)
	}
	assert.Equal(t, 45.0, XY{1, 1}.BearingDeg())
	assert.Equal(t, 270.0, XY{-1, 0}.BearingDeg())
}

func TestVectors(t *testing.T) {
	a, b := XY{3, 4}, XY{-4, 3}
	assert.Equal(t, 0.0, a.Dot(b))
	assert.Equal(t, 25.0, a.Cross(b), "b lies anticlockwise of a")
	assert.InDelta(t, 0, a.Unit().Sub(XY{0.6, 0.8}).Norm(), 1e-15)
	assert.Equal(t, XY{}, XY{}.Unit())
	assert.Equal(t, XY{-1, 7}, a.Add(b))
}

func ExampleFrame_Place() {
	pad := Frame{Origin: orb.Point{-5.5831, 39.0512}}
	p := pad.Place(Polar(1000, 90))
	fmt.Printf("%.5f, %.5f is %.0f m east and %.0f m north of the pad\n", p.Lat, p.Lon, p.East, p.North)
	// Output: 39.05120, -5.57155 is 1000 m east and 0 m north of the pad
}

// Degrees that somebody typed stay what they were: through metres and back they
// would come out as -4.9182999999999995.
func TestPlaceOfKeepsDegrees(t *testing.T) {
	f := Frame{Origin: orb.Point{-4.9210, 41.9050}}
	p := f.PlaceOf(orb.Point{-4.9183, 41.9086})
	assert.Equal(t, -4.9183, p.Lon)
	assert.Equal(t, 41.9086, p.Lat)
	assert.Equal(t, f.ToXY(orb.Point{-4.9183, 41.9086}), XY{p.East, p.North})
}
