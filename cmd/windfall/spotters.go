package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/outdir"
	"windfall/drift/evidence"
	"windfall/geo"
	"windfall/geo/place"
	"windfall/geo/quantity"
)

const spottersHelp = `Says where observers should stand so that what they see would shrink the search most.

--candidates names a file of places: GeoJSON points, a GeoJSON line along which
observers could stand (a place every --every metres), or text with a place on
each line, with a name before it if you like:

  gate, 41.9086 -4.9183
  41.9120, -4.9150`

// spottersResult is the JSON of spotters; areas are 90 % areas.
type spottersResult struct {
	Flight     string          `json:"flight"`
	Seed       uint64          `json:"seed"`
	N          int             `json:"n"`
	Runs       int             `json:"runs"`
	Trials     int             `json:"trials"` // watched flights behind every mean
	SeesTo     float64         `json:"sees_to_m"`
	Without    float64         `json:"area_without_m2"`
	Best       []spotterSet    `json:"best"` // best first
	Candidates []spotterResult `json:"candidates"`
	Exhaustive bool            `json:"exhaustive"` // every set was tried
	Cards      []spotterCard   `json:"cards"`      // of the best set
	Files      []string        `json:"files"`
	Cautions   []string        `json:"cautions"`
}

type spotterSet struct {
	Places []string `json:"places"`
	Area   float64  `json:"area_m2"` // expected with these observers
	SE     float64  `json:"se_m2"`
}

type spotterResult struct {
	Name string `json:"name"`
	geo.Place
	SeesEjection float64 `json:"sees_ejection"`
	SeesLanding  float64 `json:"sees_landing"`
	SE           float64 `json:"se"`      // of both
	Area         float64 `json:"area_m2"` // expected with this observer alone
	AreaSE       float64 `json:"se_m2"`
}

func spottersCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "spotters", Usage: "before launch: where observers would help most", ArgsUsage: "FLIGHT", Description: spottersHelp,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "candidates", Usage: "file of places where observers could stand"},
			&cli.IntFlag{Name: "n", Value: 2, Usage: "number of observers"},
			&cli.StringFlag{Name: "every", Value: "100m", Usage: "distance between places along a line"},
			&cli.StringFlag{Name: "sees-to", Value: "2km", Usage: "farthest that an observer sees the vehicle"},
			seedFlag(), jsonFlag(), outFlag(), logbookFlag(), noLearningFlag(),
		},
		Action: func(c *cli.Context) error { return spotters(e, c) },
	}
}

func spotters(e env, c *cli.Context) error {
	f, m, err := loadFlight(c)
	if err != nil {
		return err
	}
	path := c.String("candidates")
	if path == "" {
		return wrongf("windfall spotters needs --candidates FILE: GeoJSON points or a line, or text with a place on each line")
	}
	every, err := length(c, "every", 5, 10000)
	if err != nil {
		return err
	}
	seesTo, err := length(c, "sees-to", 50, 60000)
	if err != nil {
		return err
	}
	cands, err := readCandidates(path, f.Frame, every)
	if err != nil {
		return wrong{err}
	}
	n := c.Int("n")
	if n < 1 || n > len(cands) {
		return wrongf("-n %d: %s has %d places; give 1 to %d", n, path, len(cands), len(cands))
	}
	o := evidence.SpotterOptions{N: n, Seed: c.Uint64("seed"), SeesTo: seesTo, Runs: 12000, Trials: 80, Progress: e.progress("watching")}
	best, err := evidence.Spotters(c.Context, m, cands, o)
	if err != nil {
		return err
	}
	r := &spottersResult{Flight: f.Flight.ID, Seed: o.Seed, N: n, Runs: o.Runs, Trials: o.Trials, SeesTo: seesTo, Without: best.Without,
		Exhaustive: best.Exhaustive, Cautions: append([]string{}, m.Cautions()...)}
	for _, s := range best.Best {
		set := spotterSet{Area: s.Area, SE: s.SE}
		for _, p := range s.Places {
			set.Places = append(set.Places, cands[p].Name)
		}
		r.Best = append(r.Best, set)
	}
	for i, cand := range cands {
		p := f.Frame.Place(f.Frame.ToXY(cand.At))
		s := best.Sees[i]
		r.Candidates = append(r.Candidates, spotterResult{cand.Name, p, s.Ejection, s.Landing, s.SE, best.Alone[i].Area, best.Alone[i].SE})
	}
	if f.Flight.Terrain == nil {
		r.Cautions = append(r.Cautions, "no terrain in the flight file: hills and trees that hide the vehicle do not count")
	}
	var stands []spotterResult
	for _, p := range best.Best[0].Places {
		stands = append(stands, r.Candidates[p])
	}
	r.Cards = cards(f, m, stands, o.Seed)
	set := outdir.Open(outFolder(c, f))
	defer set.Discard()
	if err := set.Write("spotters.html", func(w io.Writer) error { return writeCards(w, f, r.Cards) }); err != nil {
		return err
	}
	if r.Files, err = set.Commit(); err != nil {
		return err
	}
	if c.Bool("json") {
		return writeJSON(e.out, r)
	}
	return printSpotters(e, r)
}

func printSpotters(e env, r *spottersResult) error {
	p := &printer{w: e.out}
	p.f("flight %s: 90 %% of the chance lies in %s with nobody watching", r.Flight, hectares(r.Without))
	p.f("")
	p.f("expected with %d watching, over %d flights that were watched", r.N, r.Trials)
	for _, s := range r.Best {
		p.f("  %-10s (+- %s)  %s", hectares(s.Area), hectares(s.SE), strings.Join(s.Places, "  and  "))
	}
	if !r.Exhaustive {
		p.f("  (too many sets to try all: one observer after the other, then exchanges)")
	}
	p.f("")
	p.f("each alone")
	for _, s := range r.Candidates {
		p.f("  %-10s (+- %s)  %s, sees the ejection in %.0f %% and the landing in %.0f %% of flights (+- %.0f)", hectares(s.Area), hectares(s.AreaSE), s.Name, 100*s.SeesEjection, 100*s.SeesLanding, 100*s.SE)
	}
	printCards(p, r.Cards)
	p.list("caution", r.Cautions)
	p.list("wrote", r.Files)
	return p.err
}

// length reads a flag's length within bounds in m.
func length(c *cli.Context, flag string, lo, hi float64) (float64, error) {
	v, err := quantity.Parse(c.String(flag), quantity.Length)
	if err != nil {
		return 0, wrongf("--%s: %w", flag, err)
	}
	if !(v >= lo && v <= hi) {
		return 0, wrongf("--%s %s: give %g m to %g m", flag, c.String(flag), lo, hi)
	}
	return v, nil
}

const mostCandidates = 200

// readCandidates reads places from GeoJSON or from text, one a line.
func readCandidates(path string, f geo.Frame, every float64) ([]evidence.Candidate, error) {
	st, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("%s: cannot be read; give a file of places", path)
	}
	if st.Size() > mostAreaBytes {
		return nil, fmt.Errorf("%s: is larger than 4 MiB: not a list of places", path)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	var out []evidence.Candidate
	if strings.HasPrefix(strings.TrimSpace(string(data)), "{") {
		out, err = candidatesJSON(data, f, every)
	} else {
		out, err = candidatesText(data)
	}
	if err != nil {
		return nil, fmt.Errorf("%s%w", filepath.ToSlash(path), err)
	}
	switch {
	case len(out) == 0:
		return nil, fmt.Errorf("%s: holds no place; draw points or a line, or write a place on each line", path)
	case len(out) > mostCandidates:
		return nil, fmt.Errorf("%s: %d places are more than %d; leave some out, or space them wider with --every", path, len(out), mostCandidates)
	}
	for i, c := range out {
		if d := f.ToXY(c.At).Norm(); d > 60e3 {
			return nil, fmt.Errorf("%s: place %d (%s) is %.0f km from the pad; give places within 60 km", path, i+1, c.Name, d/1000)
		}
	}
	return out, nil
}

// candidatesText reads "place" or "name, place" lines; # starts a comment.
func candidatesText(data []byte) ([]evidence.Candidate, error) {
	var out []evidence.Candidate
	sc := bufio.NewScanner(bytes.NewReader(data))
	for n := 1; sc.Scan(); n++ {
		line, _, _ := strings.Cut(sc.Text(), "#")
		if line = strings.TrimSpace(line); line == "" {
			continue
		}
		p, err := place.Parse(line)
		name := fmt.Sprintf("place %d", len(out)+1)
		if err != nil {
			head, rest, found := strings.Cut(line, ",")
			q, err2 := place.Parse(strings.TrimSpace(rest))
			if !found || err2 != nil {
				return nil, fmt.Errorf(":%d: %q is not a place, nor a name, a comma and a place: write such as gate, 41.9086 -4.9183", n, line)
			}
			p, name = q, strings.TrimSpace(head)
		}
		out = append(out, evidence.Candidate{Name: name, At: p})
	}
	if err := sc.Err(); err != nil {
		return nil, fmt.Errorf(": %w", err)
	}
	return out, nil
}

// candidatesJSON reads points, and places every so many metres along lines.
func candidatesJSON(data []byte, f geo.Frame, every float64) ([]evidence.Candidate, error) {
	var head struct {
		Type string `json:"type"`
	}
	if err := json.Unmarshal(data, &head); err != nil {
		return nil, fmt.Errorf(": is not JSON: %w", err)
	}
	var features []*geojson.Feature
	switch head.Type {
	case "FeatureCollection":
		fc, err := geojson.UnmarshalFeatureCollection(data)
		if err != nil {
			return nil, fmt.Errorf(": is not GeoJSON: %w", err)
		}
		features = fc.Features
	case "Feature":
		one, err := geojson.UnmarshalFeature(data)
		if err != nil {
			return nil, fmt.Errorf(": is not GeoJSON: %w", err)
		}
		features = append(features, one)
	default:
		g, err := geojson.UnmarshalGeometry(data)
		if err != nil {
			return nil, fmt.Errorf(": is not GeoJSON: %w", err)
		}
		features = append(features, geojson.NewFeature(g.Geometry()))
	}
	var out []evidence.Candidate
	for i, ft := range features {
		if ft == nil {
			continue
		}
		name, _ := ft.Properties["name"].(string)
		pts, err := standsOf(ft.Geometry, f, every)
		if err != nil {
			return nil, fmt.Errorf(": feature %d: %w", i+1, err)
		}
		for j, p := range pts {
			label := name
			if label == "" {
				label = fmt.Sprintf("place %d", len(out)+1)
			} else if len(pts) > 1 {
				label = fmt.Sprintf("%s %d", name, j+1)
			}
			out = append(out, evidence.Candidate{Name: label, At: p})
			if len(out) > mostCandidates {
				return out, nil
			}
		}
	}
	return out, nil
}

// standsOf lists the places of a geometry.
func standsOf(g orb.Geometry, f geo.Frame, every float64) ([]orb.Point, error) {
	var out []orb.Point
	var lines []orb.LineString
	switch v := g.(type) {
	case orb.Point:
		out = append(out, v)
	case orb.MultiPoint:
		out = append(out, v...)
	case orb.LineString:
		lines = append(lines, v)
	case orb.MultiLineString:
		lines = v
	default:
		return nil, fmt.Errorf("is neither a point nor a line; draw where observers could stand as points or a line")
	}
	for _, l := range lines {
		out = append(out, l...)
	}
	for _, p := range out {
		if !(math.Abs(p.Lon()) <= 180 && math.Abs(p.Lat()) <= 90) {
			return nil, fmt.Errorf("%g,%g is not longitude, latitude in degrees", p.Lon(), p.Lat())
		}
	}
	if len(lines) == 0 {
		return out, nil
	}
	out = out[:0]
	for _, l := range lines {
		out = append(out, along(l, f, every)...)
	}
	return out, nil
}

// along returns places on a line, every so many metres from its start on.
func along(l orb.LineString, f geo.Frame, every float64) []orb.Point {
	var out []orb.Point
	left := 0.0 // m until the next place
	for i := range l {
		if i == 0 {
			continue
		}
		a, b := f.ToXY(l[i-1]), f.ToXY(l[i])
		d := b.Sub(a).Norm()
		for left <= d && len(out) <= mostCandidates {
			out = append(out, f.ToLonLat(a.Add(b.Sub(a).Scale(left/math.Max(d, 1e-9)))))
			left += every
		}
		left -= d
	}
	return out
}
