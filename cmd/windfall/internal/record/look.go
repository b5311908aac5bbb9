package record

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/situation"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/logbook"
	"windfall/geo"
	"windfall/geo/plane"
	"windfall/search"
)

// Look is what the logbook keeps of ground looked at in pictures, as an entry of
// kind track: the ground with the chance that the target would have been found
// there, the pictures, and what was found that does not belong, with what
// somebody said of it.
type Look struct {
	Geometry   *geojson.Geometry `json:"geometry"` // MultiPolygon
	Chances    []float64         `json:"chances"`  // of each polygon
	Pictures   []LookPicture     `json:"pictures"`
	Candidates []LookCandidate   `json:"candidates"`
}

// LookPicture names a picture and its bytes.
type LookPicture struct {
	Name   string `json:"name"`
	SHA256 string `json:"sha256"`
}

// LookCandidate is one thing that does not belong to the ground. Its number is
// its own among all of the flight.
type LookCandidate struct {
	N       int     `json:"n"`
	Lat     float64 `json:"lat"`
	Lon     float64 `json:"lon"`
	Error   float64 `json:"error_m"`
	Radius  float64 `json:"radius_m"`
	Score   float64 `json:"score"`
	Verdict string  `json:"verdict,omitempty"` // yes or no; "": nobody has judged it
}

// samePlace is how far apart two candidates of one set of pictures are one, m.
const samePlace = 1.0

// survey is the ground looked at in metres of a frame, open where candidates
// have not been ruled out.
func (l *Look) survey(f geo.Frame) (v search.Survey, err error) {
	mp, ok := l.Geometry.Geometry().(orb.MultiPolygon)
	if !ok || len(mp) != len(l.Chances) {
		return v, errors.New("its ground and its chances do not belong together")
	}
	for i, p := range mp {
		if c := l.Chances[i]; !(c >= 0 && c <= 1) {
			return v, fmt.Errorf("chance %g is not from 0 to 1", c)
		}
		for _, g := range plane.FromLonLat(f, orb.MultiPolygon{p}) {
			v.Areas = append(v.Areas, search.Looked{Ground: g, Chance: l.Chances[i]})
		}
	}
	for _, c := range l.Candidates {
		if c.Verdict != "no" {
			v.Open = append(v.Open, search.Round{At: f.ToXY(orb.Point{c.Lon, c.Lat}), Radius: c.Radius})
		}
	}
	return v, nil
}

// sentence says the look as a person would.
func (l *Look) sentence(by string) string {
	open := 0
	for _, c := range l.Candidates {
		if c.Verdict == "" {
			open++
		}
	}
	s := fmt.Sprintf("%s looked at %d pictures of the ground", orNobody(by), len(l.Pictures))
	if open > 0 {
		s += fmt.Sprintf(", candidates not judged yet: %d", open)
	}
	return s
}

// decodeLook reads an entry that is a look; ok is false for one that is not.
func decodeLook(x logbook.Entry) (l Look, ok bool) {
	err := json.Unmarshal(x.Body, &l)
	return l, err == nil && l.Chances != nil && l.Geometry != nil
}

func decodeGone(x logbook.Entry, f geo.Frame) (situation.Track, error) {
	l, ok := decodeLook(x)
	if !ok {
		return decodeTrack(x, f)
	}
	v, err := l.survey(f)
	return situation.Track{Entry: x.ID, By: x.By, Looked: &v}, err
}

// AddLook logs a look. One at the same pictures as before, or at more of them,
// takes the earlier one's place: its numbers and verdicts stay with what lies
// at the same places. The look comes back with its candidates' numbers.
func AddLook(path string, f *flightfile.File, l *Look, st Stamp) (entry logbook.Entry, err error) {
	in, err := Inputs(f, st)
	if err != nil {
		return entry, err
	}
	b, err := logbook.Open(path)
	if err != nil {
		return entry, err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	old, err := looks(b, f.Flight.ID)
	if err != nil {
		return entry, err
	}
	last := 0
	var before *logged
	for i, o := range old {
		for _, c := range o.look.Candidates {
			last = max(last, c.N)
		}
		if l.holds(o.look) {
			before = &old[i]
		} else if o.look.holds(*l) {
			return entry, usage.Errorf("these pictures are logged already, with others, as entry %d; "+
				"name them all, or take it back with windfall log --withdraw %d", o.entry.ID, o.entry.ID)
		}
	}
	if before != nil {
		l.takeOver(before.look)
	}
	for i := range l.Candidates {
		if l.Candidates[i].N == 0 {
			last++
			l.Candidates[i].N = last
		}
	}
	if before == nil {
		return add(b, in, logbook.Track, st, l)
	}
	text, err := json.Marshal(l)
	if err != nil {
		return entry, err
	}
	return b.Amend(before.entry.ID, st.By, st.Now, text)
}

// logged is a look with its entry.
type logged struct {
	entry logbook.Entry
	look  Look
}

// readLooks is looks of the logbook at path, which need not be there.
func readLooks(path, flight string) (out []logged, err error) {
	b, err := logbook.OpenRead(path)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	return looks(b, flight)
}

func looks(b *logbook.Book, flight string) (out []logged, err error) {
	entries, err := b.Entries(logbook.Query{Flight: flight, Kinds: []logbook.Kind{logbook.Track}})
	for _, x := range entries {
		if l, ok := decodeLook(x); ok {
			out = append(out, logged{x, l})
		}
	}
	return out, err
}

// holds tells whether l is of all pictures of o.
func (l *Look) holds(o Look) bool {
	if len(o.Pictures) == 0 {
		return false
	}
	mine := map[string]bool{}
	for _, p := range l.Pictures {
		mine[p.SHA256] = true
	}
	return !slices.ContainsFunc(o.Pictures, func(p LookPicture) bool { return !mine[p.SHA256] })
}

// takeOver gives candidates at the same places their numbers and verdicts; what
// was judged and is not found again stays as it was.
func (l *Look) takeOver(o Look) {
	for _, was := range o.Candidates {
		f := geo.Frame{Origin: orb.Point{was.Lon, was.Lat}}
		i := slices.IndexFunc(l.Candidates, func(c LookCandidate) bool {
			return c.N == 0 && f.ToXY(orb.Point{c.Lon, c.Lat}).Norm() <= samePlace
		})
		switch {
		case i >= 0:
			l.Candidates[i].N, l.Candidates[i].Verdict = was.N, was.Verdict
		case was.Verdict != "":
			l.Candidates = append(l.Candidates, was)
		}
	}
}

// Verdict is what somebody says of a candidate.
type Verdict struct {
	N   int  `json:"n"`
	Yes bool `json:"yes"`
}

// Judge logs verdicts on a flight's candidates: no rules one out, so that its
// ground counts as searched; yes logs a find there, to be confirmed on foot. It
// returns the entries that were made or changed, finds last.
func Judge(path string, f *flightfile.File, vs []Verdict, st Stamp) (out []logbook.Entry, err error) {
	in, err := Inputs(f, st)
	if err != nil {
		return nil, err
	}
	all, err := readLooks(path, f.Flight.ID)
	if err != nil {
		return nil, err
	}
	finds, err := judged(all, vs)
	if err != nil {
		return nil, err
	}
	b, err := logbook.Open(path)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	for _, o := range all {
		if !slices.ContainsFunc(vs, func(v Verdict) bool { return o.find(v.N) >= 0 }) {
			continue
		}
		text, err := json.Marshal(o.look)
		if err != nil {
			return nil, err
		}
		entry, err := b.Amend(o.entry.ID, st.By, st.Now, text)
		if err != nil {
			return nil, err
		}
		out = append(out, entry)
	}
	for _, c := range finds {
		entry, err := add(b, in, logbook.Find, st, Find{Lat: c.Lat, Lon: c.Lon, Unconfirmed: true, Candidate: c.N})
		if err != nil {
			return nil, err
		}
		out = append(out, entry)
	}
	return out, nil
}

func (o *logged) find(n int) int {
	return slices.IndexFunc(o.look.Candidates, func(c LookCandidate) bool { return c.N == n })
}

// judged puts the verdicts into the looks and returns the candidates that are
// newly said to be it.
func judged(all []logged, vs []Verdict) (finds []LookCandidate, err error) {
	for _, v := range vs {
		i := slices.IndexFunc(all, func(o logged) bool { return o.find(v.N) >= 0 })
		if i < 0 {
			return nil, usage.Errorf("the flight has no candidate %d; it has %s", v.N, numbers(all))
		}
		c := &all[i].look.Candidates[all[i].find(v.N)]
		if v.Yes && c.Verdict != "yes" {
			finds = append(finds, *c)
		}
		if c.Verdict = "no"; v.Yes {
			c.Verdict = "yes"
		}
	}
	return finds, nil
}

func numbers(all []logged) string {
	var ns []string
	for _, o := range all {
		for _, c := range o.look.Candidates {
			ns = append(ns, fmt.Sprint(c.N))
		}
	}
	if len(ns) == 0 {
		return "none: windfall look FLIGHT PHOTOS... finds them"
	}
	if len(ns) > 12 {
		ns = append(ns[:12], "...")
	}
	return strings.Join(ns, ", ")
}
