package field

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"time"

	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/situation"
	"windfall/geo"
	"windfall/search"
)

const (
	freshPlace = 15 * time.Minute // how old a last position may be to set out from it: a choice of ours
	besideM    = 15.0             // m from a lane that counts as on it, for its recording
	mostOfIt   = 0.6              // of a lane that a recording must have
)

// Squad returns the searchers of a flight as they stand now, for a plan that
// begins now: those who are in (where nobody has said so, all), from where they
// were last seen, for the time that they have left; and what was assumed.
func Squad(in situation.Input, f geo.Frame, v *View, places map[string]Place, now time.Time) (out []search.Searcher,
	notes []string, err error) {
	some := false
	for _, c := range v.Crew {
		some = some || c.State != "left"
	}
	for _, w := range in.Who() {
		c, said := v.Crew[w.Name]
		switch {
		case some && !said:
			notes = append(notes, w.Name+" has not come and is left out")
			continue
		case c.State == "left":
			notes = append(notes, w.Name+" has gone")
			continue
		case c.State == "late":
			in := c.At.Add(minutesOf(c.Late)).Sub(now).Seconds()
			w.Joins = max(0, in)
			w.Available -= max(0, -in)
		case c.State == "in":
			w.Available -= max(0, now.Sub(*c.At).Seconds())
		}
		if w.Available <= 60 {
			notes = append(notes, w.Name+" has no time left")
			continue
		}
		if at, ok := places[c.By]; ok && c.By != "" && now.Sub(at.At) <= freshPlace {
			q := f.ToXY(lonLat(at.Point))
			w.At = &q
		}
		out = append(out, w)
	}
	if len(out) == 0 {
		return nil, notes, errors.New("nobody is there to search: let somebody say that they have come")
	}
	return out, notes, nil
}

// Unrecorded returns the lanes that were done without a recording of them, as
// ground gone over along the lanes as planned: a plan must not send anybody
// there again. They are of no map but the plan's.
func Unrecorded(fl *record.Flight, v *View) []situation.Track {
	byWho, known := map[string][][]geo.XY{}, map[int]ways{}
	for _, l := range v.Done {
		w, ok := known[l.Plan]
		if !ok {
			w = waysOf(fl.Input, v.plans[l.Plan-1])
			known[l.Plan] = w
		}
		if line := w.lane(l.Block, l.Lane); line != nil && !walked(line, fl.Input.Tracks) {
			who := w[l.Block].who
			byWho[who] = append(byWho[who], line)
		}
	}
	var out []situation.Track
	for _, w := range fl.Input.Who() {
		if lines := byWho[w.Name]; len(lines) > 0 {
			out = append(out, situation.Track{By: w.Name, Lines: lines, Searcher: w})
		}
	}
	return out
}

// ways are the lanes of a plan's blocks as phones lead over them, and whose they
// are.
type ways map[string]struct {
	who   string
	lanes [][]geo.XY
}

// waysOf returns those of a plan.
func waysOf(in situation.Input, p *Plan) ways {
	out := ways{}
	for _, s := range situation.ChartOf(in, p.Plan, time.Time{}).Searchers {
		for _, st := range s.Stages {
			if st.Block == "" {
				continue
			}
			w := out[st.Block]
			w.who = s.Name
			for _, lane := range st.Lanes {
				line := make([]geo.XY, len(lane))
				for i, q := range lane {
					line[i] = geo.XY{X: q[0], Y: q[1]}
				}
				w.lanes = append(w.lanes, line)
			}
			out[st.Block] = w
		}
	}
	return out
}

// lane returns one of them; nil: there is none.
func (w ways) lane(block string, lane int) []geo.XY {
	if all := w[block].lanes; lane >= 1 && lane <= len(all) {
		return all[lane-1]
	}
	return nil
}

// walked tells whether tracks went along most of a line.
func walked(line []geo.XY, tracks []situation.Track) bool {
	const step = 10.0 // m
	on, all := 0, 0
	for i := 1; i < len(line); i++ {
		d := line[i].Sub(line[i-1])
		n := 1 + int(d.Norm()/step)
		for k := range n {
			t := (float64(k) + 0.5) / float64(n)
			q := geo.XY{X: line[i-1].X + t*d.X, Y: line[i-1].Y + t*d.Y}
			if all++; slices.ContainsFunc(tracks, func(x situation.Track) bool { return near(q, x.Lines) }) {
				on++
			}
		}
	}
	return float64(on) >= mostOfIt*float64(all)
}

func near(q geo.XY, lines [][]geo.XY) bool {
	for _, l := range lines {
		for i := 1; i < len(l); i++ {
			d, v := l[i].Sub(l[i-1]), q.Sub(l[i-1])
			t := 0.0
			if n := d.Dot(d); n > 0 {
				t = min(1, max(0, v.Dot(d)/n))
			}
			if v.Sub(geo.XY{X: t * d.X, Y: t * d.Y}).Norm() <= besideM {
				return true
			}
		}
	}
	return false
}

// AddPlan logs a plan, which is in force from then on. where was is not 0 and
// another than that plan is in force, it is not logged: ErrReplaced.
func (f *Field) AddPlan(fl *record.Flight, who Who, p Plan, was int, now time.Time) (*Plan, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	w := writer{who: who, now: now}
	var out *Plan
	err := f.write1(fl, &w, func() error {
		if in := w.state.plan(); was != 0 && in != nil && in.Number != was {
			return fmt.Errorf("%w: plan %d, made by %s at %s, is in force now", ErrReplaced, in.Number, in.By,
				in.At.UTC().Format("15:04 UTC"))
		}
		n, err := w.addNote(notePlan, who.Name, now, planNote{p.Key, p.Begin, p.Plan, p.Cautions})
		if err == nil {
			out = w.state.planOf(n.ID)
		}
		return err
	})
	return out, err
}

// ErrReplaced says that the plan was replaced meanwhile.
var ErrReplaced = errors.New("the plan was replaced meanwhile")

// HasPlan tells whether a plan of a key is among the flight's.
func (v *View) HasPlan(key string) bool {
	return slices.ContainsFunc(v.plans, func(p *Plan) bool { return p.Key == key })
}

func (s *state) planOf(note int64) *Plan {
	i := slices.IndexFunc(s.plans, func(p *Plan) bool { return p.note == note })
	if i < 0 {
		return nil
	}
	return s.plans[i]
}

// doneLanes returns every lane that is done, of every plan.
func (s *state) doneLanes() (out []LaneState) {
	for _, p := range s.plans {
		for _, l := range s.lanes(p.Number) {
			if l.State == "done" {
				out = append(out, l)
			}
		}
	}
	slices.SortFunc(out, func(a, b LaneState) int {
		return cmp.Or(cmp.Compare(a.Plan, b.Plan), cmp.Compare(a.Block, b.Block), cmp.Compare(a.Lane, b.Lane))
	})
	return out
}
