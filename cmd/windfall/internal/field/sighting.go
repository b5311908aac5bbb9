package field

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"

	"windfall/drift/evidence"
	"windfall/drift/logbook"
	"windfall/geo"
	"windfall/geo/magnetic"
)

// observer is where it was seen from, as said.
func observer(s Said) evidence.Observer {
	if s.From == nil {
		return evidence.Observer{}
	}
	return evidence.Observer{From: &geo.Place{Lat: s.From.Lat, Lon: s.From.Lon}}
}

// hangs tells whether a sighting's time hangs on the ignition.
func (s Said) hangs() bool { return s.Kind == kindTiming || s.Timed }

// moment is when it was seen, for what does not hang on the ignition.
func (s Said) moment(was evidence.Moment) evidence.Moment {
	switch s.Event {
	case "":
	case lost: // seen last, whenever that was
		was.Event = ""
	default:
		was.Event = s.Event
	}
	if s.AtS != nil {
		was.At, was.After, was.Before = s.AtS, nil, nil
	}
	if s.TimeSD != nil {
		was.TimeSD = *s.TimeSD
	}
	was.Heard = was.Heard || s.Heard
	return was
}

// sighting puts what was said into out, whose kind is amended where it has one.
func (w *writer) sighting(s Said, out *evidence.Sighting, m evidence.Moment) error {
	o := observer(s)
	if out.Kind != nil && s.From == nil {
		o = out.Kind.Where()
	}
	if s.Note != "" {
		out.Note = s.Note
	}
	if s.Sure != nil {
		out.Sure = s.Sure
	}
	if out.Kind == nil {
		switch s.Kind {
		case kindBearing:
			out.Kind = evidence.Bearing{}
		case kindHeight:
			out.Kind = evidence.Height{}
			if m.Event == "" {
				m.Event = "apogee"
			}
		case kindNothing:
			out.Kind = evidence.NothingIn{}
		case kindLooked:
			out.Kind = evidence.Looks{}
		}
	}
	switch k := out.Kind.(type) {
	case evidence.Bearing:
		k.Observer, k.Moment = o, m
		if err := w.bearing(s, &k, out); err != nil {
			return err
		}
		out.Kind = k
	case evidence.Height:
		k.Observer, k.Moment = o, m
		set(&k.HeightM, s.HeightM)
		setTo(&k.HeightSD, s.HeightSD)
		out.Kind = k
	case evidence.NothingIn:
		k.Observer, k.Moment = o, m
		if err := ground(s, &k); err != nil {
			return err
		}
		out.Kind = k
	case evidence.Looks:
		k.Observer, k.Moment = o, m
		if s.Looks != "" {
			k.Looked = s.Looks
		}
		out.Kind = k
	case evidence.Timing:
		k.Observer, k.Moment = o, m
		out.Kind = k
	default:
		return errors.New("it is no sighting")
	}
	return out.Ready()
}

// ground puts an outline into k, held to the rules for a file of such areas.
func ground(s Said, k *evidence.NothingIn) error {
	if s.Geometry == nil {
		return nil
	}
	text, err := json.Marshal(s.Geometry)
	if err == nil {
		err = k.Read(text)
	}
	if err != nil {
		return fmt.Errorf("geometry %w", err)
	}
	return nil
}

func set(to **float64, v *float64) {
	if v != nil {
		*to = v
	}
}

func setTo(to *float64, v *float64) {
	if v != nil {
		*to = *v
	}
}

// compassSD is how far off a phone's compass may be, degrees: a choice of ours;
// phones say so themselves where they can.
const compassSD = 8.0

// bearing puts a direction into k: a magnetic one is turned true where it was
// seen from.
func (w *writer) bearing(s Said, k *evidence.Bearing, out *evidence.Sighting) error {
	set(&k.ElevDeg, s.Elevation)
	setTo(&k.BearingSD, s.BearingSD)
	setTo(&k.ElevSD, s.ElevSD)
	if s.BearingD == nil {
		return nil
	}
	deg := *s.BearingD
	if !(deg >= 0 && deg <= 360) {
		return fmt.Errorf("bearing %g is not a direction; write 0 to 360 degrees", deg)
	}
	switch s.North {
	case "true":
		out.Said = ""
	case "magnetic":
		in := w.flight.Input.Flight
		p := in.Site.Pad
		if k.From != nil {
			p = orb.Point{k.From.Lon, k.From.Lat}
		}
		when := in.When
		if when.IsZero() {
			when = s.At
		}
		east, err := magnetic.Declination(p, in.Site.Elevation, when)
		if err != nil {
			return err
		}
		out.Said = strings.TrimSpace(fmt.Sprintf("%.0f magnetic", deg))
		deg = geo.NormDeg(deg + east)
		if s.BearingSD == nil && k.BearingSD == 0 {
			k.BearingSD = compassSD
		}
	default:
		return errors.New("north is not said; write true or magnetic, whichever the bearing counts from")
	}
	deg = math.Round(100*deg) / 100
	k.BearingDeg = &deg
	return nil
}

// logSighting logs a sighting, or keeps one that hangs on the ignition.
func (w *writer) logSighting(s Said) (Result, error) {
	if s.hangs() {
		return w.logTimed(s)
	}
	out := &evidence.Sighting{By: w.who.Name}
	if err := w.sighting(s, out, s.moment(evidence.Moment{})); err != nil {
		return refused(s.Key, err), nil
	}
	body, err := json.Marshal(out)
	if err != nil {
		return Result{}, err
	}
	e, err := w.addEntry(out.Kind.Entry(), w.who.Name, s.At, body)
	if err != nil {
		return Result{}, err
	}
	return Result{Key: s.Key, ID: e.ID, State: Logged}, w.say(s, e.ID, 0)
}

// logTimed keeps a sighting whose time hangs on the ignition.
func (w *writer) logTimed(s Said) (Result, error) {
	if s.Kind == kindTiming && s.Event == "" {
		return s.no("a timing without an event; write one such as burnout")
	}
	// Whatever the ignition will be, it must be possible.
	try := &evidence.Sighting{By: w.who.Name, Sure: s.Sure}
	one, m := 1.0, evidence.Moment{Event: s.Event, Heard: s.Heard}
	if m.At = &one; m.Event == lost {
		m.Event = "landing"
	}
	setTo(&m.TimeSD, s.TimeSD)
	if s.Kind == kindTiming {
		try.Kind = evidence.Timing{}
	}
	if err := w.sighting(s, try, m); err != nil {
		return refused(s.Key, err), nil
	}
	n, err := w.addNote(noteTimed, w.who.Name, s.At, timedNote{Said: s})
	if err != nil {
		return Result{}, err
	}
	t := w.state.timedOf[n.ID]
	if err := w.settleOne(t); err != nil {
		return Result{}, err
	}
	_, why, err := w.counted(t)
	if err != nil {
		why = err.Error()
	}
	return Result{Key: s.Key, ID: t.entry, State: Logged, Message: why}, w.say(s, t.entry, n.ID)
}

// amend changes what an entry says.
func (w *writer) amend(s Said) (Result, error) {
	m, err := w.meant(s)
	if err != nil {
		return refused(s.Key, err), nil
	}
	if m.timed != nil {
		return w.amendTimed(s, m.timed)
	}
	e := m.entry
	switch {
	case e == nil:
		return s.no("that cannot be amended; take it back and say it anew")
	case e.Kind == logbook.Find:
		return w.amendFind(s, *e)
	case e.Kind == logbook.Track:
		return s.no("a track cannot be amended; withdraw it")
	}
	was, ok, err := evidence.Decode(e.ID, e.By, string(e.Kind), e.Body)
	if err != nil || !ok {
		return s.no("entry %d cannot be read; withdraw it", e.ID)
	}
	if err := w.sighting(s, &was, s.moment(was.Kind.When())); err != nil {
		return refused(s.Key, err), nil
	}
	body, err := json.Marshal(was)
	if err != nil {
		return Result{}, err
	}
	if err := w.amendEntry(e.ID, w.who.Name, body); err != nil {
		return Result{}, err
	}
	return Result{Key: s.Key, ID: e.ID, State: Logged}, w.say(s, e.ID, 0)
}

// amendTimed changes a sighting that hangs on the ignition.
func (w *writer) amendTimed(s Said, t *timed) (Result, error) {
	text, err := json.Marshal(s)
	if err != nil {
		return Result{}, err
	}
	now := t.said
	if err := json.Unmarshal(text, &now); err != nil {
		return Result{}, err
	}
	now.Key, now.At, now.Kind, now.Of, now.ID = t.said.Key, t.said.At, t.said.Kind, "", 0
	was := t.said
	t.said = now
	_, why, err := w.counted(t)
	t.said = was
	if err != nil {
		return refused(s.Key, err), nil
	}
	n, err := w.addNote(noteTimed, w.who.Name, w.now, timedNote{Note: t.note, Said: now})
	if err != nil {
		return Result{}, err
	}
	if err := w.settleOne(t); err != nil {
		return Result{}, err
	}
	return Result{Key: s.Key, ID: t.entry, State: Logged, Message: why}, w.say(s, t.entry, n.ID)
}
