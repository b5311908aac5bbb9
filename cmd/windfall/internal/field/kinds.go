package field

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/situation"
	"windfall/drift/logbook"
	"windfall/geo"
)

// ignite logs a press of ignition.
func (w *writer) ignite(s Said) (Result, error) {
	n, err := w.addNote(string(kindIgnition), w.who.Name, s.At, struct {
		Note string `json:"note,omitempty"`
	}{s.Note})
	if err != nil {
		return Result{}, err
	}
	r := Result{Key: s.Key, State: Logged}
	for _, g := range w.state.ignitions() {
		if d := s.At.Sub(g.at); g.note != n.ID {
			r.State = Conflict
			r.Message = fmt.Sprintf("%s has pressed ignition too, %.1f s away: times count from the last, each phone's own "+
				"where it is within %.0f s of it; take back the one that was not", g.by, d.Abs().Seconds(),
				sameLaunch.Seconds())
		}
	}
	if err := w.settle(); err != nil {
		return Result{}, err
	}
	return r, w.say(s, 0, n.ID)
}

// lane logs that a lane was walked, skipped, or was not after all.
func (w *writer) lane(s Said) (Result, error) {
	p := w.state.plan()
	switch {
	case s.State != "done" && s.State != "skipped" && s.State != "open":
		return s.no("state %.20q is not known; write done, skipped or open", s.State)
	case s.Plan < 1 || s.Plan > len(w.state.plans):
		return s.no("there is no plan %d; write the number of the plan that the lane is of", s.Plan)
	}
	of := w.state.plans[s.Plan-1]
	if why := w.lacks(of, s.Block, s.Lane); why != "" {
		return s.no("%s", why)
	}
	r := Result{Key: s.Key, State: Logged}
	if s.State == "done" {
		if l, ok := w.state.lanes(s.Plan)[laneKey{s.Block, s.Lane}]; ok && l.State == "done" && l.By != w.who.Name {
			r.State, r.Message = Conflict, fmt.Sprintf("%s has said that lane %d of %s is done, at %s; both stay on record",
				l.By, s.Lane, s.Block, l.At.UTC().Format("15:04 UTC"))
		}
	}
	if p != of {
		r.Message = strings.TrimPrefix(r.Message+fmt.Sprintf("; plan %d was replaced by plan %d, made by %s at %s: it is "+
			"kept, go on by the new one", of.Number, p.Number, p.By, p.At.UTC().Format("15:04 UTC")), "; ")
	}
	n, err := w.addNote(string(kindLane), w.who.Name, s.At, laneNote{s.Plan, s.Block, s.Lane, s.State, s.Note})
	if err != nil {
		return Result{}, err
	}
	return r, w.say(s, 0, n.ID)
}

// lacks says that a plan has no such lane; "": it has.
func (w *writer) lacks(p *Plan, block string, lane int) string {
	ways, ok := w.state.ways[p.Number]
	if !ok {
		ways = waysOf(w.flight.Input, p)
		w.state.ways[p.Number] = ways
	}
	var names []string
	for _, r := range p.Plan.Searchers {
		for _, b := range r.Blocks {
			if b.Name != block {
				names = append(names, b.Name)
				continue
			}
			if most := max(b.Lanes, len(ways[block].lanes)); lane < 1 || lane > most {
				return fmt.Sprintf("block %s has lanes 1 to %d, no lane %d", block, most, lane)
			}
			return ""
		}
	}
	return fmt.Sprintf("plan %d has no block %.20q; it has %s", p.Number, block, strings.Join(names, ", "))
}

// crew logs that somebody comes, goes or is late.
func (w *writer) crew(s Said) (Result, error) {
	name, ok := w.flight.Input.Named(s.Searcher)
	if !ok {
		return s.no("searcher %.40q is not of this flight (%s); the person at the laptop can add them to the "+
			"flight file", s.Searcher, strings.Join(names(w.flight.Input), ", "))
	}
	b := crewNote{Searcher: name, Note: s.Note}
	if s.Kind == kindLate {
		if s.Minutes == nil || !(*s.Minutes > 0 && *s.Minutes <= 24*60) {
			return s.no("how late is not said; write minutes, above 0")
		}
		b.Minutes = *s.Minutes
	}
	r := Result{Key: s.Key, State: Logged}
	if c := w.state.crew()[name]; s.Kind == kindArrive && c.State == "in" && c.By != w.who.Name {
		r.State, r.Message = Conflict, fmt.Sprintf("%s goes as %s already; the last who says so does", c.By, name)
	}
	n, err := w.addNote(string(s.Kind), w.who.Name, s.At, b)
	if err != nil {
		return Result{}, err
	}
	return r, w.say(s, 0, n.ID)
}

func names(in situation.Input) (out []string) {
	for _, who := range in.Who() {
		out = append(out, who.Name)
	}
	return out
}

const farOff = 60e3 // m from the pad: a find farther away is mistyped

// find logs a find.
func (w *writer) find(s Said) (Result, error) {
	if s.Lat == nil || s.Lon == nil {
		return s.no("a find without a place; write lat and lon")
	}
	f := record.Find{Lat: *s.Lat, Lon: *s.Lon, Part: s.Part, Outcome: s.Outcome, LooksLike: s.LooksLike}
	setTo(&f.Accuracy, s.Accuracy)
	if err := w.possible(f); err != nil {
		return refused(s.Key, err), nil
	}
	body, err := json.Marshal(f)
	if err != nil {
		return Result{}, err
	}
	before := w.state.finds()
	e, err := w.addEntry(string(logbook.Find), w.who.Name, s.At, body)
	if err != nil {
		return Result{}, err
	}
	r := Result{Key: s.Key, ID: e.ID, State: Logged}
	for _, old := range before {
		if was, ok := findOf(old); ok && was.Part == f.Part && !was.Unconfirmed {
			d := w.flight.File.Frame.ToXY(was.At()).Sub(w.flight.File.Frame.ToXY(f.At())).Norm()
			r.State, r.Message = Conflict, fmt.Sprintf("%s has found the same at %s, %.0f m away (entry %d); both are kept: "+
				"take back the one that is not it", old.By, old.When.UTC().Format("15:04:05 UTC"), d, old.ID)
		}
	}
	return r, w.say(s, e.ID, 0)
}

// possible says what a find cannot be.
func (w *writer) possible(f record.Find) error {
	if !(f.Lat >= -90 && f.Lat <= 90 && f.Lon >= -180 && f.Lon <= 180) {
		return fmt.Errorf("lat %g, lon %g is no place", f.Lat, f.Lon)
	}
	at := w.flight.File.Frame.ToXY(f.At())
	if d := at.Norm(); d > farOff {
		return fmt.Errorf("that is %.0f km from the pad: no find of this flight; check the place", d/1000)
	}
	return situation.Find{At: at, Part: f.Part, Outcome: f.Outcome}.Unknown(w.flight.Input)
}

func (w *writer) amendFind(s Said, e logbook.Entry) (Result, error) {
	f, ok := findOf(e)
	if !ok {
		return s.no("entry %d cannot be read; withdraw it", e.ID)
	}
	setTo(&f.Lat, s.Lat)
	setTo(&f.Lon, s.Lon)
	setTo(&f.Accuracy, s.Accuracy)
	for to, v := range map[*string]string{&f.LooksLike: s.LooksLike, &f.Part: s.Part, &f.Outcome: s.Outcome} {
		if v != "" {
			*to = v
		}
	}
	if err := w.possible(f); err != nil {
		return refused(s.Key, err), nil
	}
	body, err := json.Marshal(f)
	if err != nil {
		return Result{}, err
	}
	if err := w.amendEntry(e.ID, w.who.Name, body); err != nil {
		return Result{}, err
	}
	return Result{Key: s.Key, ID: e.ID, State: Logged}, w.say(s, e.ID, 0)
}

// withdraw takes something back.
func (w *writer) withdraw(s Said) (Result, error) {
	m, err := w.meant(s)
	if err != nil {
		return refused(s.Key, err), nil
	}
	r := Result{Key: s.Key, State: Logged}
	if m.entry != nil && m.timed == nil {
		r.ID = m.entry.ID
		if err := w.withdrawEntry(m.entry.ID, w.who.Name); err != nil {
			return Result{}, err
		}
		return r, w.say(s, r.ID, 0)
	}
	n, err := w.addNote(noteWithdrawn, w.who.Name, s.At, noteRef{m.note})
	if err != nil {
		return Result{}, err
	}
	if m.timed != nil {
		r.ID = m.timed.entry
	}
	if err := w.settle(); err != nil {
		return Result{}, err
	}
	return r, w.say(s, r.ID, n.ID)
}

// findOf reads a find; ok is false for an entry that is none.
func findOf(e logbook.Entry) (f record.Find, ok bool) {
	return f, e.Kind == logbook.Find && json.Unmarshal(e.Body, &f) == nil
}

// finds returns the finds that are not withdrawn, in the order they were logged.
func (s *state) finds() (out []logbook.Entry) {
	for _, e := range s.entries {
		if e.Kind == logbook.Find && !e.Withdrawn {
			out = append(out, e)
		}
	}
	slices.SortFunc(out, func(a, b logbook.Entry) int { return int(a.ID - b.ID) })
	return out
}

// away is how far apart two places are, m.
func away(a, b Point) float64 {
	f := geo.Frame{Origin: lonLat(a)}
	return f.ToXY(lonLat(b)).Norm()
}

// minutesOf is a number of minutes as time.
func minutesOf(v float64) time.Duration { return time.Duration(v * float64(time.Minute)) }
