package learn

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"

	"windfall/drift"
	"windfall/drift/evidence"
	"windfall/drift/wind"
	"windfall/drift/wind/spread"
	"windfall/geo"
)

// many is few in the short form of a test and more in the long one.
func many(few, more int) int {
	if os.Getenv("WINDFALL_SLOW") != "" {
		return more
	}
	return few
}

// allClubs does something with clubs 0..n-1 on two workers.
func allClubs(n int, do func(club int)) {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range 2 {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				do(i)
			}
		})
	}
	wg.Wait()
}

// learned fits quietly on one worker.
func learned(t *testing.T, cases []Case, seed uint64) *Posterior {
	p, err := Fit(context.Background(), cases, nil, Options{Seed: seed, Workers: 1, Draws: 600})
	if !assert.NoError(t, err) {
		t.FailNow()
	}
	return p
}

// without strips the entries off cases, and what was never found.
func findsAlone(cases []Case) (out []Case) {
	for _, c := range cases {
		if !c.Lost {
			c.Entries, c.Weigh = nil, nil
			out = append(out, c)
		}
	}
	return out
}

// factorAt are the draws of a factor where it was learned, in default spreads.
func (p *Posterior) factorAt(name string) []float64 {
	k := slices.IndexFunc(p.problem.factors, func(f factor) bool { return f.Name == name })
	x := make([]float64, len(p.draws))
	for d := range p.draws {
		x[d] = p.draws[d].mu[k] + p.draws[d].u[k][0]
	}
	return x
}

// clubOutcome is what a club's flights make of the next: the error of the
// streamers' drag and of its level on the new map; log of the area.
type clubOutcome struct {
	se, miss, level, area float64
}

// outcomeOf learns from cases and looks at the next flight's map.
func outcomeOf(t *testing.T, cases []Case, next Case, tr truth, club int) (out clubOutcome) {
	p := learned(t, cases, uint64(club))
	x := p.factorAt(dragFactor("streamer"))
	m, se := stat.PopMeanStdDev(x, nil)
	w := make([]float64, len(p.draws))
	for i := range w {
		w[i] = 1
	}
	r := rand.New(rand.NewPCG(uint64(club), 44))
	f := p.forecast(0, w)
	out.se, out.miss = se, m-tr.mu[dragFactor("streamer")]
	out.level, _ = f.score(&next, next.Fly(), r)
	out.area = math.Log(f.fly(&next, next.Fly(), r).Area(0.9))
	return out
}

// TestTimedFlightsTeach: simulated clubs whose flights have one timing of the
// landing and one bearing each, beside the same clubs' finds alone. Truths are
// drawn from the prior by gonum's distributions.
func TestTimedFlightsTeach(t *testing.T) {
	fmt.Printf("%7s %6s | %-46s | %-46s\n", "flights", "clubs", "finds alone", "with a timing and a bearing each")
	fmt.Printf("%7s %6s | %10s %10s %12s %11s | %10s %10s %12s %11s\n", "", "", "drag s.e.", "rms error", "in 90 % area", "area", "drag s.e.",
		"rms error", "in 90 % area", "area")
	for _, c := range [][3]int{{1, 8, 400}, {3, 8, 400}, {5, 0, 400}, {20, 0, 300}} {
		flights, n := c[0], many(c[1], c[2])
		if n == 0 {
			continue // in the long form only
		}
		got := make([][2]clubOutcome, n)
		allClubs(n, func(club int) {
			tr := drawTruth(rand.New(rand.NewPCG(uint64(club), 45)))
			tr.timed, tr.seen, tr.streamers, tr.stands, tr.wrong = true, true, true, geo.XY{X: -300, Y: 150}, 0
			cases := season(flights+1, tr, uint64(club)+9000)
			got[club][0] = outcomeOf(t, findsAlone(cases[:flights]), cases[flights], tr, club)
			got[club][1] = outcomeOf(t, cases[:flights], cases[flights], tr, club)
		})
		var se, rms, in, area [2]float64
		for _, g := range got {
			for k, o := range g {
				se[k] += o.se / float64(n)
				rms[k] += o.miss * o.miss / float64(n)
				area[k] += o.area / float64(n)
				if o.level <= 0.9 {
					in[k]++
				}
			}
		}
		fmt.Printf("%7d %6d", flights, n)
		for k := range se {
			lo, hi := Binomial(int(in[k]), n, 0.95)
			fmt.Printf(" | %8.1f %% %8.1f %% %5.0f (%2.0f-%3.0f) %8.1f ha", 15*se[k], 15*math.Sqrt(rms[k]), 100*in[k]/float64(n), 100*lo, 100*hi,
				math.Exp(area[k])/1e4)
			assert.Less(t, lo, 0.94, "90 % areas of new flights, flights %d, %d", flights, k)
			assert.Greater(t, hi, 0.86, "90 % areas of new flights, flights %d, %d", flights, k)
			if n >= 400 {
				assert.InDelta(t, 0.9, in[k]/float64(n), 0.04, "90 % areas of new flights, flights %d, %d", flights, k)
			}
		}
		fmt.Println()
		for club, g := range got {
			if o := g[1]; math.Abs(o.miss) > 5*o.se {
				fmt.Printf("%7s club %d with all is off by %+.1f default spreads, s.e. %.1f; its next flight at level %.2f\n", "", club, o.miss,
					o.se, o.level)
			}
		}
		assert.Less(t, se[1], se[0])
	}
}

// Clubs that find what lies near the pad and lose what lies far, though they go
// over the ground out to there: from finds alone the drag of their streamers comes
// out too small or their winds too weak, from all flights it does not.
func TestLostFlightsTeach(t *testing.T) {
	clubs := many(8, 40)
	const flights, reach = 12, 380.0
	var alone, all []float64
	var mu sync.Mutex
	allClubs(clubs, func(club int) {
		tr := truth{streamers: true, finds: func(at geo.XY) bool { return at.Norm() < reach }, searches: reach}
		cases := season(flights, tr, uint64(club)+300)
		drift := func(p *Posterior) (of []float64) {
			w, d := p.factorAt(WindSpeed), p.factorAt(dragFactor("streamer"))
			for i := range w {
				of = append(of, w[i]+0.5*d[i])
			}
			return of
		}
		if len(findsAlone(cases)) < 2 {
			return
		}
		a, b := drift(learned(t, findsAlone(cases), uint64(club))), drift(learned(t, cases, uint64(club)))
		mu.Lock()
		alone, all = append(alone, stat.Mean(a, nil)), append(all, stat.Mean(b, nil))
		mu.Unlock()
	})
	report := func(name string, x []float64) (m, se float64) {
		m, sd := stat.MeanStdDev(x, nil)
		se = sd / math.Sqrt(float64(len(x)))
		t.Logf("%-12s the streamers' drift is off by %+.2f default spreads (standard error %.2f), %d clubs", name, m, se, len(x))
		return m, se
	}
	slices.Sort(alone)
	slices.Sort(all)
	m, se := report("finds alone", alone)
	assert.Less(t, m, -3*se)
	m, se = report("all flights", all)
	assert.InDelta(t, 0, m, 3*se+0.1)
}

// A wrong timing, an observer who is wrong every time and a find 20 km off do not
// wreck what the rest teaches, and are named.
func TestWrongEntriesAreNamed(t *testing.T) {
	tr := truth{timed: true, seen: true, streamers: true, stands: geo.XY{X: -300, Y: 150},
		mu: map[string]float64{dragFactor("streamer"): 2}}
	cases := season(10, tr, 21)
	good := learned(t, cases, 1)
	tr.biasDeg = 70
	bad := season(10, tr, 21) // the same flights, every bearing 70 degrees off
	for i := range bad {
		bad[i].Find = cases[i].Find
	}
	bad[2].Find = geo.XY{X: 14000, Y: -14000}
	tr.biasDeg, tr.mistaken = 0, 0
	p := learned(t, bad, 1)
	x, y := good.factorAt(dragFactor("streamer")), p.factorAt(dragFactor("streamer"))
	m, sd := stat.PopMeanStdDev(x, nil)
	m2, sd2 := stat.PopMeanStdDev(y, nil)
	assert.InDelta(t, m, m2, sd)
	assert.Less(t, sd2, 2*sd)
	r, err := p.Report(context.Background(), Options{Seed: 1})
	require.NoError(t, err)
	assert.Greater(t, r.Scores[2].Wrong, 0.99)
	for _, d := range r.Doubts {
		assert.Equal(t, "Ben", d.By, d)
	}
	assert.GreaterOrEqual(t, len(r.Doubts), 9)
}

// Many flights, each with few runs, must not together make more of the farthest of
// those than there is: their factors' means and spreads come out as they were drawn.
func TestManyFlightsKeepTheirSpreads(t *testing.T) {
	cases := season(manyCases+40, truth{timed: true, seen: true, stands: geo.XY{X: -300, Y: 150}}, 91)
	p, err := Fit(context.Background(), cases, nil, Options{Seed: 1, Draws: 400})
	require.NoError(t, err)
	for k, f := range p.problem.factors {
		var mu, s []float64
		for _, d := range p.draws {
			mu, s = append(mu, d.mu[k]), append(s, d.s[k])
		}
		m, se := stat.PopMeanStdDev(mu, nil)
		spread, spreadSE := stat.PopMeanStdDev(s, nil)
		t.Logf("%-16s mean %+.2f (%.2f), spread %.2f (%.2f)", f.Name, m, se, spread, spreadSE)
		assert.InDelta(t, 0, m, 4*se+1e-9, f.Name)
		assert.InDelta(t, 1, spread, 4*spreadSE, f.Name)
		assert.Less(t, spread, 1.5, f.Name)
	}
}

// A streamer with two fifths of the drag that is computed, two and a half standard
// deviations out, comes down like a tangled one: that every flight tangled is far
// less likely, and is not what is learned.
func TestFastDeviceIsNoTangledOne(t *testing.T) {
	tr := truth{timed: true, seen: true, streamers: true, stands: geo.XY{X: -300, Y: 150},
		mu: map[string]float64{dragFactor("streamer"): -6.3}}
	p := learned(t, season(20, tr, 19), 1)
	m, se := stat.PopMeanStdDev(p.factorAt(dragFactor("streamer")), nil)
	assert.InDelta(t, -6.3, m, 3*se)
	assert.Less(t, se, 1.0)
	assert.Greater(t, p.outcomeResults()[0].Probability, 0.8, "nominal")
}

// The order of flights changes no byte, nor does the number of workers.
func TestOrderAndWorkersChangeNothing(t *testing.T) {
	tr := truth{timed: true, seen: true, stands: geo.XY{X: -300, Y: 150}, finds: func(at geo.XY) bool { return at.Norm() < 700 }}
	cases := season(5, tr, 31)
	var first []byte
	for _, workers := range []int{1, 2, 7} {
		_, r := fit(t, cases, workers)
		text, err := json.Marshal(r)
		require.NoError(t, err)
		if first == nil {
			first = text
		}
		assert.Equal(t, string(first), string(text), "workers %d", workers)
		slices.Reverse(cases)
	}
}

// A measurement and no flight is learned from: with a drag known but for the
// scatter from run to run the posterior is a normal's, in closed form.
func TestMeasurementAlone(t *testing.T) {
	m := Measured{Entry: 1, Factor: dragFactor("streamer"), Group: "streamer 0.09 m2", Value: 0.3, SD: 0.05}
	p, err := Fit(context.Background(), nil, []Measured{m, m, m}, Options{Seed: 1})
	require.NoError(t, err)
	r, err := p.Report(context.Background(), Options{Seed: 1})
	require.NoError(t, err)
	require.Len(t, r.Factors, 1)
	got := r.Factors[0].Members[0]
	// three draws of spread hypot(0.9 x 0.15, 0.05) about a mean whose prior is 0.375 wide
	v := (0.135*0.135 + 0.05*0.05) / 3
	prior := 0.375 * 0.375 * 30 / 28
	assert.InDelta(t, 0.3*prior/(prior+v), math.Log(got.Mean), 0.02)
	assert.Equal(t, 3, got.Measured)
	assert.Less(t, got.SD, 0.2)
}

// realClub returns n cases of the real model, streamers only, of which the drag is
// exp(streamer) as large as computed, in winds of which one reading near the
// ground is known; see: what is logged of each beside its find.
func realClub(t testing.TB, n int, streamer float64, see watching, seed uint64) (out []Case) {
	r := rand.New(rand.NewPCG(seed, 51))
	for i := range n {
		f := clubFlight(0, r)
		f.ID = fmt.Sprintf("real-%02d", i)
		p := wind.Profile{Levels: f.Wind[0].Profile.Levels[:1]}
		p.Spread = spread.Fitted.Of(p, spread.Source{Sun: 40})
		f.Wind[0].Profile = p
		true_ := f
		true_.Learned.Devices = []drift.Adjust{{Bias: streamer}}
		true_.Spread.DeviceCdS = ptr(0.15)
		m, err := drift.Prepare(true_)
		require.NoError(t, err)
		var in drift.Input
		w := drift.Work{}
		m.Draw(seed, i, &in)
		in.Outcome = m.NominalOutcome()
		l := m.Fly(in, &w)
		all := Logged{Find: &geo.XY{X: l.At.X + 5*r.NormFloat64(), Y: l.At.Y + 5*r.NormFloat64()}}
		if see.times {
			at := l.LandingS + r.NormFloat64()
			from := m.Frame().Place(geo.XY{X: -400, Y: 100})
			deg := geo.NormDeg(l.At.Sub(geo.XY{X: -400, Y: 100}).BearingDeg() + 3*r.NormFloat64())
			all.Seen = []evidence.Sighting{{Kind: evidence.Timing{Moment: evidence.Moment{Event: "landing", At: &at}}},
				{Kind: evidence.Bearing{Observer: evidence.Observer{From: &from}, BearingDeg: &deg, Moment: evidence.Moment{Event: "landing"}}}}
		}
		if see.heights {
			high := l.ApogeeM + max(5, 0.03*l.ApogeeM)*r.NormFloat64() // as its error is taken where none is said
			all.Seen = append(all.Seen, evidence.Sighting{Kind: evidence.Height{Moment: evidence.Moment{Event: "apogee"}, HeightM: &high}})
		}
		plain, err := drift.Prepare(f)
		require.NoError(t, err)
		c, err := NewCase(plain, all)
		require.NoError(t, err)
		out = append(out, c)
	}
	return out
}

// watching is what a club of the real model logs: the time of each landing and a
// bearing of it, and how high each went.
type watching struct{ times, heights bool }

// Where winds are known by a reading at the ground alone, three times of landing say
// far more of a streamer than three finds, and with the heights more still. What
// is left is how much it varies from run to run: with that known without error
// three flights would leave spread/sqrt(3), and no better can be had of any.
func TestTimesTellDrag(t *testing.T) {
	clubs := many(2, 40)
	kinds := []watching{{}, {true, false}, {true, true}}
	se, off := make([][]float64, len(kinds)), make([][]float64, len(kinds))
	var mu sync.Mutex
	allClubs(clubs, func(club int) {
		for k, see := range kinds {
			p := learned(t, realClub(t, 3, 0.45, see, uint64(club)+70), 1)
			m, sd := stat.PopMeanStdDev(p.factorAt(dragFactor("streamer")), nil)
			mu.Lock()
			se[k], off[k] = append(se[k], sd), append(off[k], (m-3)/sd)
			mu.Unlock()
		}
	})
	for k, name := range []string{"finds alone", "time and bearing each", "time, bearing and height each"} {
		slices.Sort(se[k]) // the clubs come in any order
		slices.Sort(off[k])
		t.Logf("streamers' drag after three flights, %-30s s.e. %.1f %%, %.2f of finds alone; off by %.1f s.e. (r.m.s.), %d clubs",
			name+":", 15*stat.Mean(se[k], nil), stat.Mean(se[k], nil)/stat.Mean(se[0], nil), rms(off[k]), clubs)
	}
	least := spreadMedian / math.Sqrt(3)
	t.Logf("the least that can be: %.1f %%, %.2f of finds alone", 15*least, least/stat.Mean(se[0], nil))
	assert.Less(t, stat.Mean(se[1], nil), 0.7*stat.Mean(se[0], nil))
	assert.Less(t, stat.Mean(se[2], nil), 0.5*stat.Mean(se[0], nil))
	assert.Greater(t, stat.Mean(se[2], nil), 0.9*least)
	assert.Less(t, rms(off[1]), 2.0)
}

func rms(x []float64) float64 { return floats.Norm(x, 2) / math.Sqrt(float64(len(x))) }

// What taught what is named, and what would teach most next.
func TestTeachersAreNamed(t *testing.T) {
	cases := realClub(t, 3, 0.45, watching{times: true}, 71)
	_, r := fit(t, cases, 0)
	f := factorOf(r, dragFactor("streamer"))
	require.NotEmpty(t, f.Taught)
	assert.Equal(t, "landing time", f.Taught[0].What)
	assert.Regexp(t, `^streamer drag: 1\.\d\d of the catalogue's \(.* to .*\), mostly from the landing times of real-0.( and|,) real-0.`, f.TaughtSays())
	shape := factorOf(r, WindShape+", surface wind alone")
	assert.Empty(t, shape.TaughtSays())

	_, r = fit(t, season(1, truth{streamers: true}, 41), 0)
	assert.Regexp(t, `time one descent from opening to landing, or drop the streamer by hand and time that: the map of a flight like toy-000 would become \d\d % of its area`, r.Next)
}

// A person whose bearings are all 6 degrees to the right is known after enough
// flights that were found, drawn toward anybody as far as few sightings leave it
// open; one with a single sighting is anybody.
func TestObserversAreKnown(t *testing.T) {
	tr := truth{timed: true, seen: true, streamers: true, stands: geo.XY{X: -300, Y: 150}, biasDeg: 6}
	cases := season(12, tr, 61)
	cases[3].Entries[1].By = "Eva" // she saw one flight
	_, r := fit(t, cases, 0)
	require.Len(t, r.Observers, 2)
	ben := r.Observers[1]
	assert.Equal(t, "Ben", ben.By)
	assert.Equal(t, 11, ben.N)
	assert.InDelta(t, 6, ben.Bias, 3*ben.BiasSE)
	assert.Greater(t, ben.Bias, 3.0)
	assert.InDelta(t, 1, ben.Scale, 0.6)
	assert.Contains(t, ben.Says(), "to the right of what was, allowed for")
	deg, at := 90.0, 31.0
	seen := []evidence.Sighting{{By: "Ben", Kind: evidence.Bearing{BearingDeg: &deg}}, {By: "Eva", Kind: evidence.Bearing{BearingDeg: &deg}},
		{By: "Ana", Kind: evidence.Timing{Moment: evidence.Moment{Event: "landing", At: &at}}}}
	used := r.Correct(seen)
	assert.Len(t, used, 2)
	assert.NotNil(t, seen[0].Habit)
	assert.Nil(t, seen[1].Habit)
}

// With residuals known exactly, and the scatter too, a person's bias is a normal's
// mean: drawn toward the common one by the ratio of precisions.
func TestHabitInClosedForm(t *testing.T) {
	var seen []off
	for range 400 {
		seen = append(seen, off{"Ben", "bearing", 2, 0}, off{"Ben", "bearing", 8, 0})
	}
	bias, se, sd := habitOf(seen, 0, bearingHabit)
	assert.InDelta(t, 5, bias, 0.02) // 800 sightings outweigh a habit of 3 degrees
	assert.InDelta(t, 3, sd, 0.15)
	assert.InDelta(t, 3/math.Sqrt(800), se, 0.02)
	bias, _, _ = habitOf([]off{{"Ben", "bearing", 6, 300}}, 1, bearingHabit)
	assert.InDelta(t, 1, bias, 0.01, "a sighting that says nothing")
}
