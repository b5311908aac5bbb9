package main

import (
	"encoding/json"
	"fmt"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
	"github.com/urfave/cli/v2"

	"windfall/drift"
	"windfall/drift/logbook"
	"windfall/geo"
	"windfall/geo/grid"
	"windfall/geo/mapfile"
	"windfall/search"
	"windfall/search/detect"
)

// trackBody is what the logbook keeps of ground gone over: the ways, cleaned,
// and who went them; sweep widths are worked out anew from the flight file.
type trackBody struct {
	Geometry   *geojson.Geometry `json:"geometry"` // MultiLineString
	Searcher   trackSearcher     `json:"searcher"`
	LengthM    float64           `json:"length_m"`
	Minutes    float64           `json:"minutes,omitempty"`
	SweepWidth float64           `json:"sweep_width_m"` // mean, when it was logged
	Notes      []string          `json:"notes,omitempty"`
}

type trackSearcher struct {
	Kind     search.Kind `json:"kind"`
	Speed    float64     `json:"speed_mps"`
	Height   float64     `json:"height_m,omitempty"`
	FieldDeg float64     `json:"field_of_view_deg,omitempty"`
	Pixels   int         `json:"pixels,omitempty"`
}

func (t trackSearcher) searcher(name string) search.Searcher {
	return search.Searcher{Name: name, Kind: t.Kind, Speed: t.Speed, Height: t.Height, FieldDeg: t.FieldDeg, Pixels: t.Pixels}
}

// trackGeometry returns lines of a frame as a GeoJSON geometry.
func trackGeometry(f geo.Frame, lines [][]geo.XY) *geojson.Geometry {
	out := make(orb.MultiLineString, len(lines))
	for i, l := range lines {
		for _, q := range l {
			out[i] = append(out[i], f.ToLonLat(q))
		}
	}
	return geojson.NewGeometry(out)
}

// lines returns the body's ways in metres of the frame.
func (b *trackBody) lines(f geo.Frame) ([][]geo.XY, error) {
	if b.Geometry == nil {
		return nil, fmt.Errorf("it has no geometry")
	}
	mls, ok := b.Geometry.Geometry().(orb.MultiLineString)
	if !ok {
		return nil, fmt.Errorf("its geometry is no MultiLineString")
	}
	var lines [][]geo.XY
	for _, l := range mls {
		var line []geo.XY
		for _, p := range l {
			line = append(line, f.ToXY(p))
		}
		lines = append(lines, line)
	}
	return lines, nil
}

// searched takes what the logged tracks went over without a find out of the
// map, and weighs the runs by their chance of having been missed, so that the
// outcomes change with it.
func (s *situation) searched(c *cli.Context, e env) error {
	path := logbookPath(e, c)
	book, err := logbook.OpenRead(path)
	if err != nil {
		return err
	}
	defer book.Close()
	entries, err := book.Entries(logbook.Query{Flight: s.file.Flight.ID, Kinds: []logbook.Kind{logbook.Track}})
	if err != nil {
		return err
	}
	for _, x := range entries {
		var b trackBody
		if err := json.Unmarshal(x.Body, &b); err != nil {
			return wrongf("%s: entry %d: %w; amend or withdraw it", path, x.ID, err)
		}
		lines, err := b.lines(s.cloud.Frame)
		if err != nil {
			return wrongf("%s: entry %d: %w; amend or withdraw it", path, x.ID, err)
		}
		s.gone = append(s.gone, search.Passes(lines, b.Searcher.searcher(x.By), s.file.Target, s.file.Ground)...)
		for _, l := range lines {
			s.covered = append(s.covered, mapfile.Strip{By: orNobody(x.By), Path: l, Width: b.SweepWidth})
		}
	}
	if len(s.gone) == 0 {
		return nil
	}
	law, err := lawFlag(c)
	if err != nil {
		return err
	}
	after, pos, err := s.without(law, s.gone)
	if err != nil {
		return err
	}
	*s = *after
	s.foundBy = pos
	return nil
}

// without is the situation had the passes found nothing, and their POS.
func (s *situation) without(law detect.Law, passes []search.Pass) (*situation, float64, error) {
	out := *s
	m, pos, err := search.Searched(s.chances, law, passes)
	if err != nil {
		return nil, 0, err
	}
	out.chances = m
	missed := search.Missed(law, passes)
	cloud := *s.cloud
	cloud.Weights = make([]float64, len(cloud.Landings))
	total := 0.0
	for i, l := range cloud.Landings {
		w := 1.0
		if s.cloud.Weights != nil {
			w = s.cloud.Weights[i]
		}
		cloud.Weights[i] = w * missed(l.At)
		total += cloud.Weights[i]
	}
	if total <= 0 {
		return nil, 0, fmt.Errorf("the tracks rule out every simulated flight; check the sweep widths and what was logged")
	}
	for i := range cloud.Weights {
		cloud.Weights[i] /= total
	}
	out.cloud = &cloud
	out.counted.Weights = cloud.Weights
	out.moments, err = grid.Measure(out.counted.At, cloud.Weights)
	return &out, pos, err
}

// outcomeChances returns the chance of each outcome in a cloud.
func outcomeChances(c *drift.Cloud) []float64 {
	out := make([]float64, len(c.Outcomes))
	total := 0.0
	for i, l := range c.Landings {
		w := 1.0
		if c.Weights != nil {
			w = c.Weights[i]
		}
		out[l.Outcome] += w
		total += w
	}
	for k := range out {
		out[k] /= total
	}
	return out
}

// lawFlag reads --detection.
func lawFlag(c *cli.Context) (detect.Law, error) {
	law, err := detect.Parse(c.String("detection"))
	if err != nil {
		return "", wrongf("--detection: %w", err)
	}
	return law, nil
}

func detectionFlag() cli.Flag {
	return &cli.StringFlag{Name: "detection", Usage: "exponential (the cautious default) or inverse-cube"}
}
