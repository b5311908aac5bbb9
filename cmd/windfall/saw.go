package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/drift"
	"windfall/drift/evidence"
	"windfall/drift/logbook"
	"windfall/geo"
	"windfall/geo/magnetic"
	"windfall/geo/place"
	"windfall/geo/quantity"
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
	if c.IsSet("amend") && s.Kind != kind {
		return logbook.Entry{}, wrongf("entry %d is a %s and cannot become a %s: withdraw it and log a new one", id, kind, s.Kind)
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
	kept := logbook.Kind(s.Kind)
	if s.Kind == evidence.Bearing || s.Kind == evidence.Looks {
		kept = logbook.Sighting
	}
	in, err := inputsOf(f, e.now(), c.Uint64("seed"), 0, f.Learned.ID)
	if err != nil {
		return logbook.Entry{}, err
	}
	out, err := b.Add(in, logbook.Entry{Flight: f.Flight.ID, Kind: kept, By: by, When: e.now(), Body: body})
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

// readSighting puts the flags that are set into s and settles its kind.
func readSighting(c *cli.Context, f *flightfile.File, s *evidence.Sighting) error {
	r := &sightingFlags{c: c}
	if c.IsSet("from") {
		p := r.place("from")
		s.From = &p
		s.From.East, s.From.North = 0, 0
		if r.err == nil {
			*s.From = f.Frame.Place(f.Frame.ToXY(orb.Point{p.Lon, p.Lat}))
			s.From.Lat, s.From.Lon = p.Lat, p.Lon
		}
	}
	r.optional("elevation", quantity.Angle, &s.ElevDeg)
	r.optional("at", quantity.Time, &s.At)
	r.optional("after", quantity.Time, &s.After)
	r.optional("before", quantity.Time, &s.Before)
	r.optional("height", quantity.Length, &s.HeightM)
	r.optional("farther-than", quantity.Length, &s.FartherThan)
	r.optional("nearer-than", quantity.Length, &s.NearerThan)
	r.optional("eye", quantity.Length, &s.EyeM)
	r.positive("bearing-sd", quantity.Angle, &s.BearingSD)
	r.positive("elevation-sd", quantity.Angle, &s.ElevSD)
	r.positive("time-sd", quantity.Time, &s.TimeSD)
	r.positive("height-sd", quantity.Length, &s.HeightSD)
	for name, to := range map[string]*string{"event": &s.Event, "since": &s.Since, "looked": &s.Looked, "note": &s.Note} {
		if c.IsSet(name) {
			*to = strings.TrimSpace(strings.ToLower(c.String(name)))
		}
	}
	if c.IsSet("note") {
		s.Note = c.String("note")
	}
	if c.IsSet("radio") {
		s.Radio = c.Bool("radio")
	}
	if c.IsSet("heard") {
		s.Heard = c.Bool("heard")
	}
	if c.IsSet("sure") {
		v, err := quantity.Parse(c.String("sure"), quantity.Ratio)
		r.keep("sure", err)
		s.Sure = &v
	}
	if c.IsSet("at") {
		s.After, s.Before = nil, nil
	} else if c.IsSet("after") || c.IsSet("before") {
		s.At = nil
	}
	if c.IsSet("bearing") && r.err == nil {
		s.BearingDeg, s.Said = nil, ""
		b, said, err := parseBearing(c.String("bearing"), s.From, f)
		r.keep("bearing", err)
		s.BearingDeg, s.Said = &b, said
	}
	if c.IsSet("nothing-in") && r.err == nil {
		g, err := readAreas(c.String("nothing-in"))
		r.keep("nothing-in", err)
		s.Geometry = g
	}
	if r.err != nil {
		return r.err
	}
	return settleKind(s)
}

// settleKind says what the sighting is from what it has.
func settleKind(s *evidence.Sighting) error {
	var is []string
	for _, k := range []struct {
		has  bool
		flag string
		kind evidence.Kind
	}{
		{s.BearingDeg != nil, "--bearing", evidence.Bearing},
		{s.HeightM != nil, "--height", evidence.Height},
		{s.Geometry != nil, "--nothing-in", evidence.NothingIn},
		{s.Looked != "", "--looked", evidence.Looks},
	} {
		if k.has {
			is = append(is, k.flag)
			s.Kind = k.kind
		}
	}
	switch {
	case len(is) > 1:
		return fmt.Errorf("%s are sightings of their own: log them one at a time", strings.Join(is, " and "))
	case len(is) == 1:
		return nil
	case s.ElevDeg != nil:
		return errors.New("--elevation needs --from and --bearing with it")
	case s.Event != "" || s.At != nil || s.After != nil || s.Before != nil:
		s.Kind = evidence.Timing
		return nil
	}
	return errors.New("nothing to log; give --bearing with --from, --event with --at, --height with --event, --nothing-in or --looked (or --list, --amend, --withdraw)")
}

// sightingFlags reads flags and keeps the first error.
type sightingFlags struct {
	c   *cli.Context
	err error
}

func (r *sightingFlags) keep(flag string, err error) {
	if r.err == nil && err != nil {
		r.err = fmt.Errorf("--%s: %w", flag, err)
	}
}

// number reads a quantity; angles may be bare numbers, in degrees.
func (r *sightingFlags) number(flag string, k quantity.Kind) float64 {
	s := strings.TrimSpace(r.c.String(flag))
	if k == quantity.Angle && strings.Trim(s, "0123456789.+-") == "" && s != "" {
		s += " deg"
	}
	v, err := quantity.Parse(s, k)
	r.keep(flag, err)
	return v
}

func (r *sightingFlags) optional(flag string, k quantity.Kind, to **float64) {
	if r.c.IsSet(flag) {
		v := r.number(flag, k)
		*to = &v
	}
}

func (r *sightingFlags) positive(flag string, k quantity.Kind, to *float64) {
	if !r.c.IsSet(flag) {
		return
	}
	if *to = r.number(flag, k); r.err == nil && !(*to > 0) {
		r.keep(flag, fmt.Errorf("%q is not above zero: nobody measures without error; give the standard deviation", r.c.String(flag)))
	}
}

func (r *sightingFlags) place(flag string) geo.Place {
	p, err := place.Parse(r.c.String(flag))
	r.keep(flag, err)
	return geo.Place{Lat: p.Lat(), Lon: p.Lon()}
}

// parseBearing reads "047", "047 deg" or "047 mag" into degrees true; said is
// the text where it was magnetic.
func parseBearing(text string, from *geo.Place, f *flightfile.File) (deg float64, said string, err error) {
	s := strings.ToLower(strings.TrimSpace(text))
	mag := false
	for _, w := range []string{"magnetic", "mag", "true"} {
		if t, ok := strings.CutSuffix(s, w); ok {
			s, mag = strings.TrimSpace(t), w != "true"
			break
		}
	}
	if strings.Trim(s, "0123456789.+-") == "" && s != "" {
		s += " deg"
	}
	if deg, err = quantity.Parse(s, quantity.Angle); err != nil {
		return 0, "", err
	}
	if deg < 0 || deg > 360 {
		return 0, "", fmt.Errorf("%q is not a bearing: give degrees clockwise from north, 0 to 360", text)
	}
	if !mag {
		return deg, "", nil
	}
	p := f.Flight.Site.Pad
	if from != nil {
		p = orb.Point{from.Lon, from.Lat}
	}
	d, err := magnetic.Declination(p, f.Flight.Site.Elevation, f.Flight.When)
	if err != nil {
		return 0, "", err
	}
	return geo.NormDeg(deg + d), strings.TrimSpace(text), nil
}

const mostAreaBytes = 4 << 20

// readAreas reads the polygons of a GeoJSON file as one geometry.
func readAreas(path string) (*geojson.Geometry, error) {
	st, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("%s: cannot be read; give a GeoJSON file with polygons", path)
	}
	if st.Size() > mostAreaBytes {
		return nil, fmt.Errorf("%s: is larger than 4 MiB: not a hand-drawn area", path)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	area, err := evidence.ReadAreas(data)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return geojson.NewGeometry(area), nil
}
