package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/outdir"
	"windfall/geo/mapfile"
	"windfall/geo/place"
	"windfall/geo/quantity"
	"windfall/search"
)

const exportHelp = `Makes the plan that windfall search makes of the same flight, logbook, seed and
planning flags, and writes its files the way they are wanted:

  windfall export flight.yaml --for east            one searcher's files alone
  windfall export flight.yaml --format gpx --tracks tracks, for apps that ignore routes
  windfall export flight.yaml --format sheet --pace "75 cm" --call "base 555-0100"`

func exportCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "export", Usage: "the search plan's files for one searcher, in other formats or grids", ArgsUsage: "FLIGHT",
		Description: exportHelp,
		Flags: append([]cli.Flag{
			&cli.StringFlag{Name: "for", Usage: "only this searcher's legs; the files carry the name"},
			&cli.StringSliceFlag{Name: "format", Usage: "of " + strings.Join(mapfile.Formats(), ", ") + " (default: those of windfall search)"},
			&cli.StringFlag{Name: "grid", Usage: "of places on paper: utm, mgrs, bng, deg-min or deg-min-sec (default: the country's)"},
			&cli.BoolFlag{Name: "tracks", Usage: "GPX tracks in place of routes"},
			&cli.StringFlag{Name: "pace", Usage: "length of a pace, such as 75 cm: the sheet counts them"},
			&cli.StringFlag{Name: "paper", Value: "a4", Usage: "a4 or letter"},
			&cli.StringFlag{Name: "qr", Value: "geo", Usage: "what the sheet's codes hold: geo, a link to the first search leg, or list, every turning point"},
			&cli.StringSliceFlag{Name: "call", Usage: "a line of whom to call, on the sheet; may be repeated"},
			jsonFlag(), seedFlag(), outFlag(), runsFlag(), logbookFlag(), noLearningFlag(),
		}, planFlags()...),
		Action: func(c *cli.Context) error { return export(c, e) },
	}
}

// exportResult is the JSON of export.
type exportResult struct {
	Flight   string   `json:"flight"`
	Seed     uint64   `json:"seed"`
	Searcher string   `json:"searcher,omitempty"`
	Grid     string   `json:"grid"`
	Files    []string `json:"files"`
}

func export(c *cli.Context, e env) error {
	o, pace, err := exportOptions(c)
	if err != nil {
		return err
	}
	s, err := located(c, e)
	if err != nil {
		return err
	}
	if o.Grid, err = gridAt(s.file.Frame.Origin, o.Grid); err != nil {
		return err
	}
	if err := s.knows(c.String("for")); err != nil {
		return err
	}
	l, err := s.planned(c, pace)
	if err != nil {
		return err
	}
	r := exportResult{Flight: s.file.Flight.ID, Seed: c.Uint64("seed"), Searcher: c.String("for"), Grid: o.Grid.String()}
	if r.Files, err = exportFiles(c, s, l, o); err != nil {
		return err
	}
	if c.Bool("json") {
		return writeJSON(e.out, r)
	}
	p := &printer{w: e.out}
	p.list("wrote", r.Files)
	return p.err
}

// exportOptions reads the flags before any work is done.
func exportOptions(c *cli.Context) (o mapfile.Options, pace float64, err error) {
	o = mapfile.Options{Tracks: c.Bool("tracks")}
	for _, f := range c.StringSlice("format") {
		f = strings.TrimSpace(f)
		if !slices.Contains(mapfile.Formats(), f) {
			return o, 0, wrongf("--format %q is not known; write %s", f, strings.Join(mapfile.Formats(), ", "))
		}
		o.Formats = append(o.Formats, f)
	}
	if o.Tracks && o.Formats != nil && !slices.Contains(o.Formats, "gpx") {
		return o, 0, wrongf("--tracks is about GPX, which --format leaves out; add --format gpx")
	}
	if g := c.String("grid"); g != "" {
		if o.Grid, err = place.StyleOf(g); err != nil || o.Grid == place.Decimal {
			return o, 0, wrongf("--grid %q is not a grid; write utm, mgrs, bng, deg-min or deg-min-sec (decimal degrees are on every sheet)", g)
		}
	}
	if text := c.String("pace"); text != "" {
		if pace, err = quantity.Parse(text, quantity.Length); err != nil {
			return o, 0, wrongf("--pace: %w", err)
		}
		if pace < 0.3 || pace > 2.5 {
			return o, 0, wrongf("--pace %q is not a pace; write the length of one step, 0.3 m to 2.5 m", text)
		}
	}
	switch p := c.String("paper"); p {
	case "a4":
	case "letter":
		o.Letter = true
	default:
		return o, 0, wrongf("--paper %q is not known; write a4 or letter", p)
	}
	switch q := c.String("qr"); q {
	case "geo":
	case "list":
		o.QRList = true
	default:
		return o, 0, wrongf("--qr %q is not known; write geo or list", q)
	}
	return o, pace, nil
}

// gridAt refuses a grid that does not reach the pad, and takes the country's
// where none was asked for.
func gridAt(pad [2]float64, g place.Style) (place.Style, error) {
	if g == place.Decimal {
		return place.Local(pad), nil
	}
	if g == place.BNG && place.GridAt(pad, g).Name != place.GridAt([2]float64{-2, 52}, g).Name {
		return g, wrongf("--grid bng does not reach the pad, %s; write utm or mgrs", place.Format(pad, place.Decimal))
	}
	return g, nil
}

// knows says at once when nobody in the flight file has the name.
func (s *situation) knows(name string) error {
	who := s.file.Searchers
	if len(who) == 0 {
		who = []search.Searcher{oneWalker}
	}
	var names []string
	for _, w := range who {
		names = append(names, w.Name)
	}
	if name == "" || slices.Contains(names, name) {
		return nil
	}
	return wrongf("--for %q: no searcher has that name; write one of %s", name, strings.Join(names, ", "))
}

// planned is the map with its plan.
func (s *situation) planned(c *cli.Context, pace float64) (*mapfile.Landing, error) {
	plan, err := s.plan(c)
	if err != nil {
		return nil, err
	}
	r, err := s.summarise()
	if err != nil {
		return nil, err
	}
	r.Cautions = append(r.Cautions, plan.Cautions...)
	l := s.layers(r)
	if err := s.planLayers(l, plan); err != nil {
		return nil, err
	}
	l.Contacts = c.StringSlice("call")
	for i := range l.Plan.Searchers {
		if w := &l.Plan.Searchers[i]; w.Kind == string(search.Walker) {
			w.Pace = pace
		}
	}
	return l, nil
}

// exportFiles writes the files, all or none; those of one searcher carry the
// name: search-east.gpx, sheet-east.html.
func exportFiles(c *cli.Context, s *situation, l *mapfile.Landing, o mapfile.Options) ([]string, error) {
	suffix := ""
	if name := c.String("for"); name != "" {
		var err error
		if l, err = l.Only(name); err != nil {
			return nil, err
		}
		l.Title = fmt.Sprintf("%s: %s", l.Title, name)
		suffix = "-" + flightfile.Slug(name)
	}
	files, err := mapfile.Files(l, o)
	if err != nil {
		return nil, err
	}
	set := outdir.Open(outFolder(c, s.file))
	defer set.Discard()
	for _, f := range files {
		base, ext, _ := strings.Cut(f.Name, ".")
		if err := set.Bytes(base+suffix+"."+ext, f.Data); err != nil {
			return nil, err
		}
	}
	if err := c.Context.Err(); err != nil {
		return nil, err
	}
	return set.Commit()
}
