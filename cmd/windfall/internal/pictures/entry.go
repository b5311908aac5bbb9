package pictures

import (
	"path/filepath"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"

	"windfall/cmd/windfall/internal/record"
	"windfall/geo/plane"
)

// Entry is what the logbook keeps of a run. Its candidates are those of the
// survey, in their order.
func Entry(ps []Picture, v Survey) *record.Look {
	l := &record.Look{Candidates: []record.LookCandidate{}, Chances: []float64{}}
	ground := orb.MultiPolygon{}
	for _, p := range ps {
		if p.Error != "" {
			continue
		}
		l.Pictures = append(l.Pictures, record.LookPicture{Name: filepath.Base(p.File), SHA256: p.SHA256})
		for _, a := range p.Ground {
			ring := orb.Ring{}
			for _, q := range a.Ring {
				ring = append(ring, q)
			}
			ground, l.Chances = append(ground, orb.Polygon{ring}), append(l.Chances, a.Chance)
		}
	}
	l.Geometry = geojson.NewGeometry(ground)
	for _, c := range v.Candidates {
		l.Candidates = append(l.Candidates, record.LookCandidate{
			Lat: c.At.Lat, Lon: c.At.Lon, Error: c.Error, Radius: c.Radius, Score: c.Score})
	}
	return l
}

// Number gives the candidates the numbers that the logbook gave them, and
// returns what was said of them before.
func (v *Survey) Number(l *record.Look) map[int]string {
	said := map[int]string{}
	for i := range v.Candidates {
		v.Candidates[i].N = l.Candidates[i].N
		said[l.Candidates[i].N] = l.Candidates[i].Verdict
	}
	return said
}

// Shown is the ground that the pictures show, to be drawn.
func (s *Settings) Shown(ps []Picture) (out plane.Polygons) {
	for _, a := range s.Searched(ps, nil).Areas {
		out = append(out, a.Ground)
	}
	return out.Union()
}
