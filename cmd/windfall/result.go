package main

import (
	"math"

	"windfall/drift"
	"windfall/geo"
	"windfall/geo/grid"
)

// levels are the probabilities of the areas and ellipses shown.
var levels = []float64{0.5, 0.75, 0.9, 0.95}

// result is the JSON of predict and locate. Metres, seconds, degrees, chances
// 0 to 1; every chance that comes from runs has its standard error beside it.
type result struct {
	Flight        string           `json:"flight"`
	Seed          uint64           `json:"seed"`
	Runs          int              `json:"runs"`
	EffectiveRuns int              `json:"effective_runs"`
	Nominal       nominalResult    `json:"nominal"`
	Landing       landingResult    `json:"landing"`
	Outcomes      []outcomeResult  `json:"outcomes"`
	Places        []placeResult    `json:"places"`
	Parts         []partResult     `json:"parts"`
	Map           mapResult        `json:"map"`
	Causes        []causeResult    `json:"sensitivity,omitempty"`
	Learned       *learnedResult   `json:"learned,omitempty"`
	Prior         *priorResult     `json:"prior,omitempty"`
	Sightings     []sightingResult `json:"sightings,omitempty"`
	Assumptions   []string         `json:"assumptions"`
	Cautions      []string         `json:"cautions"`
	Files         []string         `json:"files"`
}

type nominalResult struct {
	RailExit  float64   `json:"rail_exit_mps"`
	Burnout   float64   `json:"burnout_s"`
	Apogee    float64   `json:"apogee_m"`
	ApogeeS   float64   `json:"apogee_s"`
	Ejection  *float64  `json:"ejection_s"`
	LandingS  float64   `json:"landing_s"`
	LandingV  float64   `json:"landing_mps"`
	EjectionV *float64  `json:"ejection_mps"`
	Landing   geo.Place `json:"landing"`
}

type landingResult struct {
	Mean     geo.Place      `json:"mean"`
	MeanSE   *xyResult      `json:"mean_se,omitempty"`
	Ellipses []grid.Ellipse `json:"ellipses"`
	Areas    []areaResult   `json:"areas"`
}

type xyResult struct {
	East  float64 `json:"east_m"`
	North float64 `json:"north_m"`
}

type areaResult struct {
	Probability float64 `json:"probability"`
	AreaM2      float64 `json:"area_m2"`
}

type outcomeResult struct {
	Name        string         `json:"name"`
	Probability float64        `json:"probability"`
	SE          float64        `json:"se"`
	Mean        *geo.Place     `json:"mean"`
	Ellipses    []grid.Ellipse `json:"ellipses"`
}

type placeResult struct {
	Name        string        `json:"name"`
	Kind        string        `json:"kind"`
	Probability float64       `json:"probability"`
	SE          float64       `json:"se"`
	ByOutcome   []chanceShare `json:"by_outcome,omitempty"`
}

// chanceShare is a chance given an outcome.
type chanceShare struct {
	Name        string  `json:"name"`
	Probability float64 `json:"probability"`
	SE          float64 `json:"se"`
}

type partResult struct {
	Name        string         `json:"name"`
	Probability float64        `json:"probability"` // that it came off
	SE          float64        `json:"se"`
	Landing     *landingResult `json:"landing"` // null when it never did
}

// mapResult says how the probability map was made.
type mapResult struct {
	Cell    float64 `json:"cell_m"`
	Smooth  float64 `json:"smoothing_m"`
	Outside float64 `json:"outside"`
}

type causeResult struct {
	Input string  `json:"input"`
	Share float64 `json:"share"`
	SE    float64 `json:"se"`
}

// cloudPoints returns the landing points of a cloud and their weights.
func cloudPoints(c *drift.Cloud) ([]geo.XY, []float64) {
	pts := make([]geo.XY, len(c.Landings))
	for i := range c.Landings {
		pts[i] = c.Landings[i].At
	}
	return pts, c.Weights
}

// landingOf summarises points: mean, ellipses and, given their map, areas.
func landingOf(f geo.Frame, pts []geo.XY, w []float64, m *grid.Map) (*landingResult, error) {
	mom, err := grid.Measure(pts, w)
	if err != nil {
		return nil, err
	}
	r := &landingResult{
		Mean:     f.Place(mom.Mean),
		MeanSE:   &xyResult{mom.MeanSE.X, mom.MeanSE.Y},
		Ellipses: ellipses(mom), Areas: []areaResult{},
	}
	for _, a := range m.Contours(levels) {
		r.Areas = append(r.Areas, areaResult{a.Probability, a.AreaM2})
	}
	return r, nil
}

func ellipses(m grid.Moments) []grid.Ellipse {
	out := []grid.Ellipse{}
	for _, p := range levels {
		out = append(out, m.Ellipse(p))
	}
	return out
}

// outcomesOf gives each outcome's chance and where it comes down.
func outcomesOf(c *drift.Cloud) ([]outcomeResult, error) {
	var out []outcomeResult
	for k, o := range c.Outcomes {
		var pts []geo.XY
		var w []float64
		for i := range c.Landings {
			if c.Landings[i].Outcome == k {
				pts = append(pts, c.Landings[i].At)
				w = append(w, c.Weight(i))
			}
		}
		r := outcomeResult{Name: o.Name, Ellipses: []grid.Ellipse{}}
		r.Probability, r.SE = share(c, func(i int) bool { return c.Landings[i].Outcome == k })
		if r.Probability > 0 {
			mom, err := grid.Measure(pts, w)
			if err != nil {
				return nil, err
			}
			mean := c.Frame.Place(mom.Mean)
			r.Mean, r.Ellipses = &mean, ellipses(mom)
		}
		out = append(out, r)
	}
	return out, nil
}

// share is the weighted share of runs for which in is true, and its standard
// error: sqrt(sum w^2 (x - p)^2)/sum w, the usual one of self-normalised
// importance sampling (Owen 2013, Monte Carlo theory, eq. 9.9, from memory).
// For equal weights it is sqrt(p(1-p)/n).
func share(c *drift.Cloud, in func(i int) bool) (p, se float64) {
	var sum, hit, in2, out2 float64
	for i := range c.Landings {
		w := c.Weight(i)
		sum += w
		if in(i) {
			hit += w
			in2 += w * w
		} else {
			out2 += w * w
		}
	}
	if sum == 0 {
		return 0, 0
	}
	p = hit / sum
	return p, math.Sqrt(in2*(1-p)*(1-p)+out2*p*p) / sum
}
