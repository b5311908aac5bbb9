package mapfile

import (
	"math"
	"time"

	"windfall/geo"
	"windfall/geo/plane"
)

// Chart is a Landing as a page on a phone draws it and leads people over its
// plan: one document, in metres east and north of the pad, to 0.1 m. An area
// is what its rings hold by the even-odd rule.
type Chart struct {
	Title       string          `json:"title"`
	Subtitle    string          `json:"subtitle"`
	Pad         chartPad        `json:"pad"`
	Declination *float64        `json:"declination_deg,omitempty"` // east positive
	Areas       []chartArea     `json:"areas"`
	Places      []chartZone     `json:"places,omitempty"`
	NoGo        []chartZone     `json:"no_go,omitempty"`
	Covers      []chartZone     `json:"covers,omitempty"`
	Barriers    []chartLine     `json:"barriers,omitempty"`
	Crossings   []chartSpot     `json:"crossings,omitempty"`
	Spots       []chartSpot     `json:"spots,omitempty"`
	Parts       []chartSpot     `json:"parts,omitempty"` // shed parts, where each likely lies
	Sightings   []chartRay      `json:"sightings,omitempty"`
	Covered     []chartLine     `json:"covered,omitempty"`
	Plan        *chartPlan      `json:"plan,omitempty"`
	Searchers   []chartSearcher `json:"searchers,omitempty"`
	Cautions    []string        `json:"cautions,omitempty"`
	Contacts    []string        `json:"contacts,omitempty"`
}

type (
	dot  [2]float64 // m east, m north
	ring []dot
)

type chartPad struct {
	Lat float64 `json:"lat"`
	Lon float64 `json:"lon"`
}

type chartArea struct {
	Probability float64 `json:"probability"`
	Rings       []ring  `json:"rings"`
}

type chartZone struct {
	Name  string `json:"name"`
	For   string `json:"for,omitempty"` // of ground to keep out of: all, walkers, drones
	Rings []ring `json:"rings"`
}

type chartLine struct {
	Name  string  `json:"name"`
	Path  ring    `json:"path"`
	Width float64 `json:"width_m,omitempty"`
	POD   float64 `json:"pod,omitempty"`
}

type chartSpot struct {
	Name string  `json:"name"`
	At   dot     `json:"at"`
	P    float64 `json:"probability,omitempty"`
}

type chartRay struct {
	By      string  `json:"by"`
	From    dot     `json:"from"`
	To      dot     `json:"to"`
	Bearing float64 `json:"bearing_deg"`
	Spread  float64 `json:"spread_deg,omitempty"`
	Text    string  `json:"text"`
}

type chartPlan struct {
	Begin     *time.Time `json:"begin,omitempty"`
	Minutes   float64    `json:"minutes"`
	POS       float64    `json:"pos"`
	EnoughMin float64    `json:"enough_min,omitempty"`
	EnoughPOS float64    `json:"enough_pos,omitempty"`
}

type chartSearcher struct {
	Name      string       `json:"name"`
	Kind      string       `json:"kind"`
	N         int          `json:"n"` // from 1: gives the letter and the colour
	Summary   string       `json:"summary"`
	Start     dot          `json:"start"`
	StartName string       `json:"start_name,omitempty"`
	Minutes   float64      `json:"minutes"`
	Free      bool         `json:"free,omitempty"`
	Stages    []chartStage `json:"stages"`
}

// chartStage is a block or a way. Lanes are the block's lanes or courses in
// order, each a line to follow; between them one walks across.
type chartStage struct {
	Block     string  `json:"block,omitempty"` // "": a way
	Rectangle bool    `json:"rectangle,omitempty"`
	Text      string  `json:"text"`
	Later     string  `json:"later,omitempty"` // said above the first stage after which little is gained
	StartMin  float64 `json:"start_min"`
	EndMin    float64 `json:"end_min"`
	Spacing   float64 `json:"spacing_m,omitempty"`
	POS       float64 `json:"pos,omitempty"`
	Path      ring    `json:"path"`
	Lanes     []ring  `json:"lanes,omitempty"`
	Ground    ring    `json:"ground,omitempty"` // the block's outline
}

// ChartOf puts l into a Chart.
func ChartOf(l *Landing) *Chart {
	l = l.ready()
	c := &Chart{
		Title: clean(l.Title), Subtitle: clean(l.Subtitle), Declination: l.Declination,
		Pad:   chartPad{Lat: l.Frame.Origin.Lat(), Lon: l.Frame.Origin.Lon()},
		Areas: []chartArea{}, Contacts: cleaned(l.Contacts), Cautions: cleaned(l.Cautions),
	}
	for _, a := range l.Areas {
		c.Areas = append(c.Areas, chartArea{a.Probability, rings(a.Shape)})
	}
	c.Places, c.NoGo, c.Covers = chartZones(l.Outlines), chartZones(l.NoGo), chartZones(l.Covers)
	for _, b := range l.Barriers {
		c.Barriers = append(c.Barriers, chartLine{Name: clean(b.Name), Path: dots(b.Path)})
	}
	for _, s := range l.Covered {
		c.Covered = append(c.Covered, chartLine{clean(s.By), dots(s.Path), tenth(s.Width), s.POD})
	}
	c.Crossings, c.Spots = chartSpots(l.Crossings), chartSpots(l.spots())
	for _, p := range l.Parts {
		c.Parts = append(c.Parts, chartSpot{clean(p.Name), dotOf(p.Mean), p.Chance})
	}
	for _, r := range l.Rays {
		to := r.From.Add(geo.Polar(r.length(l.reach()), r.BearingDeg))
		c.Sightings = append(c.Sightings, chartRay{clean(r.By), dotOf(r.From), dotOf(to), r.BearingDeg, r.SpreadDeg,
			clean(r.Text)})
	}
	if l.Plan != nil {
		c.addPlan(l)
	}
	return c
}

func (c *Chart) addPlan(l *Landing) {
	p := l.Plan
	c.Plan = &chartPlan{Minutes: p.Minutes, POS: p.POS, EnoughMin: p.Enough.Minutes, EnoughPOS: p.Enough.POS}
	if !p.Begin.IsZero() {
		begin := p.at(0)
		c.Plan.Begin = &begin
	}
	told := Tell(l)
	for i, r := range p.Searchers {
		s := chartSearcher{Name: clean(r.Name), Kind: clean(r.Kind), N: max(r.nth, i+1), Summary: told[i].Summary,
			Start: dotOf(r.Start), StartName: clean(r.StartName), Minutes: r.Minutes, Free: r.Free, Stages: []chartStage{}}
		for k, st := range p.stages(r) {
			out := chartStage{StartMin: st.legs[0].StartMin, EndMin: st.last().EndMin, Path: dots(st.path())}
			if told[i].Lines != nil {
				out.Text, out.Later = told[i].Lines[k].Text, told[i].Lines[k].Later
			}
			if b := st.block; b != nil {
				out.Block, out.Rectangle, out.Spacing, out.POS = clean(b.Name), b.Rectangle, tenth(b.Spacing), b.POS
				out.Ground = dots(st.outline())
				for _, lane := range st.lanes() {
					out.Lanes = append(out.Lanes, dots(lane))
				}
			}
			s.Stages = append(s.Stages, out)
		}
		c.Searchers = append(c.Searchers, s)
	}
}

// lanes parts a block's path into its lanes, without the steps from one to the
// next. A lane that bends round something is one lane; a rectangle's courses
// are its lanes.
func (s *stage) lanes() (out [][]geo.XY) {
	path := s.path()
	along := geo.Polar(1, s.block.Out)
	heading, between := 0.0, []geo.XY(nil) // of the lane so far; a step aside that may be of it
	for i := 1; i < len(path); i++ {
		a, b := path[i-1], path[i]
		if s.block.Rectangle {
			out = append(out, []geo.XY{a, b})
			continue
		}
		way := b.Sub(a).Dot(along)
		switch n := len(out); {
		case math.Abs(way) < b.Sub(a).Norm()/2:
			between = append(between, b)
		case n > 0 && way*heading > 0:
			out[n-1] = append(append(out[n-1], between...), b)
			between = nil
		default:
			out, heading, between = append(out, []geo.XY{a, b}), way, nil
		}
	}
	return out
}

func cleaned(in []string) (out []string) {
	for _, s := range in {
		out = append(out, clean(s))
	}
	return out
}

func chartZones(in []Zone) (out []chartZone) {
	for _, z := range in {
		out = append(out, chartZone{clean(z.Name), z.For, rings(z.Shape)})
	}
	return out
}

func chartSpots(in []Spot) (out []chartSpot) {
	for _, s := range in {
		out = append(out, chartSpot{clean(s.Name), dotOf(s.At), s.P})
	}
	return out
}

// rings are those of all polygons.
func rings(ps plane.Polygons) []ring {
	out := []ring{}
	for _, p := range ps {
		for _, r := range p {
			out = append(out, dots(r))
		}
	}
	return out
}

func dots(in []geo.XY) ring {
	out := make(ring, len(in))
	for i, q := range in {
		out[i] = dotOf(q)
	}
	return out
}

func dotOf(q geo.XY) dot { return dot{tenth(q.X), tenth(q.Y)} }

// tenth rounds metres; what is not a number, as no JSON can hold it, is 0.
func tenth(m float64) float64 {
	if math.IsNaN(m) || math.IsInf(m, 0) {
		return 0
	}
	return math.Round(10*m) / 10
}
