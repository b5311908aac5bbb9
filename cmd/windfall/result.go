package main

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"windfall/drift"
	"windfall/drift/rules"
	"windfall/geo"
	"windfall/geo/chance"
	"windfall/geo/grid"
	"windfall/geo/mapfile"
	"windfall/geo/sun"
)

// levels are the probabilities of the areas and ellipses shown.
var levels = []float64{0.5, 0.75, 0.9, 0.95}

// result is the JSON of predict and locate. Metres, seconds, degrees, chances
// 0 to 1; every chance that comes from runs has its standard error beside it.
type result struct {
	Flight        string          `json:"flight"`
	Seed          uint64          `json:"seed"`
	Runs          int             `json:"runs"`
	EffectiveRuns int             `json:"effective_runs"`
	Nominal       nominalResult   `json:"nominal"`
	Landing       landingResult   `json:"landing"`
	Outcomes      []outcomeResult `json:"outcomes"`
	Places        []chance.Chance `json:"places"`
	Parts         []partResult    `json:"parts"`
	Sensitivity   []shareResult   `json:"sensitivity,omitempty"` // predict: shares of the landings' variance, greatest first
	Map           mapResult       `json:"map"`
	Assumptions   []string        `json:"assumptions"`
	Cautions      []string        `json:"cautions"`
	Learned       *learnedResult  `json:"learned,omitempty"`
	Files         []string        `json:"files"`

	// Before launch only.
	Rules     []rules.Finding `json:"rules,omitempty"`
	RulesNote string          `json:"rules_note,omitempty"`
	Sun       *sunResult      `json:"sun,omitempty"`
	Light     sun.Light       `json:"light,omitempty"` // when it lands

	// With sightings only.
	Prior     *priorResult     `json:"prior,omitempty"`
	Sightings []sightingResult `json:"sightings,omitempty"`
	Changes   []changeResult   `json:"changes,omitempty"`
}

type nominalResult struct {
	RailExit     float64   `json:"rail_exit_mps"`
	Burnout      float64   `json:"burnout_s"`
	Apogee       float64   `json:"apogee_m"`
	ApogeeS      float64   `json:"apogee_s"`
	Ejection     *float64  `json:"ejection_s"`
	LandingS     float64   `json:"landing_s"`
	LandingV     float64   `json:"landing_mps"`
	EjectionV    *float64  `json:"ejection_mps"` // through the air, when the first device is triggered
	TopSpeed     float64   `json:"top_mps"`      // through the air
	TopMach      float64   `json:"top_mach"`
	RailExitWind float64   `json:"rail_exit_wind_mps"`
	Landing      geo.Place `json:"landing"`
}

type landingResult struct {
	Mean     geo.Place      `json:"mean"`
	MeanSE   xyResult       `json:"mean_se"`
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

type partResult struct {
	Name    string         `json:"name"`
	Chance  float64        `json:"chance"`  // that it comes off, as the flight file says
	Landing *landingResult `json:"landing"` // if it does; null when no flight lasted until then
}

// shareResult is the part of the landings' variance that one input causes by
// itself (first-order Sobol index).
type shareResult struct {
	Name  string  `json:"name"`
	Share float64 `json:"share"`
}

// mapResult says how the probability map was made.
type mapResult struct {
	Cell    float64 `json:"cell_m"`
	Smooth  float64 `json:"smoothing_m"`
	Outside float64 `json:"outside"`
}

// summarise fills what a cloud and its map say.
func (s *situation) summarise() (*result, error) {
	r := &result{
		Flight: s.file.Flight.ID, Seed: s.cloud.Seed, Runs: len(s.cloud.Landings), EffectiveRuns: int(s.moments.Effective + 0.5),
		Nominal: nominalOf(s.model), Landing: landingOf(s.model.Frame(), s.moments, s.chances),
		Outcomes: s.outcomes(), Places: s.places(), Parts: []partResult{},
		Map:         mapResult{s.chances.Cell, s.chances.Smooth, s.chances.Outside},
		Assumptions: append(append([]string{}, s.file.Assumed...), s.model.Assumptions()...),
		Cautions:    append(append([]string{}, s.file.Warnings...), s.model.Cautions()...),
		Files:       []string{},
		Learned:     learnedOf(s.file),
	}
	if s.cloud.Weights == nil { // low-discrepancy runs know their ellipse better than their number says
		sc := s.cloud.Scatter(nil)
		r.Landing.MeanSE = xyResult{sc.MeanSE.X, sc.MeanSE.Y}
		for i := range r.Landing.Ellipses {
			e := &r.Landing.Ellipses[i]
			e.MajorSE = sc.SemiMajorSE * e.SemiMajor / sc.SemiMajor
			e.MinorSE = sc.SemiMinorSE * e.SemiMinor / sc.SemiMinor
		}
		r.Sensitivity = s.sensitivity()
	}
	if err := s.weighed(r); err != nil {
		return nil, err
	}
	if n := s.cloud.OffTerrain(); n > 0 {
		r.Cautions = append(r.Cautions, fmt.Sprintf("%d of %d runs come down beyond the terrain tile or in a void of it: flat ground at pad elevation taken there", n, r.Runs))
	}
	err := s.parts(r)
	return r, err
}

// sensitivity returns the shares, greatest first and "together" last; none when
// there are too few runs to tell.
func (s *situation) sensitivity() []shareResult {
	shares, err := s.model.Sensitivity(s.cloud)
	if err != nil || len(shares) == 0 {
		return nil
	}
	last := len(shares) - 1
	slices.SortStableFunc(shares[:last], func(a, b drift.Share) int { return cmp.Compare(b.Share, a.Share) })
	var out []shareResult
	for _, x := range shares {
		out = append(out, shareResult{x.Name, x.Share})
	}
	return out
}

func nominalOf(m *drift.Model) nominalResult {
	n := m.Nominal()
	return nominalResult{
		RailExit: n.RailExitMps, Burnout: n.BurnoutS, Apogee: n.ApogeeM, ApogeeS: n.ApogeeS, Ejection: orNull(n.EjectionS),
		LandingS: n.LandingS, LandingV: n.LandingMps, EjectionV: orNull(n.EjectionMps), TopSpeed: n.TopMps, TopMach: n.TopMach,
		RailExitWind: n.RailExitWind, Landing: m.Frame().Place(n.At),
	}
}

// orNull is nil for what did not happen.
func orNull(v float64) *float64 {
	if math.IsNaN(v) {
		return nil
	}
	return &v
}

func landingOf(f geo.Frame, mom grid.Moments, m *grid.Map) landingResult {
	r := landingResult{Mean: f.Place(mom.Mean), MeanSE: xyResult{mom.MeanSE.X, mom.MeanSE.Y}, Ellipses: ellipses(mom), Areas: []areaResult{}}
	for _, p := range levels {
		r.Areas = append(r.Areas, areaResult{p, m.Area(p)})
	}
	return r
}

func ellipses(m grid.Moments) []grid.Ellipse {
	out := []grid.Ellipse{}
	for _, p := range levels {
		out = append(out, m.Ellipse(p))
	}
	return out
}

// outcomes gives each outcome's chance and where it comes down.
func (s *situation) outcomes() []outcomeResult {
	var out []outcomeResult
	for k, o := range s.cloud.Outcomes {
		is := func(i int) bool { return s.cloud.Landings[i].Outcome == k }
		c := s.counted.Event(o.Name, "", is)
		r := outcomeResult{Name: o.Name, Probability: c.Probability, SE: c.SE, Ellipses: []grid.Ellipse{}}
		var pts []geo.XY
		var w []float64
		for i := range s.cloud.Landings {
			if is(i) {
				pts = append(pts, s.cloud.Landings[i].At)
				if s.cloud.Weights != nil {
					w = append(w, s.cloud.Weights[i])
				}
			}
		}
		if mom, err := grid.Measure(pts, w); err == nil { // no run had it: no place
			mean := s.cloud.Frame.Place(mom.Mean)
			r.Mean, r.Ellipses = &mean, ellipses(mom)
		}
		out = append(out, r)
	}
	return out
}

// places gives the chances of the field, of what is drawn on the ground, and
// of going above the ceiling.
func (s *situation) places() []chance.Chance {
	out := []chance.Chance{}
	for _, z := range append(chance.Zones(s.file.Field, s.file.Ground), s.beyond...) {
		out = append(out, s.counted.Of(z))
	}
	if c := s.file.Flight.Site.Ceiling; c != nil {
		out = append(out, s.counted.Event("above ceiling", chance.Ceiling, func(i int) bool { return s.cloud.Landings[i].ApogeeM > *c }))
	}
	return out
}

// partLevels are the areas that are drawn for shed parts.
var partLevels = []float64{0.5, 0.9}

// parts gives each shed part's own landing map, should it come off.
func (s *situation) parts(r *result) error {
	s.shed = nil
	for _, p := range s.cloud.Parts {
		pr := partResult{Name: p.Name, Chance: p.Chance}
		if len(p.Landings) > 0 {
			pts := make([]geo.XY, len(p.Landings))
			var w []float64
			for i, l := range p.Landings {
				pts[i] = l.At
				if s.cloud.Weights != nil {
					w = append(w, s.cloud.Weights[p.Run[i]])
				}
			}
			m, err := grid.From(s.cloud.Frame, pts, w, grid.Options{})
			if err != nil {
				return err
			}
			mom, err := grid.Measure(pts, w)
			if err != nil {
				return err
			}
			l := landingOf(s.cloud.Frame, mom, m)
			pr.Landing = &l
			drawn := mapfile.Part{Name: p.Name, Chance: p.Chance, Mean: mom.Mean}
			for _, a := range m.Contours(partLevels) {
				drawn.Areas = append(drawn.Areas, mapfile.Area(a))
			}
			s.shed = append(s.shed, drawn)
		}
		r.Parts = append(r.Parts, pr)
	}
	return nil
}
