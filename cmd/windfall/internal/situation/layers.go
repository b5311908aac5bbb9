package situation

import (
	"fmt"
	"slices"
	"time"

	"github.com/paulmach/orb"

	"windfall/drift/evidence"
	"windfall/geo"
	"windfall/geo/ground"
	"windfall/geo/magnetic"
	"windfall/geo/mapfile"
	"windfall/search"
)

// partLevels are the areas that are drawn for shed parts.
var partLevels = []float64{0.5, 0.9}

// Layers is what map files show of a state; r is its summary.
func Layers(s *State, r *Summary) *mapfile.Landing {
	in, f := s.Input, s.Input.Model.Frame()
	nominal, mean := in.Model.Nominal().At, s.Moments.Mean
	l := &mapfile.Landing{
		Title: in.Flight.ID, Subtitle: subtitle(s), Frame: f,
		Nominal: &nominal, Mean: &mean, Chance: s.Map, Cautions: r.Cautions,
	}
	l.Declination = in.declination()
	for _, e := range r.Landing.Ellipses {
		if e.Probability != 0.9 {
			continue // one ellipse a picture; the areas are what to search
		}
		l.Ellipses = append(l.Ellipses, e)
	}
	l.Areas = s.Map.Contours(levels)
	s.partLayers(l)
	s.groundLayers(l)
	s.loggedLayers(l)
	return l
}

func subtitle(s *State) string {
	what := fmt.Sprintf("%d runs", len(s.Cloud.Landings))
	if s.Posterior != nil {
		what = fmt.Sprintf("%d sightings", len(s.Posterior.Sightings))
	}
	if when := s.Input.Flight.When; !when.IsZero() {
		return when.Format("2006-01-02 15:04 MST") + ", " + what
	}
	return what
}

// partLayers adds where shed parts come down.
func (s *State) partLayers(l *mapfile.Landing) {
	for _, p := range s.Parts {
		if p.Map == nil {
			continue
		}
		l.Parts = append(l.Parts, mapfile.Part{Name: p.Name, Chance: p.Chance, Mean: p.Moments.Mean,
			Areas: p.Map.Contours(partLevels)})
	}
}

// groundLayers adds the field and what is drawn on the ground.
func (s *State) groundLayers(l *mapfile.Landing) {
	if s.Input.Field != nil {
		l.Outlines = append(l.Outlines, mapfile.Zone{Name: "field", Shape: s.Input.Field})
	}
	g := s.Input.Ground
	if g == nil {
		return
	}
	for _, n := range g.NoGo {
		l.NoGo = append(l.NoGo, mapfile.Zone{Name: n.Name, For: string(n.For), Shape: n.Area})
	}
	for _, p := range g.Places {
		l.Outlines = append(l.Outlines, mapfile.Zone{Name: p.Name, Shape: p.Area})
	}
	for _, b := range g.Barriers {
		l.Barriers = append(l.Barriers, mapfile.Line{Name: b.Name, Path: b.Line})
	}
	for i, q := range g.Crossings {
		l.Crossings = append(l.Crossings, mapfile.Spot{Name: g.Gate(i), At: q})
	}
	for _, c := range g.Covers {
		l.Covers = append(l.Covers, mapfile.Zone{Name: c.Class, Shape: c.Area})
	}
}

// loggedLayers adds what was gone over and the bearings that were seen.
func (s *State) loggedLayers(l *mapfile.Landing) {
	for _, t := range s.Input.Tracks {
		by := t.By
		if by == "" {
			by = "(no name)"
		}
		l.Covered = append(l.Covered, lookedStrips(by, t.Looked)...)
		for _, line := range t.Lines {
			l.Covered = append(l.Covered, mapfile.Strip{By: by, Path: line, Width: t.Width})
		}
	}
	if s.Posterior == nil {
		return
	}
	for _, i := range s.Posterior.Sightings {
		if b, ok := i.Kind.(evidence.Bearing); ok {
			l.Rays = append(l.Rays, ray(l.Frame, i.Sighting, b))
		}
	}
}

// lookedStrips are the pieces of ground that pictures showed, each from the
// middle of its first side to that of the third.
func lookedStrips(by string, v *search.Survey) (out []mapfile.Strip) {
	if v == nil {
		return nil
	}
	for _, a := range v.Areas {
		if len(a.Ground) == 0 || len(a.Ground[0]) != 5 {
			continue
		}
		q := a.Ground[0]
		from, to := q[0].Add(q[1]).Scale(0.5), q[2].Add(q[3]).Scale(0.5)
		width := (q[1].Sub(q[0]).Norm() + q[3].Sub(q[2]).Norm()) / 2
		out = append(out, mapfile.Strip{By: by, Path: []geo.XY{from, to}, Width: width, POD: a.Chance})
	}
	return out
}

func ray(f geo.Frame, s evidence.Sighting, b evidence.Bearing) mapfile.Ray {
	r := mapfile.Ray{By: s.By, From: f.ToXY(orb.Point{b.From.Lon, b.From.Lat}), BearingDeg: *b.BearingDeg,
		SpreadDeg: b.BearingSD, Text: s.String()}
	if b.NearerThan != nil {
		r.Length = *b.NearerThan
	}
	return r
}

// PlanLayers is what map files show of a plan; r is its summary.
func PlanLayers(p *Plan, r *Summary) *mapfile.Landing {
	l := Layers(p.State, r)
	l.Plan = &mapfile.Plan{Begin: p.Begin, Minutes: p.Minutes, POS: p.POS, UpperBound: p.UpperBound,
		Enough: mapfile.Enough(p.Enough)}
	for i, r := range p.Searchers {
		l.Plan.Searchers = append(l.Plan.Searchers, routeLayer(r, p.State.Input.Searchers[i], p.State.Input.Ground))
	}
	return l
}

// ChartOf is the ground of a flight and a plan that was made for it, for a page
// to draw and to lead by; a nil plan is left out. It flies nothing: the areas of
// chance come from elsewhere.
func ChartOf(in Input, p *search.Plan, begin time.Time) *mapfile.Chart {
	l := &mapfile.Landing{Title: in.Flight.ID, Frame: in.Model.Frame(), Declination: in.declination()}
	(&State{Input: in}).groundLayers(l)
	if p == nil {
		return mapfile.ChartOf(l)
	}
	l.Plan = &mapfile.Plan{Begin: begin, Minutes: p.Minutes, POS: p.POS, UpperBound: p.UpperBound,
		Enough: mapfile.Enough(p.Enough)}
	for _, r := range p.Searchers {
		who := search.Searcher{}
		if i := slices.IndexFunc(in.Who(), func(w search.Searcher) bool { return w.Name == r.Name }); i >= 0 {
			who = in.Who()[i]
		}
		if len(r.Legs) > 0 {
			who.Start = inMetres(r.Legs[0].From)
		}
		l.Plan.Searchers = append(l.Plan.Searchers, routeLayer(r, who, in.Ground))
	}
	return mapfile.ChartOf(l)
}

// routeLayer is what map files show of a searcher's way.
func routeLayer(r search.Route, who search.Searcher, g *ground.Ground) mapfile.Route {
	route := mapfile.Route{Name: r.Name, Kind: string(r.Kind), Start: who.Start, StartName: placeAt(g, who.Start),
		SweepWidth: r.SweepWidth, Minutes: r.Minutes, Height: who.Height,
		Abreast: r.Abreast, Free: r.Free}
	for _, b := range r.Blocks {
		route.Blocks = append(route.Blocks, blockLayer(b))
	}
	for _, leg := range r.Legs {
		route.Legs = append(route.Legs, mapfile.Leg{
			N: leg.N, Kind: string(leg.Kind), Block: leg.Block, From: inMetres(leg.From), To: inMetres(leg.To),
			StartMin: leg.StartMin, EndMin: leg.EndMin, Cover: leg.Cover, SweepWidth: leg.SweepWidth, POA: leg.POA,
			POD: leg.POD, POS: leg.POS,
		})
	}
	return route
}

// declination is that at the pad, degrees, east positive; nil: not known.
func (in Input) declination() *float64 {
	when := in.Flight.When
	if when.IsZero() {
		return nil
	}
	d, err := magnetic.Declination(in.Model.Frame().Origin, in.Flight.Site.Elevation, when)
	if err != nil {
		return nil
	}
	return &d
}

func blockLayer(b search.Block) mapfile.Block {
	return mapfile.Block{Name: b.Name, Rectangle: b.Kind == search.Rectangle, Lanes: b.Lanes, Lane: b.LaneM,
		Spacing: b.SpacingM, Out: b.OutDeg, Back: b.BackDeg, Side: b.SideDeg, Begin: inMetres(b.Begin), End: inMetres(b.End),
		StartMin: b.StartMin, EndMin: b.EndMin, POA: b.POA, POD: b.POD, POS: b.POS, Sum: b.Cumulative}
}

// placeAt is the name of the first place drawn that holds q; "" for none.
func placeAt(g *ground.Ground, q geo.XY) string {
	if g == nil {
		return ""
	}
	for _, p := range g.Places {
		if p.Area.Contains(q) {
			return p.Name
		}
	}
	return ""
}
