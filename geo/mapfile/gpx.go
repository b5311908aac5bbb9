package mapfile

import (
	"fmt"
	"io"
	"time"

	"github.com/twpayne/go-gpx"

	"windfall/geo"
)

// GPX writes l as GPX 1.1: waypoints for the pad, the likeliest spots and every
// start, and for each searcher a route of numbered points 001, 002, ... which
// sort right by name. With tracks, routes become tracks for apps that ignore
// routes, and their points are waypoints too.
func GPX(w io.Writer, l *Landing, tracks bool) error {
	l = l.ready()
	g := &gpx.GPX{Version: "1.1", Creator: "windfall"}
	if l.Plan != nil && !l.Plan.Begin.IsZero() { // the library cannot write metadata without a time
		g.Metadata = &gpx.MetadataType{Name: clean(l.Title), Desc: clean(l.Subtitle), Time: l.Plan.at(0)}
	}
	point := func(name, desc, typ string, q geo.XY) {
		p := waypoint(l.Frame, q, time.Time{})
		p.Name, p.Desc, p.Type = clean(name), clean(desc), typ
		g.Wpt = append(g.Wpt, p)
	}
	point("PAD", "launch pad", "pad", geo.XY{})
	for i, s := range l.spots() {
		point(fmt.Sprintf("SPOT %d", i+1), s.Name, "spot", s.At)
	}
	if l.Nominal != nil {
		point("NOMINAL", "landing of the nominal flight", "nominal", *l.Nominal)
	}
	if l.Plan != nil {
		for _, r := range l.Plan.Searchers {
			point("START "+r.Name, "start of "+r.Name+", "+r.Kind, "start", r.Start)
		}
		for i, r := range l.Plan.Searchers {
			pts := routePoints(l, r)
			rte := &gpx.RteType{Name: clean(r.Name), Desc: clean(r.summary()), Number: i + 1, Type: clean(r.Kind), RtePt: pts}
			if !tracks {
				g.Rte = append(g.Rte, rte)
				continue
			}
			for _, p := range pts {
				q := *p
				q.Name = clean(r.Name + " " + p.Name)
				g.Wpt = append(g.Wpt, &q)
			}
			g.Trk = append(g.Trk, &gpx.TrkType{Name: rte.Name, Desc: rte.Desc, Number: rte.Number, Type: rte.Type,
				TrkSeg: []*gpx.TrkSegType{{TrkPt: pts}}})
		}
	}
	if _, err := io.WriteString(w, `<?xml version="1.0" encoding="UTF-8"?>`+"\n"); err != nil {
		return err
	}
	if err := g.WriteIndent(w, "", " "); err != nil {
		return err
	}
	_, err := io.WriteString(w, "\n")
	return err
}

func waypoint(f geo.Frame, q geo.XY, t time.Time) *gpx.WptType {
	p := lonLat(f, q)
	if p[0] == 180 { // GPX longitudes end below 180
		p[0] = -180
	}
	return &gpx.WptType{Lat: p.Lat(), Lon: p.Lon(), Time: t}
}

// routePoints returns the start and each leg's end, but for legs that go
// nowhere: two points of a route never coincide in a row.
func routePoints(l *Landing, r Route) []*gpx.WptType {
	var pts []*gpx.WptType
	add := func(q geo.XY, min float64, typ, desc string) {
		p := waypoint(l.Frame, q, l.Plan.at(min))
		p.Name, p.Desc, p.Type = fmt.Sprintf("%03d", len(pts)+1), clean(desc), typ
		pts = append(pts, p)
	}
	first := 0.0
	if len(r.Legs) > 0 {
		first = r.Legs[0].StartMin
	}
	add(r.Start, first, "start", "start of "+r.Name)
	for _, g := range r.Legs {
		if g.From != g.To {
			add(g.To, g.EndMin, g.Kind, fmt.Sprintf("end of leg %d: %s", g.N, g.text(l, r)))
		}
	}
	return pts
}

// at returns the time of a minute of the plan, or the zero time.
func (p *Plan) at(min float64) time.Time {
	if p.Begin.IsZero() {
		return time.Time{}
	}
	return p.Begin.Add(time.Duration(min * 60e9)).Round(time.Second).UTC()
}
