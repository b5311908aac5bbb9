package situation

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"windfall/drift"
	"windfall/drift/compare"
	"windfall/drift/rules"
	"windfall/geo"
	"windfall/geo/chance"
	"windfall/geo/grid"
	"windfall/geo/sun"
	"windfall/search"
)

// levels are the probabilities of the areas and ellipses shown.
var levels = []float64{0.5, 0.75, 0.9, 0.95}

// Summary is the JSON document of a state. Metres, seconds, degrees, chances 0
// to 1; every chance that comes from runs has its standard error beside it.
type Summary struct {
	Flight        string          `json:"flight"`
	Seed          uint64          `json:"seed"`
	Runs          int             `json:"runs"`
	EffectiveRuns int             `json:"effective_runs"`
	Nominal       nominal         `json:"nominal"`
	Landing       landing         `json:"landing"`
	Outcomes      []outcome       `json:"outcomes"`
	Places        []chance.Chance `json:"places"`
	Parts         []part          `json:"parts"`
	// with equal weights: shares of the landings' variance, greatest first
	Sensitivity []share  `json:"sensitivity,omitempty"`
	Map         mapMade  `json:"map"`
	Assumptions []string `json:"assumptions"`
	Cautions    []string `json:"cautions"`
	Learned     *Learned `json:"learned,omitempty"`
	Measured    []string `json:"measured,omitempty"` // what was measured on the ground and is in it
	Files       []string `json:"files"`

	// Before launch only.
	Rules     []rules.Finding `json:"rules,omitempty"`
	RulesNote string          `json:"rules_note,omitempty"`
	Sun       *sunTimes       `json:"sun,omitempty"`
	Light     sun.Light       `json:"light,omitempty"` // when it lands
	// What the kind of wind costs, see WeighWind; nil: a wind of the hour and place.
	Wind *compare.WindWorth `json:"wind,omitempty"`

	// With sightings only.
	Prior     *prior     `json:"prior,omitempty"`
	Sightings []sighting `json:"sightings,omitempty"`
	Changes   []change   `json:"changes,omitempty"`

	// Of a plan only.
	Plan *search.Plan `json:"plan,omitempty"`
}

// nominal is the JSON of the flight as designed; null: it does not happen.
type nominal struct {
	RailExit     float64   `json:"rail_exit_mps"`
	Burnout      float64   `json:"burnout_s"`
	Apogee       float64   `json:"apogee_m"`
	ApogeeS      float64   `json:"apogee_s"`
	Ejection     *float64  `json:"ejection_s"`
	LandingS     float64   `json:"landing_s"`
	LandingV     float64   `json:"landing_mps"`
	Sink         float64   `json:"sink_mps"`     // at touchdown, downward
	Carried      float64   `json:"carried_mps"`  // at touchdown, over the ground
	EjectionV    *float64  `json:"ejection_mps"` // through the air, when the first device is triggered
	TopSpeed     float64   `json:"top_mps"`      // through the air
	TopMach      float64   `json:"top_mach"`
	RailExitWind float64   `json:"rail_exit_wind_mps"`
	Landing      geo.Place `json:"landing"`
}

// landing is the JSON of a map: its middle, ellipses and areas.
type landing struct {
	Mean     geo.Place      `json:"mean"`
	MeanSE   eastNorth      `json:"mean_se"`
	Ellipses []grid.Ellipse `json:"ellipses"`
	Areas    []area         `json:"areas"`
}

// Within returns the area (m2) of the map that holds a probability of those
// shown; NaN for one that is not.
func (l landing) Within(probability float64) float64 {
	for _, a := range l.Areas {
		if a.Probability == probability {
			return a.AreaM2
		}
	}
	return math.NaN()
}

type eastNorth struct {
	East  float64 `json:"east_m"`
	North float64 `json:"north_m"`
}

type area struct {
	Probability float64 `json:"probability"`
	AreaM2      float64 `json:"area_m2"`
}

type outcome struct {
	Name        string         `json:"name"`
	Probability float64        `json:"probability"`
	SE          float64        `json:"se"`
	Mean        *geo.Place     `json:"mean"`
	Ellipses    []grid.Ellipse `json:"ellipses"`
}

type part struct {
	Name    string   `json:"name"`
	Chance  float64  `json:"chance"`  // that it comes off, as the flight file says
	Landing *landing `json:"landing"` // if it does; null when no flight lasted until then
}

// share is the part of the landings' variance that one input causes by itself
// (first-order Sobol index).
type share struct {
	Name  string  `json:"name"`
	Share float64 `json:"share"`
}

// mapMade says how the probability map was made.
type mapMade struct {
	Cell    float64 `json:"cell_m"`
	Smooth  float64 `json:"smoothing_m"`
	Outside float64 `json:"outside"`
}

// SummaryOptions say what a summary holds beside the map.
type SummaryOptions struct {
	Beyond       []chance.Zone // whose chances are wanted too
	BeforeLaunch bool          // with the figures of the codes, and the sun
}

// Summarise fills the document of a state.
func Summarise(s *State, o SummaryOptions) (*Summary, error) {
	in := s.Input
	r := &Summary{
		Flight: in.Flight.ID, Seed: s.Cloud.Seed, Runs: len(s.Cloud.Landings), EffectiveRuns: int(s.Moments.Effective + 0.5),
		Nominal: nominalOf(in.Model), Landing: s.Landing(),
		Outcomes: s.outcomes(), Places: s.places(o), Parts: []part{},
		Map:         mapMade{s.Map.Cell, s.Map.Smooth, s.Map.Outside},
		Assumptions: append(append([]string{}, in.Assumed...), in.Model.Assumptions()...),
		Cautions:    slices.Concat([]string{}, in.Cautions, s.Cautions, in.Model.Cautions()),
		Files:       []string{},
		Learned:     in.Learned,
		Measured:    in.Measured,
	}
	if s.Cloud.Weights == nil {
		s.stratified(r)
	}
	if err := s.weighing(r); err != nil {
		return nil, err
	}
	if n := s.Cloud.OffTerrain(); n > 0 {
		r.Cautions = append(r.Cautions,
			fmt.Sprintf("%d of %d runs come down beyond the terrain tile or in a void of it: flat ground at pad elevation "+
				"taken there", n, r.Runs))
	}
	for _, p := range s.Parts {
		pr := part{Name: p.Name, Chance: p.Chance}
		if p.Map != nil {
			l := landingOf(s.Cloud.Frame, p.Moments, p.Map)
			pr.Landing = &l
		}
		r.Parts = append(r.Parts, pr)
	}
	if o.BeforeLaunch {
		beforeLaunch(r, in)
	}
	return r, nil
}

// stratified puts in what equal weights tell: low-discrepancy runs know their
// ellipse better than their number says.
func (s *State) stratified(r *Summary) {
	sc := s.Cloud.Scatter(nil)
	r.Landing.MeanSE = eastNorth{sc.MeanSE.X, sc.MeanSE.Y}
	for i := range r.Landing.Ellipses {
		e := &r.Landing.Ellipses[i]
		e.MajorSE, e.MinorSE = scaled(sc.SemiMajorSE, e.SemiMajor, sc.SemiMajor), scaled(sc.SemiMinorSE, e.SemiMinor,
			sc.SemiMinor)
	}
	r.Sensitivity = s.sensitivity()
}

// scaled is an axis's error in the proportion of axis to its one-sigma length;
// where nothing varies there is no length, nor an error.
func scaled(se, axis, sigma float64) float64 {
	if sigma == 0 {
		return 0
	}
	return se * axis / sigma
}

// sensitivity returns the shares, greatest first and "together" last; none when
// there are too few runs to tell.
func (s *State) sensitivity() []share {
	shares, err := s.Input.Model.Sensitivity(s.Cloud)
	if err != nil || len(shares) == 0 {
		return nil
	}
	last := len(shares) - 1
	slices.SortStableFunc(shares[:last], func(a, b drift.Share) int { return cmp.Compare(b.Share, a.Share) })
	var out []share
	for _, x := range shares {
		out = append(out, share{x.Name, x.Share})
	}
	return out
}

// nominalOf is the flight of a model as designed.
func nominalOf(m *drift.Model) nominal {
	n := m.Nominal()
	last := n.Path[len(n.Path)-1]
	return nominal{
		Sink: -last.VZ, Carried: math.Hypot(last.VX, last.VY),
		RailExit: n.RailExitMps, Burnout: n.BurnoutS, Apogee: n.ApogeeM, ApogeeS: n.ApogeeS, Ejection: orNull(n.EjectionS),
		LandingS: n.LandingS, LandingV: n.LandingMps, EjectionV: orNull(n.EjectionMps), TopSpeed: n.TopMps,
		TopMach:      n.TopMach,
		RailExitWind: n.RailExitWind, Landing: m.Frame().Place(n.At),
	}
}

// orNull is nil for NaN, which says that something did not happen.
func orNull(v float64) *float64 {
	if math.IsNaN(v) {
		return nil
	}
	return &v
}

// landingOf is the document of moments and the map made of the same points.
func landingOf(f geo.Frame, mom grid.Moments, m *grid.Map) landing {
	r := landing{Mean: f.Place(mom.Mean), MeanSE: eastNorth{mom.MeanSE.X, mom.MeanSE.Y}, Ellipses: ellipses(mom),
		Areas: []area{}}
	for _, p := range levels {
		r.Areas = append(r.Areas, area{p, m.Area(p)})
	}
	return r
}

// Landing is the document of the state's map.
func (s *State) Landing() landing { return landingOf(s.Cloud.Frame, s.Moments, s.Map) }

func ellipses(m grid.Moments) []grid.Ellipse {
	out := []grid.Ellipse{}
	for _, p := range levels {
		out = append(out, m.Ellipse(p))
	}
	return out
}

// outcomes gives each outcome's chance and where it comes down.
func (s *State) outcomes() []outcome {
	var out []outcome
	counted := s.counted()
	for k, o := range s.Cloud.Outcomes {
		is := func(i int) bool { return s.Cloud.Landings[i].Outcome == k }
		c := counted.Event(o.Name, "", is)
		r := outcome{Name: o.Name, Probability: c.Probability, SE: c.SE, Ellipses: []grid.Ellipse{}}
		if s.Cloud.Weights == nil { // outcomes are dealt out evenly: chance alone would err by far more
			r.SE = s.Cloud.ShareSE(is)
		}
		pts, w := s.Cloud.Points(func(l *drift.Landing) bool { return l.Outcome == k })
		if mom, err := grid.Measure(pts, w); err == nil { // no run had it: no place
			mean := s.Cloud.Frame.Place(mom.Mean)
			r.Mean, r.Ellipses = &mean, ellipses(mom)
		}
		out = append(out, r)
	}
	return out
}

// places gives the chances of the field, of what is drawn on the ground, and
// of going above the ceiling.
func (s *State) places(o SummaryOptions) []chance.Chance {
	out := []chance.Chance{}
	counted := s.counted()
	for _, z := range append(chance.Zones(s.Input.Field, s.Input.Ground), o.Beyond...) {
		out = append(out, counted.Of(z))
	}
	if c := s.Input.Flight.Site.Ceiling; c != nil {
		out = append(out, counted.Event("above ceiling", chance.Ceiling,
			func(i int) bool { return s.Cloud.Landings[i].ApogeeM > *c }))
	}
	return out
}

// SummarisePlan fills the document of a plan: all of its state's, and the plan.
func SummarisePlan(p *Plan) (*Summary, error) {
	r, err := Summarise(p.State, SummaryOptions{})
	if err != nil {
		return nil, err
	}
	r.Cautions, r.Plan = append(r.Cautions, p.Cautions...), p.Plan
	return r, nil
}
