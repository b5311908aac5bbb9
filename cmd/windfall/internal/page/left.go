package page

import (
	"bytes"
	"context"
	"encoding/base64"
	"encoding/json"
	"net/http"
	"sync"
	"time"

	"windfall/cmd/windfall/internal/field"
	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/situation"
	"windfall/geo/mapfile"
)

// leftKept is what is left, as it was worked out last.
type leftKept struct {
	mu  sync.Mutex
	doc *leftDoc
	of  string // the flight's files that it was worked out of

	at   time.Time     // when
	took time.Duration // how long

	work sync.Mutex // one works it out, the others wait for it
}

// leftDoc is where the vehicle still may be.
type leftDoc struct {
	leftBrief
	shownDoc
	Picture  *leftPicture    `json:"picture,omitempty"`
	Moved    float64         `json:"mean_moved_m"`
	NextHour json.RawMessage `json:"next_hour"`
	Caution  []string        `json:"cautions"`

	evidence int64 // the version that had last changed the map
}

// leftPicture is the ground left as a picture, the likelier the darker: a phone
// keeps it with the rest. Nil near a pole, where it has no corners.
type leftPicture struct {
	URL    string        `json:"url"`    // data: the picture itself
	Bounds [2][2]float64 `json:"bounds"` // south-west and north-east, latitude and longitude
}

// pictured is the picture of a map.
func pictured(l *mapfile.Landing) (*leftPicture, error) {
	o := l.Overlay()
	if o == nil {
		return nil, nil
	}
	data, err := o.PNG()
	return &leftPicture{"data:image/png;base64," + base64.StdEncoding.EncodeToString(data),
		[2][2]float64{{o.South, o.West}, {o.North, o.East}}}, err
}

// leftBrief is the gist of it.
type leftBrief struct {
	Version int64   `json:"version"`
	Stale   bool    `json:"stale"`
	Total   float64 `json:"probability_of_success_total"`
	Outside float64 `json:"outside_map"`
	Advice  string  `json:"advice,omitempty"`
}

// shownDoc is a map as it is shown.
type shownDoc struct {
	Landing json.RawMessage `json:"landing"`
	Shapes  json.RawMessage `json:"shapes"`
}

// brief is what was worked out last; nil: nothing yet.
func (l *leftKept) brief(v *field.View) *leftBrief {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.doc == nil {
		return nil
	}
	b := l.doc.leftBrief
	b.Stale = l.doc.evidence < v.Evidence
	return &b
}

// fresh is what was worked out last, if nothing has changed it since, or it is
// too soon to work it out again.
func (l *leftKept) fresh(v *field.View, of string) *leftDoc {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.doc == nil || l.of != of {
		return nil
	}
	d := *l.doc
	if d.evidence == v.Evidence {
		d.Version = v.Version
		return &d
	}
	if d.Stale = true; time.Since(l.at) < restLeft*l.took {
		return &d
	}
	return nil
}

// restLeft is how many times as long as working out what is left took it is
// answered as it is, though something has changed it: thirty phones that record
// would keep the laptop at it all day.
const restLeft = 3

func (l *leftKept) keep(d *leftDoc, of string, began time.Time) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.doc, l.of, l.at, l.took = d, of, time.Now(), time.Since(began)
}

// getLeft answers where the vehicle still may be.
func (s *Server) getLeft(r *http.Request) (any, error) {
	f, fl, err := s.fieldNow()
	if err != nil {
		return nil, err
	}
	v, err := fl.View()
	if err != nil {
		return nil, err
	}
	of, l := stampsOf(f), &s.crew.left
	if d := l.fresh(v, of); d != nil {
		return d, nil
	}
	l.work.Lock()
	defer l.work.Unlock()
	if d := l.fresh(v, of); d != nil { // somebody else asked first
		return d, nil
	}
	began := time.Now()
	d, err := s.left(r.Context(), f, v)
	if err != nil {
		return nil, err
	}
	l.keep(d, of, began)
	s.news.tell()
	return d, nil
}

// left works out where the vehicle still may be.
func (s *Server) left(ctx context.Context, f *record.Flight, v *field.View) (*leftDoc, error) {
	now, err := s.logged(f)
	if err != nil {
		return nil, err
	}
	done, err := s.enter(ctx)
	if err != nil {
		return nil, err
	}
	defer done()
	seen := now.Input
	seen.Tracks = nil
	before, err := situation.Locate(ctx, seen, situation.Options{Seed: 1, Always: true})
	if err != nil {
		return nil, flown(err)
	}
	after, pos, err := before, 0.0, error(nil)
	if len(now.Input.Tracks) > 0 {
		if after, pos, err = situation.Without(before, now.Input.Tracks...); err != nil {
			return nil, flown(err)
		}
	}
	left, err := situation.LeftAfter(ctx, before, after, pos, situation.PlanOptions{Seed: 1})
	if err != nil {
		return nil, flown(err)
	}
	d := &leftDoc{evidence: v.Evidence, Moved: left.Moved,
		leftBrief: leftBrief{Version: v.Version, Total: left.POSTotal, Outside: left.Outside, Advice: left.Advice}}
	if d.NextHour, err = json.Marshal(left.NextHour); err != nil {
		return nil, err
	}
	var sum *situation.Summary
	if d.shownDoc, sum, err = shown(after); err != nil {
		return nil, err
	}
	if d.Picture, err = pictured(situation.Layers(after, sum)); err != nil {
		return nil, err
	}
	d.Caution = append(append([]string{}, sum.Cautions...), after.Cautions...)
	return d, nil
}

// shown is a state's map as it is shown, and its summary.
func shown(s *situation.State) (d shownDoc, sum *situation.Summary, err error) {
	if sum, err = situation.Summarise(s, situation.SummaryOptions{}); err != nil {
		return d, nil, err
	}
	var shapes bytes.Buffer
	if err := mapfile.GeoJSON(&shapes, situation.Layers(s, sum)); err != nil {
		return d, nil, err
	}
	d.Shapes = shapes.Bytes()
	d.Landing, err = json.Marshal(sum.Landing)
	return d, sum, err
}
