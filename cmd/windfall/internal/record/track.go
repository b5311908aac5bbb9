package record

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/situation"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/logbook"
	"windfall/geo"
	"windfall/search"
	"windfall/search/detect"
	"windfall/search/track"
)

// Track is what the logbook keeps of ground gone over: the ways, cleaned, who
// went them, and the law by which they detect; sweep widths are worked out anew
// from the flight file.
type Track struct {
	Geometry   *geojson.Geometry `json:"geometry"` // MultiLineString
	Searcher   trackSearcher     `json:"searcher"`
	LengthM    float64           `json:"length_m"`
	Minutes    float64           `json:"minutes,omitempty"`
	SweepWidth float64           `json:"sweep_width_m"`       // mean, when it was logged
	Detection  detect.Law        `json:"detection,omitempty"` // "": exponential
	Notes      []string          `json:"notes,omitempty"`
}

type trackSearcher struct {
	Kind     search.Kind `json:"kind"`
	Speed    float64     `json:"speed_mps"`
	Height   float64     `json:"height_m,omitempty"`
	FieldDeg float64     `json:"field_of_view_deg,omitempty"`
	Pixels   int         `json:"pixels,omitempty"`
}

// ReadTrack reads and cleans a recorded track (GPX) of somebody: a searcher of
// the flight, or anybody else, who counts as a walker. name is for messages.
func ReadTrack(r io.Reader, name string, f *Flight, by string, law detect.Law) (*Track, error) {
	t, err := track.Read(r, name)
	if err != nil {
		return nil, usage.Mark(err)
	}
	return NewTrack(t, name, f, by, law)
}

// NewTrack cleans a track that has been read, as ReadTrack does.
func NewTrack(t *track.Track, name string, f *Flight, by string, law detect.Law) (*Track, error) {
	who, note := whoIs(f.Input, by)
	w, err := track.Clean(t, f.File.Frame, track.Limit(who.Kind == search.Drone, who.Speed))
	if err != nil {
		return nil, usage.Errorf("%s: %w", name, err)
	}
	out := &Track{
		Geometry: geometryOf(f.File.Frame, w.Lines), LengthM: w.Metres, Minutes: w.Seconds / 60, Detection: law,
		Notes:    append(note, w.Notes...),
		Searcher: trackSearcher{who.Kind, who.Speed, who.Height, who.FieldDeg, who.Pixels},
	}
	gone, err := out.Gone(by, f.File.Frame)
	out.SweepWidth = gone.MeanWidth(f.Input)
	return out, err
}

// whoIs returns the flight's searcher of a name, or a walker and a note that it
// has none such.
func whoIs(in situation.Input, name string) (search.Searcher, []string) {
	all := in.Who()
	var names []string
	for _, s := range all {
		if strings.EqualFold(s.Name, name) {
			return s, nil
		}
		names = append(names, s.Name)
	}
	if len(in.Searchers) == 0 {
		return all[0], nil
	}
	return situation.Input{}.Who()[0],
		[]string{fmt.Sprintf("%q is not a searcher of the flight file (%s): taken for a walker", name,
			strings.Join(names, ", "))}
}

// Gone is the track as ground gone over in a frame.
func (t *Track) Gone(by string, f geo.Frame) (situation.Track, error) {
	out := situation.Track{By: by, Law: t.Detection, Width: t.SweepWidth, Searcher: search.Searcher{
		Name: by, Kind: t.Searcher.Kind, Speed: t.Searcher.Speed, Height: t.Searcher.Height, FieldDeg: t.Searcher.FieldDeg,
		Pixels: t.Searcher.Pixels}}
	if t.Geometry == nil {
		return out, errors.New("it has no geometry")
	}
	lines, ok := t.Geometry.Geometry().(orb.MultiLineString)
	if !ok {
		return out, errors.New("its geometry is no MultiLineString")
	}
	if _, err := detect.Parse(string(t.Detection)); err != nil {
		return out, err
	}
	for _, l := range lines {
		var line []geo.XY
		for _, p := range l {
			line = append(line, f.ToXY(p))
		}
		out.Lines = append(out.Lines, line)
	}
	return out, nil
}

// check says what of a track's numbers cannot be.
func (t *Track) check() error {
	if k := t.Searcher.Kind; k != "" && k != search.Walker && k != search.Drone {
		return fmt.Errorf("searcher.kind %q is not known; write walker or drone", k)
	}
	for _, n := range []struct {
		key string
		v   float64
	}{{"length_m", t.LengthM}, {"minutes", t.Minutes}, {"sweep_width_m", t.SweepWidth},
		{"searcher.speed_mps", t.Searcher.Speed}, {"searcher.height_m", t.Searcher.Height},
		{"searcher.field_of_view_deg", t.Searcher.FieldDeg}, {"searcher.pixels", float64(t.Searcher.Pixels)}} {
		if !(n.v >= 0) {
			return fmt.Errorf("%s %g is below zero", n.key, n.v)
		}
	}
	return nil
}

func decodeTrack(x logbook.Entry, f geo.Frame) (situation.Track, error) {
	var t Track
	if err := json.Unmarshal(x.Body, &t); err != nil {
		return situation.Track{}, wrongJSON(err)
	}
	if err := t.check(); err != nil {
		return situation.Track{}, err
	}
	return t.Gone(x.By, f)
}

// geometryOf returns lines of a frame as a GeoJSON geometry.
func geometryOf(f geo.Frame, lines [][]geo.XY) *geojson.Geometry {
	out := make(orb.MultiLineString, len(lines))
	for i, l := range lines {
		for _, q := range l {
			out[i] = append(out[i], f.ToLonLat(q))
		}
	}
	return geojson.NewGeometry(out)
}

// AddTrack logs a track, unless the same ways are logged already and again is
// not set.
func AddTrack(path string, f *flightfile.File, t *Track, again bool, st Stamp) (entry logbook.Entry, err error) {
	in, err := Inputs(f, st)
	if err != nil {
		return entry, err
	}
	b, err := logbook.Open(path)
	if err != nil {
		return entry, err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	if !again {
		if err := notYetLogged(b, f.Flight.ID, t); err != nil {
			return entry, err
		}
	}
	return add(b, in, logbook.Track, st, t)
}

// notYetLogged refuses a track whose ways are logged already.
func notYetLogged(b *logbook.Book, flight string, t *Track) error {
	old, err := b.Entries(logbook.Query{Flight: flight, Kinds: []logbook.Kind{logbook.Track}})
	if err != nil {
		return err
	}
	mine, err := json.Marshal(t.Geometry)
	if err != nil {
		return err
	}
	for _, x := range old {
		var was Track
		if json.Unmarshal(x.Body, &was) != nil {
			continue
		}
		if theirs, err := json.Marshal(was.Geometry); err == nil && string(theirs) == string(mine) {
			return usage.Errorf("this track is logged already, as entry %d; --again counts it a second time", x.ID)
		}
	}
	return nil
}

// add logs one entry with the inputs in force.
func add(b *logbook.Book, in *logbook.Inputs, kind logbook.Kind, st Stamp, body any) (logbook.Entry, error) {
	text, err := json.Marshal(body)
	if err != nil {
		return logbook.Entry{}, err
	}
	got, err := b.Add(in, logbook.Entry{Flight: in.Flight, Kind: kind, By: st.By, When: st.Now, Body: text})
	if err != nil {
		return logbook.Entry{}, err
	}
	return got[0], nil
}
