package compare

import (
	"context"
	"errors"
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/drift"
	"windfall/geo"
	"windfall/geo/plane"
)

// delays are motor.delay in whole numbers, and their Vary for the small rocket.
func varyDelay(field plane.Polygons) func([]Setting) (Flight, error) {
	return func(set []Setting) (Flight, error) {
		f := flight()
		for _, s := range set {
			x, err := strconv.ParseFloat(strings.Fields(s.Value)[0], 64)
			switch {
			case s.Key == "when":
				f.When, err = time.Parse(time.RFC3339, s.Value)
			case s.Key == "motor.delay":
				f.Motor.Delay = &x
			case s.Key == "rail.lean":
				f.Rail.LeanDeg = x
			case s.Key == toward:
				f.Rail.TowardDeg = x
			}
			if err != nil {
				return Flight{}, err
			}
		}
		m, err := drift.Prepare(f)
		return Flight{Model: m, Field: field}, err
	}
}

func square(centre geo.XY, half float64) plane.Polygons {
	return plane.Polygons{plane.Rectangle(centre.X-half, centre.Y-half, centre.X+half, centre.Y+half)}
}

func axis(key string, values ...string) Axis { return Axis{Key: key, Values: values} }

// Rows are the flight with each delay, landed as Draws lands them, on any
// number of workers.
func TestRunFliesEveryRow(t *testing.T) {
	base := prepare(t, nil)
	in := Input{Base: base, Axes: []Axis{axis("motor.delay", "5 s", "6 s", "7 s"), axis("rail.lean", "4 deg")}, Vary: varyDelay(square(geo.XY{}, 60))}
	var tables []*Table
	for _, workers := range []int{1, 3} {
		n := 0
		got, err := Run(context.Background(), in, Options{Runs: 300, Seed: 5, Workers: workers, Progress: func(done, total int) { n++; assert.Equal(t, 3, total) }})
		require.NoError(t, err)
		assert.Equal(t, 3, n)
		tables = append(tables, got)
	}
	for i, r := range tables[0].Rows {
		other := tables[1].Rows[i]
		assert.Equal(t, r.Landings, other.Landings)
		assert.Equal(t, r.Places, other.Places)
		assert.Equal(t, r.Difference, other.Difference)
		if r.Set["motor.delay"] == "6 s" {
			assert.Equal(t, fly(t, NewDraws(base, 5), base, 300), r.Landings)
		}
		in := 0
		for _, l := range r.Landings {
			if math.Abs(l.At.X) <= 60 && math.Abs(l.At.Y) <= 60 {
				in++
			}
		}
		assert.InDelta(t, float64(in)/300, r.Places[0].Probability, 1e-12)
	}
	assert.True(t, tables[0].ByField)
	assert.Equal(t, "motor.delay "+tables[0].Rows[0].Set["motor.delay"], tables[0].Rows[0].Label)
	assert.Contains(t, tables[0].Reason()[0], "most often in the field: ")
}

// Without a field the smallest 90 % area is first, and no row is called equal.
func TestWithoutAField(t *testing.T) {
	in := Input{Base: prepare(t, nil), Axes: []Axis{axis("motor.delay", "3 s", "6 s")}, Vary: varyDelay(nil)}
	got, err := Run(context.Background(), in, Options{Runs: 300})
	require.NoError(t, err)
	assert.False(t, got.ByField)
	assert.Less(t, got.Rows[0].Area, got.Rows[1].Area)
	assert.Empty(t, got.Verdict().Equal)
	assert.Contains(t, got.Reason()[0], "smallest area: ")
	assert.Nil(t, got.Rows[0].Difference)
}

// A direction of the rail is looked for, and stands in the row in place of auto.
func TestRunTurnsTheRail(t *testing.T) {
	in := Input{Base: prepare(t, nil), Axes: []Axis{axis(toward, Auto), axis("rail.lean", "0 deg", "6 deg")}, Vary: varyDelay(square(geo.XY{}, 60))}
	got, err := Run(context.Background(), in, Options{Runs: 400, Seed: 2})
	require.NoError(t, err)
	for _, r := range got.Rows {
		assert.NotEqual(t, Auto, r.Set[toward])
		if r.Set["rail.lean"] == "0 deg" {
			assert.Equal(t, "0 deg", r.Set[toward], "a vertical rail leans nowhere")
			continue
		}
		// No better one among the first twelve, flown alike.
		score := func(deg float64) (n int) {
			f, err := in.Vary([]Setting{{"rail.lean", "6 deg"}, rail(deg)})
			require.NoError(t, err)
			for _, l := range fly(t, NewDraws(in.Base, 2), f.Model, 100) {
				if math.Abs(l.At.X) <= 60 && math.Abs(l.At.Y) <= 60 {
					n++
				}
			}
			return n
		}
		found := r.Model.Flight().Rail.TowardDeg
		assert.Equal(t, rail(found).Value, r.Set[toward])
		for deg := 0.0; deg < 360; deg += 30 {
			assert.LessOrEqual(t, score(deg), score(found), "%v", deg)
		}
	}
}

func TestRefusals(t *testing.T) {
	base := prepare(t, nil)
	var many []string
	for k := range 80 {
		many = append(many, fmt.Sprint(k))
	}
	in := Input{Base: base, Axes: []Axis{axis("a", many...), axis("b", many...)}, Vary: varyDelay(nil)}
	_, err := Run(context.Background(), in, Options{})
	var bad InputError
	require.ErrorAs(t, err, &bad)
	assert.EqualError(t, err, "6400 combinations are more than 5000; give fewer values or hours, or a wider step")

	in.Axes = []Axis{axis("motor.delay", "5 s", "soon", "later", "6 s")}
	for range 5 { // the first row in order, whichever ran first
		_, err = Run(context.Background(), in, Options{Runs: 100, Workers: 3})
		require.ErrorContains(t, err, "with motor.delay=soon: ")
		assert.ErrorIs(t, err, strconv.ErrSyntax)
	}

	in.Axes = []Axis{axis("motor.delay", "5 s", "6 s")}
	in.Vary = func(s []Setting) (Flight, error) {
		f, err := varyDelay(nil)(s)
		if s[0].Value == "6 s" {
			f.Field = square(geo.XY{}, 50)
		}
		return f, err
	}
	_, err = Run(context.Background(), in, Options{Runs: 100})
	require.ErrorAs(t, err, &bad)
	assert.ErrorContains(t, err, "some of the choices have a field and some have none")

	ctx, stop := context.WithCancel(context.Background())
	stop()
	in.Vary = varyDelay(nil)
	_, err = Run(ctx, in, Options{Runs: 100})
	assert.ErrorIs(t, err, context.Canceled)
}

// known is an engine whose row k, the value of the axis "k", comes down in the
// field with chance p(k), and whose run i falls on the even number u(k, i).
func known(t *testing.T, n int, p func(k int) float64, u func(k, i int) float64) *engine {
	m := prepare(t, nil)
	models := map[*drift.Model]int{}
	var values []string
	var flights []Flight
	for k := range n {
		values = append(values, strconv.Itoa(k))
		own := *m
		models[&own] = k
		flights = append(flights, Flight{Model: &own, Field: square(geo.XY{}, 100)})
	}
	in := Input{Base: m, Axes: []Axis{axis("k", values...)}, Vary: func(s []Setting) (Flight, error) {
		k, err := strconv.Atoi(s[0].Value)
		return flights[k], err
	}}
	e := &engine{in: in, o: Options{Runs: 1000, Workers: 2}}
	e.fly = func(_ context.Context, m *drift.Model, runs int) ([]drift.Landing, error) {
		k := models[m]
		out := make([]drift.Landing, runs)
		for i := range out {
			out[i].At = geo.Polar(30+float64(i%40), float64(i))
			if u(k, i) >= p(k) {
				out[i].At = out[i].At.Add(geo.XY{X: 500})
			}
		}
		return out, nil
	}
	return e
}

// even returns an even number made of all of its arguments.
func even(parts ...int) float64 {
	h := fnv.New64a()
	fmt.Fprint(h, parts)
	return rand.New(rand.NewPCG(h.Sum64(), 1)).Float64()
}

// Of 300 rows with rising chances and common draws the better 150 stay after
// 250 runs, none of them worse than one that went, and the best is the best.
func TestHalvingKeepsTheBetterHalf(t *testing.T) {
	draws := make([]float64, 1000)
	for i := range draws {
		draws[i] = (float64(i*617%1000) + 0.5) / 1000 // 617 is prime to 1000: every thousandth once
	}
	p := func(k int) float64 { return 0.3 + 0.6*float64(k)/299 }
	e := known(t, 300, p, func(_, i int) float64 { return draws[i] })
	got, err := e.run(context.Background())
	require.NoError(t, err)
	assert.Equal(t, Dropped{Rows: 150, Runs: 250}, got.Dropped)
	require.Len(t, got.Rows, 150)
	assert.Equal(t, "299", got.Rows[0].Set["k"])
	last := 1.0
	for _, r := range got.Rows {
		k, _ := strconv.Atoi(r.Set["k"])
		assert.GreaterOrEqual(t, k, 148, "the 150 best, but for a tie at the cut")
		assert.InDelta(t, p(k), r.Places[0].Probability, 0.001, "every thousandth was drawn once")
		assert.LessOrEqual(t, r.Places[0].Probability, last)
		last = r.Places[0].Probability
	}
}

// 1000 rows take three halvings, each of twice the runs before.
func TestHalvingDoublesTheRuns(t *testing.T) {
	asked := map[int]int{}
	e := known(t, 1000, func(int) float64 { return 0.5 }, func(_, i int) float64 { return even(i) })
	e.o.Workers = 1
	fly := e.fly
	e.fly = func(ctx context.Context, m *drift.Model, runs int) ([]drift.Landing, error) {
		asked[runs]++
		return fly(ctx, m, runs)
	}
	e.o.Runs = 1500
	got, err := e.run(context.Background())
	require.NoError(t, err)
	assert.Equal(t, map[int]int{250: 1000, 500: 500, 1000: 250, 1500: 125}, asked)
	assert.Equal(t, Dropped{Rows: 875, Runs: 1000}, got.Dropped)
}

// Draws of their own: the row called best is the truly best but for noise, here
// by less than four standard errors of the first round's chances.
func TestHalvingAgainstNoise(t *testing.T) {
	p := func(k int) float64 { return 0.2 + 0.7*float64(k)/249 }
	e := known(t, 250, p, func(k, i int) float64 { return even(k, i) })
	got, err := e.run(context.Background())
	require.NoError(t, err)
	k, err := strconv.Atoi(got.Rows[0].Set["k"])
	require.NoError(t, err)
	assert.Greater(t, p(k), 0.9-4*math.Sqrt(0.9*0.1/firstRuns))
}

// The error of the first row in order is the one returned, and what is flown
// stops there.
func TestFirstErrorCounts(t *testing.T) {
	e := known(t, 50, func(int) float64 { return 0.5 }, func(_, i int) float64 { return even(i) })
	broken := errors.New("broken")
	e.o.Workers = 4
	vary := e.in.Vary
	e.in.Vary = func(s []Setting) (Flight, error) {
		if k, _ := strconv.Atoi(s[0].Value); k >= 7 {
			return Flight{}, broken
		}
		return vary(s)
	}
	_, err := e.run(context.Background())
	assert.EqualError(t, err, "with k=7: broken")
}
