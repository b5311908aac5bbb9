package mapfile

import (
	"fmt"
	"io"
	"time"

	"github.com/twpayne/go-gpx"

	"windfall/geo"
)

// GPX writes l as GPX 1.1: waypoints for the pad, the likeliest spots and every
// start, and for each searcher a route a block, its points A1-01, A1-02, ... which
// sort right by name, and one track of the whole way for apps that ignore routes.
// With tracks, routes become tracks too, and their points waypoints.
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
			addRoute(g, l, r, i+1, tracks)
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

// addRoute adds a searcher's routes, one a block, and a track of the whole way
// for apps that ignore routes; without blocks one route, or the track in its
// place. With tracks, blocks are tracks as well, and all points are waypoints.
func addRoute(g *gpx.GPX, l *Landing, r Route, n int, tracks bool) {
	pts := routePoints(l, r)
	whole := &gpx.RteType{Name: clean(r.Name), Desc: clean(r.summary()), Number: n, Type: clean(r.Kind), RtePt: pts}
	var routes []*gpx.RteType
	for _, s := range l.Plan.stages(r) {
		if s.block != nil {
			routes = append(routes, blockRoute(l, r, s))
		}
	}
	if tracks || len(routes) > 0 {
		g.Trk = append(g.Trk, trackOf(whole))
	}
	if len(routes) == 0 {
		routes = []*gpx.RteType{whole}
	}
	for _, rte := range routes {
		if !tracks {
			g.Rte = append(g.Rte, rte)
			continue
		}
		for _, p := range rte.RtePt {
			q := *p
			q.Name = clean(r.Name + " " + p.Name)
			g.Wpt = append(g.Wpt, &q)
		}
		if rte != whole {
			g.Trk = append(g.Trk, trackOf(rte))
		}
	}
}

func trackOf(r *gpx.RteType) *gpx.TrkType {
	return &gpx.TrkType{Name: r.Name, Desc: r.Desc, Number: r.Number, Type: r.Type,
		TrkSeg: []*gpx.TrkSegType{{TrkPt: r.RtePt}}}
}

// blockRoute is the turning points of a block: A1-01, A1-02 ...
func blockRoute(l *Landing, r Route, s stage) *gpx.RteType {
	b := s.block
	out := &gpx.RteType{Name: clean(b.Name + " " + r.Name), Desc: clean(b.text(l, r)), Type: clean(r.Kind)}
	path := s.path()
	for i, q := range path {
		p := waypoint(l.Frame, q, time.Time{})
		p.Name, p.Type = fmt.Sprintf("%s-%02d", b.Name, i+1), "turn"
		switch i {
		case 0:
			p.Type, p.Desc, p.Time = "begin", clean("begin "+b.Name+": "+b.text(l, r)), l.Plan.at(b.StartMin)
		case len(path) - 1:
			p.Type, p.Desc, p.Time = "end", "end of "+b.Name, l.Plan.at(b.EndMin)
		}
		out.RtePt = append(out.RtePt, p)
	}
	return out
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
