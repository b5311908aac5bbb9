package main

import (
	"encoding/json"
	"fmt"

	"github.com/paulmach/orb"

	"windfall/cmd/windfall/internal/outdir"
	"windfall/drift/evidence"
	"windfall/geo"
	"windfall/geo/magnetic"
	"windfall/geo/mapfile"
	"windfall/search"
)

// landingFiles adds the landing map's files to the set.
func (s *situation) landingFiles(set *outdir.Set, r *result) error {
	return addFiles(set, s.layers(r), mapfile.Options{})
}

func addFiles(set *outdir.Set, l *mapfile.Landing, o mapfile.Options) error {
	files, err := mapfile.Files(l, o)
	if err != nil {
		return err
	}
	for _, f := range files {
		if err := set.Bytes(f.Name, f.Data); err != nil {
			return err
		}
	}
	return nil
}

// layers is what map files show of a situation.
func (s *situation) layers(r *result) *mapfile.Landing {
	f := s.model.Frame()
	nominal, mean := s.model.Nominal().At, s.moments.Mean
	l := &mapfile.Landing{
		Title: s.file.Flight.ID, Subtitle: s.subtitle(r), Frame: f,
		Nominal: &nominal, Mean: &mean, Chance: s.chances, Cautions: r.Cautions,
	}
	if when := s.file.Flight.When; !when.IsZero() {
		if d, err := magnetic.Declination(f.Origin, s.file.Flight.Site.Elevation, when); err == nil {
			l.Declination = &d
		}
	}
	for _, e := range r.Landing.Ellipses {
		if e.Probability != 0.9 {
			continue // one ellipse a picture; the areas are what to search
		}
		l.Ellipses = append(l.Ellipses, mapfile.Ellipse{Probability: e.Probability, Centre: mean, SemiMajor: e.SemiMajor, SemiMinor: e.SemiMinor, AzimuthDeg: e.AzimuthDeg})
	}
	for _, a := range s.chances.Contours(levels) {
		l.Areas = append(l.Areas, mapfile.Area{Probability: a.Probability, AreaM2: a.AreaM2, Shape: a.Shape})
	}
	if s.file.Field != nil {
		l.Outlines = append(l.Outlines, mapfile.Zone{Name: "field", Shape: s.file.Field})
	}
	l.Parts = s.shed
	s.drawn(l)
	l.Covered = s.covered
	if s.posterior != nil {
		for _, i := range s.posterior.Sightings {
			if b, ok := i.Kind.(evidence.Bearing); ok {
				l.Rays = append(l.Rays, ray(f, i.Sighting, b))
			}
		}
	}
	return l
}

func (s *situation) subtitle(r *result) string {
	what := fmt.Sprintf("%d runs", r.Runs)
	if s.posterior != nil {
		what = fmt.Sprintf("%d sightings", len(s.posterior.Sightings))
	}
	if when := s.file.Flight.When; !when.IsZero() {
		return when.Format("2006-01-02 15:04 MST") + ", " + what
	}
	return what
}

// drawn adds what is drawn on the ground.
func (s *situation) drawn(l *mapfile.Landing) {
	g := s.file.Ground
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
}

func ray(f geo.Frame, s evidence.Sighting, b evidence.Bearing) mapfile.Ray {
	r := mapfile.Ray{By: s.By, From: f.ToXY(orb.Point{b.From.Lon, b.From.Lat}), BearingDeg: *b.BearingDeg, SpreadDeg: b.BearingSD, Text: s.String()}
	if b.NearerThan != nil {
		r.Length = *b.NearerThan
	}
	return r
}

// planLayers adds a search plan to the layers.
func (s *situation) planLayers(l *mapfile.Landing, p *search.Plan) error {
	plan := &mapfile.Plan{Begin: s.begin, Minutes: p.Minutes, POS: p.POS, UpperBound: p.UpperBound}
	for i, r := range p.Searchers {
		from := s.file.Searchers[i]
		route := mapfile.Route{Name: r.Name, Kind: string(r.Kind), Start: from.Start, SweepWidth: r.SweepWidth, Minutes: r.Minutes, Height: from.Height}
		for _, g := range r.Legs {
			b, err := json.Marshal(g)
			if err != nil {
				return err
			}
			route.Legs = append(route.Legs, mapfile.Leg{
				N: g.N, Kind: string(g.Kind), From: xy(g.From), To: xy(g.To), StartMin: g.StartMin, EndMin: g.EndMin,
				SweepWidth: g.SweepWidth, POA: g.POA, POD: g.POD, POS: g.POS, JSON: b,
			})
		}
		plan.Searchers = append(plan.Searchers, route)
	}
	l.Plan = plan
	return nil
}

func xy(p geo.Place) geo.XY { return geo.XY{X: p.East, Y: p.North} }
