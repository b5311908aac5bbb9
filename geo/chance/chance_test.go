package chance

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"windfall/geo"
	"windfall/geo/ground"
	"windfall/geo/plane"
)

// normals returns n points of a normal at (mx, my) with deviations sx, sy.
func normals(n int, mx, my, sx, sy float64) Cloud {
	r := rand.New(rand.NewPCG(4, 2))
	c := Cloud{At: make([]geo.XY, n)}
	for i := range c.At {
		c.At[i] = geo.XY{X: mx + sx*r.NormFloat64(), Y: my + sy*r.NormFloat64()}
	}
	return c
}

func phi(x float64) float64 { return 0.5 * math.Erfc(-x/math.Sqrt2) }

func rectangle(x0, y0, x1, y1 float64) plane.Polygons {
	return plane.Polygons{plane.Rectangle(x0, y0, x1, y1)}
}

// Closed forms: a half-plane and a rectangle are products of the normal
// distribution function; a circle about the mean of a round normal is Rayleigh,
// 1 - exp(-r2/2s2); about that of a normal with deviations 100 and 50 m, r =
// 87.041743 m holds one half (quadrature with scipy 1.10.1; see
// ../grid/testdata/reference/statistics.csv, sigma_min/sigma_max=0.5, CEP).
// Each count must be within four of its own standard errors.
func TestClosedForms(t *testing.T) {
	var disc plane.Ring
	for k := range 721 {
		disc = append(disc, geo.Polar(87.041743, float64(k)/2))
	}
	c := normals(200000, 20, -10, 100, 50)
	for _, k := range []struct {
		zone  Zone
		cloud Cloud
		want  float64
	}{
		{Area("half-plane", Field, rectangle(-1e6, 30, 1e6, 1e6)), c, 1 - phi(40.0/50)},
		{Area("rectangle", Field, rectangle(-50, -60, 120, 90)), c, (phi(1) - phi(-0.7)) * (phi(2) - phi(-1))},
		{Lines("strip", 80, plane.Line{{X: -1e6, Y: -10}, {X: 1e6, Y: -10}}), c, phi(0.8) - phi(-0.8)},
		{Farther("Rayleigh", 120), normals(200000, 0, 0, 80, 80), math.Exp(-120 * 120 / (2 * 80.0 * 80))},
		{Area("circle", Field, plane.Polygons{{disc}}), normals(200000, 0, 0, 100, 50), 0.5},
	} {
		got := k.cloud.Of(k.zone)
		assert.InDelta(t, math.Sqrt(k.want*(1-k.want)/200000), got.SE, 1e-5, k.zone.Name)
		assert.InDelta(t, k.want, got.Probability, 4*got.SE, k.zone.Name)
	}
}

// Importance weights move a cloud: points of one normal stand for another whose
// chance is known, and the stated error is the spread of repeated clouds.
func TestWeighted(t *testing.T) {
	want := 1 - phi(40.0/50) // y > 40 under a normal at 0 with deviation 50
	z := Area("north", Place, rectangle(-1e6, 40, 1e6, 1e6))
	const clouds, n = 300, 1000
	var mean, mean2, se float64
	r := rand.New(rand.NewPCG(1, 1))
	for range clouds {
		c := Cloud{At: make([]geo.XY, n), Weights: make([]float64, n)}
		for i := range c.At {
			y := 20 + 70*r.NormFloat64()
			c.At[i].Y = y
			c.Weights[i] = math.Exp(-y*y/(2*2500)+(y-20)*(y-20)/(2*4900)) * 7
		}
		got := c.Of(z)
		mean, mean2, se = mean+got.Probability/clouds, mean2+got.Probability*got.Probability/clouds, se+got.SE/clouds
	}
	sd := math.Sqrt(mean2 - mean*mean)
	assert.InDelta(t, want, mean, 4*sd/math.Sqrt(clouds))
	assert.InEpsilon(t, sd, se, 0.17) // four errors of a standard deviation from 300
}

func TestOutcomesAddUp(t *testing.T) {
	c := normals(4000, 0, 0, 100, 100)
	c.Names = []string{"nominal", "tangled", "never"}
	for i := range c.At {
		c.Outcome = append(c.Outcome, i%5/4)
	}
	got := c.Of(Area("east", Place, rectangle(0, -1e5, 1e5, 1e5)))
	require.Len(t, got.Outcomes, 2, "an outcome that never lands there is left out")
	var sum float64
	for _, p := range got.Outcomes {
		sum += p.Probability
		assert.InDelta(t, math.Sqrt(p.Probability*(1-p.Probability)/4000), p.SE, 1e-12)
	}
	assert.InDelta(t, got.Probability, sum, 1e-12)
	assert.InDelta(t, 0.1, got.Outcomes[1].Probability, 0.02)
}

func TestNoneAndAll(t *testing.T) {
	c := normals(1000, 0, 0, 1, 1)
	none, all := c.Of(Farther("far", 1e6)), c.Of(Area("all", Field, rectangle(-99, -99, 99, 99)))
	assert.Zero(t, none.Probability)
	assert.InDelta(t, 0.001, none.SE, 1e-5, "none of 1000 is not impossible")
	assert.Equal(t, 1.0, all.Probability)
	assert.InDelta(t, none.SE, all.SE, 1e-12)
	assert.Zero(t, Cloud{}.Of(Farther("far", 1)).Probability)
}

const drawn = `{"type": "FeatureCollection", "features": [
{"type":"Feature","properties":{"kind":"place","name":"village"},"geometry":{"type":"Polygon","coordinates":[[[0.001,0.001],[0.002,0.001],[0.002,0.002],[0.001,0.002],[0.001,0.001]]]}},
{"type":"Feature","properties":{"kind":"place","name":"village"},"geometry":{"type":"Polygon","coordinates":[[[0.003,0.001],[0.004,0.001],[0.004,0.002],[0.003,0.002],[0.003,0.001]]]}},
{"type":"Feature","properties":{"kind":"no-go","name":"pond"},"geometry":{"type":"Polygon","coordinates":[[[-0.001,0.001],[-0.002,0.001],[-0.002,0.002],[-0.001,0.001]]]}},
{"type":"Feature","properties":{"kind":"line","name":"railway","width":"12 m"},"geometry":{"type":"MultiLineString","coordinates":[[[-0.01,-0.001],[0.0,-0.001]],[[0.0,-0.001],[0.01,-0.001]]]}},
{"type":"Feature","properties":{"kind":"cover","cover":"crop"},"geometry":{"type":"Polygon","coordinates":[[[0,0],[0.01,0],[0.01,0.01],[0,0.01],[0,0]]]}},
{"type":"Feature","properties":{"kind":"cover","cover":"wood"},"geometry":{"type":"Polygon","coordinates":[[[0,0],[0.001,0],[0.001,0.001],[0,0.001],[0,0]]]}}]}`

func TestZonesOfTheGround(t *testing.T) {
	g, err := ground.Read(strings.NewReader(drawn), "g", geo.Frame{})
	require.NoError(t, err)
	hole := rectangle(-500, -500, 500, 500)
	hole[0] = append(hole[0], rectangle(-50, -50, 50, 50)[0][0])
	zones := Zones(hole, g)
	var names []string
	at := map[string]*Zone{}
	for i := range zones {
		names = append(names, string(zones[i].Kind)+" "+zones[i].Name)
		at[zones[i].Name] = &zones[i]
	}
	assert.Equal(t, []string{"field field", "place village", "no-go pond", "line railway", "cover crop", "cover wood"}, names)
	for _, c := range []struct {
		zone string
		q    geo.XY
		want bool
	}{
		{"field", geo.XY{X: 100, Y: 100}, true}, {"field", geo.XY{X: 10, Y: 10}, false}, {"field", geo.XY{X: 501}, false},
		{"village", geo.XY{X: 150, Y: 150}, true}, {"village", geo.XY{X: 390, Y: 150}, true}, {"village", geo.XY{X: 270, Y: 150}, false},
		{"railway", geo.XY{X: 300, Y: -105}, true}, {"railway", geo.XY{X: 300, Y: -103}, false}, {"railway", geo.XY{X: -300, Y: -116}, true},
		{"crop", geo.XY{X: 500, Y: 500}, true}, {"crop", geo.XY{X: 50, Y: 50}, false}, {"wood", geo.XY{X: 50, Y: 50}, true},
	} {
		assert.Equal(t, c.want, at[c.zone].Contains(c.q), "%s %v", c.zone, c.q)
	}
	r := rand.New(rand.NewPCG(3, 3))
	for range 2000 { // as the ground itself says
		q := geo.XY{X: 1500*r.Float64() - 200, Y: 1500*r.Float64() - 200}
		wood := g.Covers[1].Area.Contains(q) // drawn last
		assert.Equal(t, wood, at["wood"].Contains(q))
		assert.Equal(t, g.Covers[0].Area.Contains(q) && !wood, at["crop"].Contains(q))
	}
	assert.Empty(t, Zones(nil, nil))
}

// The paired error is that of the differences themselves.
func TestDifference(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.SliceOfN(rapid.Bool(), 3, 50).Draw(t, "a")
		b := rapid.SliceOfN(rapid.Bool(), len(a), len(a)).Draw(t, "b")
		var sum, sum2 float64
		for i := range a {
			d := 0.0
			if a[i] {
				d++
			}
			if b[i] {
				d--
			}
			sum, sum2 = sum+d, sum2+d*d
		}
		n := float64(len(a))
		mean, se := Difference(a, b)
		assert.InDelta(t, sum/n, mean, 1e-12)
		if sum2 > 0 {
			assert.InDelta(t, math.Sqrt((sum2/n-sum*sum/n/n)/n), se, 1e-12)
		} else {
			assert.Greater(t, se, 0.0)
		}
	})
}

// Moving a normal's mean by a hundredth of its deviation changes a half-plane's
// chance by phi(0.01)-phi(0), 0.4 %. With the same draws the error of that
// difference is far less than with other draws: at least five times.
func TestCommonRandomNumbersCutTheError(t *testing.T) {
	const n = 20000
	r := rand.New(rand.NewPCG(8, 8))
	a, b, other := make([]bool, n), make([]bool, n), make([]bool, n)
	for i := range n {
		z := r.NormFloat64()
		a[i], b[i], other[i] = z+0.01 > 0, z > 0, r.NormFloat64() > 0
	}
	mean, se := Difference(a, b)
	_, apart := Difference(a, other)
	assert.InDelta(t, phi(0.01)-0.5, mean, 4*se)
	assert.Greater(t, apart, 5*se)
}

func BenchmarkOf(b *testing.B) {
	c := normals(5000, 0, 0, 300, 300)
	z := Area("field", Field, rectangle(-500, -200, 300, 800))
	for b.Loop() {
		c.Of(z)
	}
}

func ExampleCloud_Of() {
	c := Cloud{At: []geo.XY{{X: 10}, {X: 60}, {X: 140}, {X: 300}}}
	got := c.Of(Area("field", Field, rectangle(-100, -100, 200, 100)))
	fmt.Printf("%s: %.2f +- %.2f\n", got.Name, got.Probability, got.SE)
	// Output: field: 0.75 +- 0.22
}
