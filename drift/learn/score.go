package learn

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"

	"gonum.org/v1/gonum/mathext"

	"windfall/drift"
	"windfall/geo"
	"windfall/geo/grid"
)

// Levels are those of the coverage table.
var Levels = [...]float64{0.5, 0.75, 0.9}

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
	Flight   string  `json:"flight"`
	Level    float64 `json:"level"` // highest-density probability that just reaches the find
	WasLevel float64 `json:"was_level"`
	Log      float64 `json:"log_score"` // log of the map's density at the find, per m2
	WasLog   float64 `json:"was_log_score"`
	Wrong    float64 `json:"wrong"`           // chance that the entry is wrong
	Moved    []Moved `json:"moved,omitempty"` // the factors this find moved most
}

// runs of each outcome for a map that is only scored.
const (
	likelyRuns  = 600
	rareRuns    = 90
	judgedEvery = 3 // of these, how many are held against the find
)

// Report turns the posterior into a Result, with the calibration.
func (p *Posterior) Report(ctx context.Context, o Options) (*Result, error) {
	r := &Result{Finds: len(p.cases), Factors: p.factorResults(), Outcomes: p.outcomeResults()}
	r.Scores = make([]Score, len(p.cases))
	if o.Workers == 0 {
		o.Workers = 2
	}
	err := each(ctx, len(p.cases), o.Workers, func(i int) error {
		r.Scores[i] = p.score(i)
		return nil
	}, func(done int) {
		if o.Progress != nil {
			o.Progress("scoring the maps", done, len(p.cases))
		}
	})
	if err != nil {
		return nil, err
	}
	for _, level := range Levels {
		c := Coverage{Level: level}
		for _, s := range r.Scores {
			if s.Wrong > 0.5 {
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
	mean, sd := make([]float64, len(s.slots)), make([]float64, len(s.slots))
	chance := make([]float64, len(s.names))
	for l := range s.slots {
		sd[l] = s.ratio[l]
	}
	copy(chance, s.prior)
	out.WasLevel, out.WasLog = scoreMap(c, fly, mean, sd, chance, rand.New(rand.NewPCG(p.seed, 2<<60|uint64(i))))
	for l := range s.slots {
		mean[l], sd[l] = p.predictive(i, l, w)
	}
	clear(chance)
	tot := 0.0
	for d := range p.draws {
		for j, v := range p.problem.chances(&state{odds: p.draws[d].odds}, s, nil) {
			chance[j] += w[d] * v
		}
		tot += w[d]
	}
	for j := range chance {
		chance[j] /= tot
	}
	out.Level, out.Log = scoreMap(c, fly, mean, sd, chance, rand.New(rand.NewPCG(p.seed, 2<<60|uint64(i))))
	return out
}

// scoreMap flies a small map of the case with its factors at mean and sd (by
// column of the case's hits) and its outcomes' chances, and scores the find.
func scoreMap(c *Case, fly func(drift.Input) (geo.XY, bool), mean, sd, chance []float64, r *rand.Rand) (level, logScore float64) {
	in := drift.Input{Z: make([]float64, c.Dim)}
	var parts []cloudPart
	for o, p := range chance {
		if p <= 0 {
			continue
		}
		n := rareRuns
		if p > 0.3 {
			n = likelyRuns
		}
		in.Outcome = o
		var pts []geo.XY
		for range n {
			for i := range in.Z {
				in.Z[i] = r.NormFloat64()
			}
			for l, link := range c.Links {
				in.Z[link.Coord] = (mean[l] + sd[l]*in.Z[link.Coord]) / link.ratio()
			}
			for _, j := range c.Shape {
				in.Z[j] *= sd[len(c.Links)]
			}
			if at, ok := fly(in); ok {
				pts = append(pts, at)
			}
		}
		if len(pts) > 2 {
			parts = append(parts, newPart(p, pts))
		}
	}
	f := density(parts, c.Find)
	for i := range parts {
		part := &parts[i]
		n := float64(len(part.pts))
		above, asked := 0, 0
		for j := 0; j < len(part.pts); j += judgedEvery {
			q := part.pts[j]
			// A point's own kernel is no evidence of density there.
			own := part.at(q)
			if density(parts, q)+part.share*((own-part.norm/n)*n/(n-1)-own) > f {
				above++
			}
			asked++
		}
		level += part.share * float64(above) / float64(asked)
	}
	const wrong = wrongAlpha / (wrongAlpha + wrongBeta)
	return level, math.Log((1-wrong)*f + wrong*math.Exp(logWrong(c.Find.Norm())))
}

// cloudPart is the landings of one outcome as a density: normal kernels with
// the cloud's own covariance times n^(-1/3) (Silverman 1986, section 4.3).
type cloudPart struct {
	share float64
	pts   []geo.XY
	inv   grid.Cov // inverse of the kernel's covariance, 1/m2
	norm  float64  // kernel's peak, 1/m2
}

func newPart(share float64, pts []geo.XY) cloudPart {
	s := grid.Sums{About: pts[0]}
	for _, q := range pts {
		s.Add(q, 1)
	}
	k := s.Cov().Times(math.Pow(s.W, -1.0/3)).Plus(grid.Cov{XX: 1, YY: 1}) // 1 m2: clouds that are a point
	return cloudPart{share, pts, k.Inverse(), 1 / (2 * math.Pi * math.Sqrt(k.Det()))}
}

func (c *cloudPart) at(q geo.XY) float64 {
	s := 0.0
	for _, p := range c.pts {
		if e := c.inv.Quad(q.Sub(p)); e < 60 {
			s += math.Exp(-0.5 * e)
		}
	}
	return s * c.norm / float64(len(c.pts))
}

func density(parts []cloudPart, q geo.XY) (f float64) {
	for i := range parts {
		f += parts[i].share * parts[i].at(q)
	}
	return f
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
func judge(inside [len(Levels)]int, of int) string {
	if of < 5 {
		return "too few to tell"
	}
	small, wide := false, false
	for i, level := range Levels {
		low, high := Binomial(inside[i], of, 1-0.05/float64(len(Levels)))
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
	var before, after [len(Levels)]int
	for i, c := range r.Coverage {
		before[i], after[i] = c.WasInside, c.Inside
	}
	last := r.Coverage[len(r.Coverage)-1]
	was, now := judge(before, last.Of), judge(after, last.Of)
	var out []string
	if was == "too few to tell" {
		out = append(out, fmt.Sprintf("finds so far: %d, too few to tell whether your maps have been too small or too wide", last.Of))
	} else {
		out = append(out,
			fmt.Sprintf("without learning your maps have been %s: %d of %d finds inside their 90 %% areas", was, last.WasInside, last.Of),
			fmt.Sprintf("with what the other finds teach they are %s: %d of %d", now, last.Inside, last.Of))
	}
	var wrong []string
	for _, s := range r.Scores {
		if s.Wrong > 0.5 {
			wrong = append(wrong, s.Flight)
		}
	}
	if len(wrong) > 0 {
		out = append(out, fmt.Sprintf("the find of %s does not fit its flight at all and was left out; look at the entry, and amend or withdraw it", strings.Join(wrong, ", ")))
	}
	return out
}
