package learn

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mathext"

	"windfall/drift"
	"windfall/drift/internal/stream"
	"windfall/geo"
	"windfall/geo/grid"
)

// levels are those of the coverage table.
var levels = [...]float64{0.5, 0.75, 0.9}

// Coverage counts the finds that lay inside the areas of one probability.
type Coverage struct {
	Level     float64 `json:"level"`
	Inside    int     `json:"inside"` // with what the other finds teach
	Of        int     `json:"of"`
	Low       float64 `json:"low"` // 95 % interval of the share (Clopper and Pearson 1934)
	High      float64 `json:"high"`
	WasInside int     `json:"was_inside"` // before learning
	WasLow    float64 `json:"was_low"`
	WasHigh   float64 `json:"was_high"`
}

// Score is how the maps of one found flight did, before learning and with what
// all other finds teach: no flight judges a map it helped to make.
type Score struct {
	Flight   string        `json:"flight"`
	Level    float64       `json:"level"` // highest-density probability that just reaches the find
	WasLevel float64       `json:"was_level"`
	Log      float64       `json:"log_score"` // log of the map's density at the find, per m2
	WasLog   float64       `json:"was_log_score"`
	Wrong    float64       `json:"wrong"`           // chance that the entry is wrong
	Moved    []movedFactor `json:"moved,omitempty"` // the factors this find moved most
}

// IsWrong tells whether the find is more likely a mistake than not.
func (s Score) IsWrong() bool { return s.Wrong > 0.5 }

// Report turns the posterior into a Result, with the calibration.
func (p *Posterior) Report(ctx context.Context, o Options) (*Result, error) {
	r := &Result{Flights: len(p.cases), Factors: p.factorResults(), Measured: p.measured}
	if len(p.cases) > 0 {
		r.Outcomes = p.outcomeResults()
	}
	var found []int
	for i := range p.cases {
		if !p.cases[i].Lost {
			found = append(found, i)
		}
	}
	r.Finds = len(found)
	r.Scores = make([]Score, len(found))
	if o.Workers == 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	if err := p.weighFactors(ctx, o, r.Factors); err != nil {
		return nil, err
	}
	r.Lost = p.owns()
	p.taught(r.Factors)
	r.Next = p.next()
	r.Observers = p.observers()
	err := each(ctx, len(found), o.Workers, func(k int) error {
		r.Scores[k] = p.score(found[k])
		return nil
	}, func(done int) {
		if o.Progress != nil {
			o.Progress("scoring the maps", done, len(found))
		}
	})
	if err != nil {
		return nil, err
	}
	r.Doubts, r.Thin = p.doubts(), p.thin()
	for _, level := range levels {
		c := Coverage{Level: level}
		for _, s := range r.Scores {
			if s.IsWrong() {
				continue // an entry that is no find
			}
			c.Of++
			if s.Level <= level {
				c.Inside++
			}
			if s.WasLevel <= level {
				c.WasInside++
			}
		}
		c.Low, c.High = Binomial(c.Inside, c.Of, 0.95)
		c.WasLow, c.WasHigh = Binomial(c.WasInside, c.Of, 0.95)
		r.Coverage = append(r.Coverage, c)
	}
	was, now := r.LogScore()
	r.Withheld = len(r.Scores) > 1 && now < was // of one find, none is left to learn from when it is left out
	r.Verdict = r.verdict()
	return r, nil
}

func (p *Posterior) score(i int) Score {
	c := &p.cases[i]
	s := &p.problem.sites[i]
	w := p.leaveOut(i)
	out := Score{Flight: c.Flight, Moved: p.influence(i, w, 3)}
	for d := range p.draws {
		out.Wrong += p.draws[d].bad[i] / float64(len(p.draws))
	}
	fly := c.Fly()
	out.WasLevel, out.WasLog = p.untaught(s).score(c, fly, stream.Scores.New(p.seed, uint64(i)))
	out.Level, out.Log = p.forecast(i, w).score(c, fly, stream.Scores.New(p.seed, uint64(i)))
	return out
}

// forecast is what is thought of a flight before it: mean and standard
// deviation of its factors by column, the chances of its outcomes; how many times
// fewer runs make its map.
type forecast struct {
	mean, sd, chance []float64
	fewer            int
}

// fewer is how many times fewer runs make the maps that are scored.
func (p *Posterior) fewer() int {
	if len(p.cases) > manyCases {
		return manyFewer
	}
	return 1
}

// untaught is the forecast without learning.
func (p *Posterior) untaught(s *site) forecast {
	f := forecast{make([]float64, len(s.slots)), append([]float64(nil), s.ratio...), s.prior, p.fewer()}
	for l, k := range s.slots {
		if k := &p.problem.factors[k]; f.sd[l] == 1 && !k.scaleOnly {
			f.sd[l] = k.wasSD() / k.SD
		}
	}
	return f
}

// forecastOf is that of case i by the draws weighted by w.
func (p *Posterior) forecastOf(i int, w []float64) forecast {
	s := &p.problem.sites[i]
	f := forecast{make([]float64, len(s.slots)), make([]float64, len(s.slots)), make([]float64, len(s.names)), p.fewer()}
	for l := range s.slots {
		f.mean[l], f.sd[l] = p.predictive(i, l, w)
	}
	for d := range p.draws {
		floats.AddScaled(f.chance, w[d], p.problem.chances(p.draws[d].outcomes(), s, nil))
	}
	floats.Scale(1/floats.Sum(w), f.chance)
	return f
}

// forecast is forecastOf with the factors that are withheld as they were.
func (p *Posterior) forecast(i int, w []float64) forecast {
	f := p.forecastOf(i, w)
	s := &p.problem.sites[i]
	was := p.untaught(s)
	for l, k := range s.slots {
		if p.withheld != nil && p.withheld[k] {
			f.mean[l], f.sd[l] = was.mean[l], was.sd[l]
		}
	}
	return f
}

// score flies a small map of the case and scores its find: the level of the
// area that just reaches it, and the log of the density there.
func (f forecast) score(c *Case, fly func(drift.Input) (geo.XY, bool), r *rand.Rand) (level, logScore float64) {
	level, density := 1.0, 0.0
	if g := f.fly(c, fly, r); g != nil {
		level = g.LevelAt(c.Find)
		if i, j, ok := g.At(c.Find); ok {
			density = g.P[j*g.NX+i] / (g.Cell * g.Cell)
		}
	}
	const wrong = wrongAlpha / (wrongAlpha + wrongBeta)
	return level, math.Log((1-wrong)*density + wrong*math.Exp(logWrong(c.Find.Norm())))
}

// fly makes a small map of the case; nil where nothing flies.
func (f forecast) fly(c *Case, fly func(drift.Input) (geo.XY, bool), r *rand.Rand) *grid.Map {
	in := drift.Input{Z: make([]float64, c.Dim)}
	var pts []geo.XY
	var weight []float64
	for o, p := range f.chance {
		n := rareRuns / f.fewer
		if p > likelyChance {
			n = likelyRuns / f.fewer
		}
		in.Outcome = o
		for range n {
			if p > 0 {
				f.draw(c, in.Z, r)
				if at, ok := fly(in); ok {
					pts, weight = append(pts, at), append(weight, p/float64(n))
				}
			}
		}
	}
	g, err := grid.From(geo.Frame{Origin: c.Pad}, pts, weight, grid.Options{MaxCells: mapCells})
	if err != nil {
		return nil
	}
	return g
}

// draw fills z with the inputs of one flight.
func (f forecast) draw(c *Case, z []float64, r *rand.Rand) {
	for i := range z {
		z[i] = r.NormFloat64()
	}
	for l, link := range c.Links {
		z[link.Coord] = (f.mean[l] + f.sd[l]*z[link.Coord]) / link.ratio()
	}
	for _, j := range c.Shape {
		z[j] *= f.sd[len(c.Links)]
	}
}

// Binomial returns the interval of Clopper and Pearson (1934, Biometrika 26)
// for the chance behind k successes in n trials, at that confidence. With n = 0
// it is 0 to 1.
func Binomial(k, n int, confidence float64) (low, high float64) {
	low, high = 0, 1
	a := (1 - confidence) / 2
	if k > 0 {
		low = mathext.InvRegIncBeta(float64(k), float64(n-k+1), a)
	}
	if k < n {
		high = mathext.InvRegIncBeta(float64(k+1), float64(n-k), 1-a)
	}
	return low, high
}

// judge says whether maps whose areas held so many finds were too small, about
// right or too wide. Each level's interval is at 98.3 %, so that all three
// together err in one case of twenty.
func judge(inside [len(levels)]int, of int) string {
	if of < 5 {
		return "too few to tell"
	}
	small, wide := false, false
	for i, level := range levels {
		low, high := Binomial(inside[i], of, 1-0.05/float64(len(levels)))
		small = small || high < level
		wide = wide || low > level
	}
	switch {
	case small && wide:
		return "wrong in shape"
	case small:
		return "too small"
	case wide:
		return "too wide"
	}
	return "about right"
}

func (r *Result) verdict() []string {
	var before, after [len(levels)]int
	for i, c := range r.Coverage {
		before[i], after[i] = c.WasInside, c.Inside
	}
	last := r.Coverage[len(r.Coverage)-1]
	was, now := judge(before, last.Of), judge(after, last.Of)
	var out []string
	switch {
	case r.Finds == 0:
		out = append(out, "no find yet to judge maps by")
	case was == "too few to tell":
		out = append(out, fmt.Sprintf("finds so far: %d, too few to tell whether your maps have been too small or too wide",
			last.Of))
	default:
		out = append(out,
			fmt.Sprintf("without learning your maps have been %s: %d of %d finds inside their 90 %% areas", was,
				last.WasInside, last.Of),
			fmt.Sprintf("with what the other finds teach they are %s: %d of %d", now, last.Inside, last.Of))
	}
	if r.Withheld {
		was, now := r.LogScore()
		out = append(out, fmt.Sprintf("maps do not use this: on finds left out it scores %.2f a find worse "+
			"than no learning does", was-now))
	}
	out = slices.Concat(out, r.withheldSays(), r.doubtSays())
	var wrong []string
	for _, s := range r.Scores {
		if s.IsWrong() {
			wrong = append(wrong, s.Flight)
		}
	}
	if len(wrong) > 0 {
		out = append(out, fmt.Sprintf("the find of %s does not fit its flight at all and was left out; "+
			"look at the entry, and amend or withdraw it", strings.Join(wrong, ", ")))
	}
	return out
}
