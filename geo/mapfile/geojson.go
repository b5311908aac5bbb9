package mapfile

import (
	"encoding/json"
	"io"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"

	"windfall/geo"
	"windfall/geo/plane"
)

// GeoJSON writes l as a FeatureCollection (RFC 7946): every layer, and with a
// Plan each leg as a LineString that carries the leg's figures and its searcher.
// With a Plan the legs are the only LineStrings, so that a reader may take
// them as they come; sightings, barriers and ground covered are then left to
// the file of the map alone. docs/map-files.md lists the properties.
func GeoJSON(w io.Writer, l *Landing) error {
	l = l.ready()
	fc := geojson.NewFeatureCollection()
	add := func(g orb.Geometry, props geojson.Properties) {
		f := geojson.NewFeature(g)
		f.Properties = props
		fc.Append(f)
	}
	if l.Plan != nil {
		addLegs(l, add)
		addBlocks(l, add)
	}
	addAreas(l, add)
	addPoints(l, add)
	addGround(l, add)
	if l.Plan == nil {
		addLines(l, add)
	}
	data, err := json.Marshal(fc)
	if err != nil {
		return err
	}
	_, err = w.Write(append(data, '\n'))
	return err
}

type addFunc func(orb.Geometry, geojson.Properties)

func addLegs(l *Landing, add addFunc) {
	for _, r := range l.Plan.Searchers {
		for _, g := range r.Legs {
			props := g.properties(l.Frame)
			props["searcher"] = r.Name
			add(lineGeometry(line(l.Frame, []geo.XY{g.From, g.To})), props)
		}
		add(lonLat(l.Frame, r.Start), geojson.Properties{
			"kind": "start", "searcher": r.Name, "searcher_kind": r.Kind, "name": r.StartName})
	}
}

// properties returns the leg as the program's JSON has it.
func (g Leg) properties(f geo.Frame) geojson.Properties {
	props := geojson.Properties{
		"n": g.N, "kind": g.Kind, "from": f.Place(g.From), "to": f.Place(g.To), "start_min": g.StartMin, "end_min": g.EndMin,
		"sweep_width_m": g.SweepWidth, "poa": g.POA, "pod": g.POD, "pos": g.POS,
	}
	if g.Cover != "" {
		props["cover"] = g.Cover
	}
	if g.Block != "" {
		props["block"] = g.Block
	}
	return props
}

// addBlocks adds the ground of every block.
func addBlocks(l *Landing, add addFunc) {
	for _, r := range l.Plan.Searchers {
		for _, s := range l.Plan.stages(r) {
			if b := s.block; b != nil {
				add(polygons(l.Frame, plane.Polygons{{s.outline()}}), geojson.Properties{"kind": "block", "name": b.Name,
					"searcher": r.Name, "lanes": b.Lanes, "lane_m": b.Lane, "spacing_m": b.Spacing, "out_deg": b.Out,
					"start_min": b.StartMin, "end_min": b.EndMin, "poa": b.POA, "pod": b.POD, "pos": b.POS})
			}
		}
	}
}

// lineGeometry is a LineString where one piece is enough.
func lineGeometry(m orb.MultiLineString) orb.Geometry {
	if len(m) == 1 {
		return m[0]
	}
	return m
}

func addAreas(l *Landing, add addFunc) {
	for _, a := range l.Areas {
		if s := polygons(l.Frame, a.Shape); len(s) > 0 {
			add(s, geojson.Properties{"kind": "area", "probability": a.Probability, "area_m2": a.AreaM2})
		}
	}
	for i, e := range l.Ellipses {
		if s := polygons(l.Frame, plane.Polygons{l.ellipse(i)}); len(s) > 0 {
			add(s, geojson.Properties{"kind": "ellipse", "probability": e.Probability, "semi_major_m": e.SemiMajor,
				"semi_minor_m": e.SemiMinor, "azimuth_deg": e.AzimuthDeg})
		}
	}
	for _, p := range l.Parts {
		for _, a := range p.Areas {
			if s := polygons(l.Frame, a.Shape); len(s) > 0 {
				props := p.properties("part-area")
				props["probability"], props["area_m2"] = a.Probability, a.AreaM2
				add(s, props)
			}
		}
	}
}

func (p Part) properties(kind string) geojson.Properties {
	props := geojson.Properties{"kind": kind, "name": p.Name}
	if p.Chance > 0 {
		props["chance"] = p.Chance
	}
	return props
}

func addPoints(l *Landing, add addFunc) {
	add(lonLat(l.Frame, geo.XY{}), geojson.Properties{"kind": "pad", "name": "pad"})
	if l.Nominal != nil {
		add(lonLat(l.Frame, *l.Nominal), geojson.Properties{"kind": "nominal", "name": "nominal landing"})
	}
	if l.Mean != nil {
		add(lonLat(l.Frame, *l.Mean), geojson.Properties{"kind": "mean", "name": "mean landing"})
	}
	for _, s := range l.spots() {
		props := geojson.Properties{"kind": "spot", "name": s.Name}
		if s.P > 0 {
			props["probability"] = s.P
		}
		add(lonLat(l.Frame, s.At), props)
	}
	for _, p := range l.Parts {
		add(lonLat(l.Frame, p.Mean), p.properties("part"))
	}
}

func addGround(l *Landing, add addFunc) {
	for _, z := range l.NoGo {
		if s := polygons(l.Frame, z.Shape); len(s) > 0 {
			who := z.For
			if who == "" {
				who = "all"
			}
			add(s, geojson.Properties{"kind": "no-go", "name": z.Name, "for": who})
		}
	}
	for _, z := range l.Outlines {
		if s := polygons(l.Frame, z.Shape); len(s) > 0 {
			add(s, geojson.Properties{"kind": "place", "name": z.Name})
		}
	}
}

func addLines(l *Landing, add addFunc) {
	for _, r := range l.Rays {
		d := r.length(l.reach())
		end := r.From.Add(geo.Polar(d, r.BearingDeg))
		props := geojson.Properties{"kind": "sighting", "by": r.By, "bearing_deg": r.BearingDeg,
			"bearing_sd_deg": r.SpreadDeg, "text": r.Text}
		add(lineGeometry(line(l.Frame, []geo.XY{r.From, end})), props)
		if s := polygons(l.Frame, plane.Polygons{{r.wedge(l.reach())}}); r.SpreadDeg > 0 && len(s) > 0 {
			add(s, geojson.Properties{"kind": "sighting-spread", "by": r.By})
		}
	}
	for _, s := range l.Covered {
		if m := line(l.Frame, s.Path); len(m) > 0 {
			add(lineGeometry(m), geojson.Properties{"kind": "covered", "by": s.By, "width_m": s.Width, "pod": s.POD})
		}
	}
	for _, b := range l.Barriers {
		if m := line(l.Frame, b.Path); len(m) > 0 {
			add(lineGeometry(m), geojson.Properties{"kind": "barrier", "name": b.Name})
		}
	}
}
