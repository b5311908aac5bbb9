package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/drift"
	"windfall/drift/evidence"
	"windfall/drift/logbook"
)

const sawHelp = `Logs what somebody saw, heard or measured of a flight. One call, one of:

  a bearing    --by Ana --from 39.0555,-5.5920 --bearing 047 --event ejection
               [--elevation 12] [--at 31s | --after 20s --before 60s] ("last seen" when no time is said)
               [--farther-than 300m] [--nearer-than 1km] [--radio]
  a time       --event landing --at 92s [--since ejection] [--heard --from PLACE]
  a height     --height 310m --event apogee
  nothing in   --nothing-in FILE.geojson --sure 0.8
  its looks    --looked open | --looked fast [--at 40s]

--bearing 047 is from true north, "047 mag" from magnetic. --sure is the chance that
the sighting is no mistake. --list lists, --amend ID changes the fields given,
--withdraw ID takes a sighting back; the map is always made anew from the logbook.`

func sawCommand(e env) *cli.Command {
	text := func(name, usage string) cli.Flag { return &cli.StringFlag{Name: name, Usage: usage} }
	yes := func(name, usage string) cli.Flag { return &cli.BoolFlag{Name: name, Usage: usage} }
	return &cli.Command{
		Name: "saw", Usage: "log what was seen of a lost flight", ArgsUsage: "FLIGHT", Description: sawHelp,
		Flags: []cli.Flag{
			text("by", "who saw it"),
			text("from", "where they stood: any form of a place"),
			text("bearing", "degrees true, or magnetic: \"047 mag\""),
			text("elevation", "degrees above the horizontal"),
			text("at", "time after ignition: 31s"),
			text("after", "not before this time"),
			text("before", "not after this time"),
			text("event", "burnout, apogee, ejection, opening or landing"),
			text("since", "the event that times count from (default: ignition)"),
			text("bearing-sd", "degrees (default 3; by radio 8)"),
			text("elevation-sd", "degrees (default 3)"),
			text("time-sd", "default 1s"),
			text("height", "height above the pad: 310m"),
			text("height-sd", "default 3 %, at least 5 m"),
			text("farther-than", "at least this far from the observer"),
			text("nearer-than", "at most this far from the observer"),
			text("eye", "height of the observer's eyes above the pad (default: 1.7 m above the ground)"),
			yes("radio", "a bearing by a directional receiver"),
			yes("heard", "the time is when it was heard at --from"),
			text("looked", "open or fast"),
			text("nothing-in", "GeoJSON file of ground where it is not"),
			text("sure", "chance from 0 to 1 that this is no mistake"),
			text("note", "any words"),
			&cli.Int64Flag{Name: "amend", Usage: "change the fields given of this entry"},
			&cli.Int64Flag{Name: "withdraw", Usage: "take this entry back"},
			yes("list", "list what is logged"),
			yes("anyway", "log it even where no simulated flight comes near"),
			seedFlag(), jsonFlag(), logbookFlag(),
		},
		Action: func(c *cli.Context) error { return saw(e, c) },
	}
}

func saw(e env, c *cli.Context) error {
	f, m, err := loadFlight(c)
	if err != nil {
		return err
	}
	modes := 0
	for _, n := range []string{"amend", "withdraw", "list"} {
		if c.IsSet(n) {
			modes++
		}
	}
	if modes > 1 {
		return wrongf("--amend, --withdraw and --list exclude each other; give one")
	}
	if c.Bool("list") {
		return sawList(e, c, f)
	}
	if id := c.Int64("withdraw"); c.IsSet("withdraw") {
		return sawChange(e, c, f, func(b *logbook.Book) (logbook.Entry, error) {
			if _, err := own(b, f, id); err != nil {
				return logbook.Entry{}, err
			}
			return b.Withdraw(id, c.String("by"), e.now())
		})
	}
	return sawChange(e, c, f, func(b *logbook.Book) (logbook.Entry, error) { return sawAdd(e, c, f, m, b) })
}

// sawAdd reads the flags over what is there (amend) or nothing, and logs it.
func sawAdd(e env, c *cli.Context, f *flightfile.File, m *drift.Model, b *logbook.Book) (logbook.Entry, error) {
	var s evidence.Sighting
	id := c.Int64("amend")
	by := c.String("by")
	if c.IsSet("amend") {
		old, err := own(b, f, id)
		if err != nil {
			return old, err
		}
		var ok bool
		if s, ok, err = evidence.Decode(id, old.By, string(old.Kind), old.Body); err != nil || !ok {
			return old, wrongf("entry %d is a %s, which saw cannot amend", id, old.Kind)
		}
		if by == "" {
			by = old.By
		}
	}
	kind := s.Kind
	if err := readSighting(c, f, &s); err != nil {
		return logbook.Entry{}, wrong{err}
	}
	if c.IsSet("amend") && s.Kind.Name() != kind.Name() {
		return logbook.Entry{}, wrongf("entry %d is a %s and cannot become a %s: withdraw it and log a new one", id, kind.Name(), s.Kind.Name())
	}
	if err := s.Ready(); err != nil {
		return logbook.Entry{}, wrongf("%w", err)
	}
	caution, err := evidence.Check(c.Context, m, s, evidence.Options{Seed: c.Uint64("seed")})
	var cannot *evidence.OutOfReach
	switch {
	case errors.As(err, &cannot) && c.Bool("anyway"):
		caution = cannot.Error()
	case err != nil && !errors.As(err, &cannot):
		return logbook.Entry{}, wrong{err}
	case err != nil:
		return logbook.Entry{}, wrongf("%w; --anyway logs it all the same", err)
	}
	if caution != "" {
		fmt.Fprintln(e.err, "caution:", caution)
	}
	body, err := json.Marshal(s)
	if err != nil {
		return logbook.Entry{}, err
	}
	if c.IsSet("amend") {
		return b.Amend(id, by, e.now(), body)
	}
	in, err := inputsOf(f, e.now(), c.Uint64("seed"), 0, f.Learned.ID)
	if err != nil {
		return logbook.Entry{}, err
	}
	out, err := b.Add(in, logbook.Entry{Flight: f.Flight.ID, Kind: logbook.Kind(s.Kind.Entry()), By: by, When: e.now(), Body: body})
	if err != nil {
		return logbook.Entry{}, err
	}
	return out[0], nil
}

// sawChange opens the logbook, makes one change and answers with the entry.
func sawChange(e env, c *cli.Context, f *flightfile.File, change func(*logbook.Book) (logbook.Entry, error)) (err error) {
	b, err := logbook.Open(logbookPath(e, c))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	entry, err := change(b)
	if err != nil {
		return err
	}
	if c.Bool("json") {
		return writeJSON(e.out, entry)
	}
	if entry.Withdrawn {
		_, err = fmt.Fprintf(e.out, "withdrew %d: %s\n", entry.ID, sightingLine(entry))
		return err
	}
	_, err = fmt.Fprintf(e.out, "logged %d: %s\nnext: windfall locate %s\n", entry.ID, sightingLine(entry), f.Path)
	return err
}

// own returns the flight's live evidence entry of that id, or says what there is.
func own(b *logbook.Book, f *flightfile.File, id int64) (logbook.Entry, error) {
	all, err := b.Entries(logbook.Query{Flight: f.Flight.ID, Withdrawn: true})
	if err != nil {
		return logbook.Entry{}, err
	}
	var ids []string
	for _, x := range all {
		switch {
		case x.ID != id:
			if !x.Withdrawn {
				ids = append(ids, fmt.Sprint(x.ID))
			}
		case x.Withdrawn:
			return x, wrongf("entry %d is withdrawn already", id)
		case x.Kind == logbook.Track || x.Kind == logbook.Find:
			return x, wrongf("entry %d is a %s, not a sighting", id, x.Kind)
		default:
			return x, nil
		}
	}
	have := "it has none"
	if len(ids) > 0 {
		have = "it has " + strings.Join(ids, ", ")
	}
	return logbook.Entry{}, wrongf("flight %s has no entry %d; %s", f.Flight.ID, id, have)
}

func sawList(e env, c *cli.Context, f *flightfile.File) (err error) {
	b, err := logbook.OpenRead(logbookPath(e, c))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	all, err := b.Entries(logbook.Query{Flight: f.Flight.ID, Kinds: []logbook.Kind{logbook.Sighting, logbook.Timing, logbook.Height, logbook.NothingIn}})
	if err != nil {
		return err
	}
	if c.Bool("json") {
		if all == nil {
			all = []logbook.Entry{}
		}
		return writeJSON(e.out, map[string]any{"entries": all})
	}
	if len(all) == 0 {
		_, err = fmt.Fprintf(e.out, "nothing logged for %s\n", f.Flight.ID)
		return err
	}
	for _, x := range all {
		if _, err := fmt.Fprintf(e.out, "%4d  %s\n", x.ID, sightingLine(x)); err != nil {
			return err
		}
	}
	return nil
}

// sightingLine says an entry in one line.
func sightingLine(x logbook.Entry) string {
	s, ok, err := evidence.Decode(x.ID, x.By, string(x.Kind), x.Body)
	if err != nil || !ok {
		return string(x.Kind)
	}
	return s.String()
}
