package main

import (
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/adrg/xdg"
	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/outdir"
	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/situation"
	"windfall/cmd/windfall/internal/underlay"
	"windfall/cmd/windfall/internal/usage"
	"windfall/geo/quantity"
	"windfall/search"
	"windfall/search/detect"
)

// texts is a flag that may be given more than once; a comma is part of it.
type texts []string

func (t *texts) Set(s string) error { *t = append(*t, s); return nil }
func (t *texts) String() string     { return strings.Join(*t, " ") }
func (t *texts) Get() any           { return t.String() }

// words are flags that take a text; the help pages say what they mean.
func words(names ...string) (out []cli.Flag) {
	for _, n := range names {
		out = append(out, &cli.StringFlag{Name: n})
	}
	return out
}

// switches are flags that are there or not.
func switches(names ...string) (out []cli.Flag) {
	for _, n := range names {
		out = append(out, &cli.BoolFlag{Name: n})
	}
	return out
}

// entries are flags that take the number of a logbook entry.
func entries(names ...string) (out []cli.Flag) {
	for _, n := range names {
		out = append(out, &cli.Int64Flag{Name: n})
	}
	return out
}

// lists are flags that may be given more than once, or with commas.
func lists(names ...string) (out []cli.Flag) {
	for _, n := range names {
		out = append(out, &cli.StringSliceFlag{Name: n})
	}
	return out
}

// Flags that more than one command has.
func jsonFlag() cli.Flag { return &cli.BoolFlag{Name: "json"} }
func seedFlag() cli.Flag { return &cli.Uint64Flag{Name: "seed", Value: 1} }
func outFlag() cli.Flag  { return &cli.StringFlag{Name: "out"} }

// flightFlags name what is read of a flight.
func flightFlags() []cli.Flag { return append(words("logbook"), switches("no-learning")...) }

// readSource reads the flags of flightFlags.
func readSource(e env, c *cli.Context, flight string) record.Source {
	return record.Source{Flight: flight, Logbook: readLogbook(e, c), NoLearning: c.Bool("no-learning")}
}

// readLogbook is --logbook, else $WINDFALL_LOGBOOK, else the user's data folder.
func readLogbook(e env, c *cli.Context) string {
	if p := c.String("logbook"); p != "" {
		return p
	}
	if p := e.getenv("WINDFALL_LOGBOOK"); p != "" {
		return p
	}
	return filepath.Join(xdg.DataHome, "windfall", "logbook.db")
}

// readStamp says who logs something, and when.
func readStamp(e env, c *cli.Context) record.Stamp {
	return record.Stamp{By: c.String("by"), Now: e.now(), Version: version, Seed: c.Uint64("seed")}
}

// mapFlags are those that change the map before launch; every command that
// makes it has them.
func mapFlags() []cli.Flag {
	return append(flightFlags(), seedFlag(), &cli.StringFlag{Name: "runs", Value: "auto"})
}

// locateFlags are those that change the map after sightings; every command that
// makes it has them.
func locateFlags() []cli.Flag {
	return append(mapFlags(), switches("divided")...)
}

const maxRuns = 5_000_000 // a GB or so of landings

// readMap reads the flags of mapFlags and locateFlags.
func readMap(e env, c *cli.Context) (situation.Options, error) {
	o := situation.Options{Seed: c.Uint64("seed"), Divided: c.Bool("divided"), Progress: e.stages()}
	s := c.String("runs")
	if s == "auto" || s == "" {
		return o, nil
	}
	var err error
	if o.Runs, err = strconv.Atoi(s); err != nil || o.Runs < 100 || o.Runs > maxRuns {
		return o, usage.Errorf("--runs %q is not a number of runs; write 100 to %d, or auto", s, maxRuns)
	}
	return o, nil
}

func readLaw(c *cli.Context) (detect.Law, error) {
	law, err := detect.Parse(c.String("detection"))
	if err != nil {
		return "", usage.Errorf("--detection: %w", err)
	}
	return law, nil
}

// planFlags are those that change a plan; every command that makes one has
// them.
func planFlags() []cli.Flag {
	return append(words("pattern", "detection", "begin", "blocks"), switches("after-dark", "abreast")...)
}

// changeFlags say what happened while a plan was carried out.
func changeFlags() []cli.Flag { return append(words("replan-at"), lists("leaves", "late", "joins")...) }

// readPlan reads the flags of planFlags and changeFlags for a flight.
func readPlan(c *cli.Context, in situation.Input) (o situation.PlanOptions, err error) {
	o = situation.PlanOptions{Seed: c.Uint64("seed"), Pattern: search.Pattern(c.String("pattern")),
		AfterDark: c.Bool("after-dark"), Abreast: c.Bool("abreast")}
	if o.Blocks, err = readBlocks(c.String("blocks")); err != nil {
		return o, err
	}
	switch o.Pattern {
	case "", search.ExpandingSquare, search.Parallel, search.Sector:
	default:
		return o, usage.Errorf("--pattern %q is not known; write expanding-square, parallel or sector", o.Pattern)
	}
	if o.Law, err = readLaw(c); err != nil {
		return o, err
	}
	if text := c.String("begin"); text != "" {
		if o.Begin, err = parseBegin(text, in.Flight.When); err != nil {
			return o, err
		}
	}
	o.Change, err = readChange(c, in)
	return o, err
}

const mostBlocks = 12

// readBlocks reads the number of blocks of a walker; 0 where none is given.
func readBlocks(text string) (int, error) {
	if text == "" {
		return 0, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 || n > mostBlocks {
		return 0, usage.Errorf("--blocks %q is not a number of blocks a walker can keep in mind; write 1 to %d", text,
			mostBlocks)
	}
	return n, nil
}

// parseBegin reads a time, or an hour and minute of the day of ignition.
func parseBegin(text string, when time.Time) (time.Time, error) {
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t, nil
	}
	if t, err := time.Parse("15:04", text); err == nil && !when.IsZero() {
		return time.Date(when.Year(), when.Month(), when.Day(), t.Hour(), t.Minute(), 0, 0, when.Location()), nil
	}
	return time.Time{}, usage.Errorf("--begin %q is not a time; write one such as 2026-03-14T11:00:00+01:00, or 11:00 "+
		"on the day of the flight", text)
}

// readChange reads the flags of a change; nil when none is asked for.
func readChange(c *cli.Context, in situation.Input) (*situation.Change, error) {
	if !c.IsSet("replan-at") {
		for _, n := range []string{"leaves", "late", "joins"} {
			if c.IsSet(n) {
				return nil, usage.Errorf("--%s needs the time of the change: --replan-at 35min", n)
			}
		}
		return nil, nil
	}
	at, err := quantity.Parse(c.String("replan-at"), quantity.Time)
	if err != nil {
		return nil, usage.Errorf("--replan-at: %w", err)
	}
	ch := &situation.Change{At: at, Late: map[string]float64{}}
	if ch.Leaves, err = readNames(c, "leaves", in); err != nil {
		return nil, err
	}
	if ch.Joins, err = readNames(c, "joins", in); err != nil {
		return nil, err
	}
	for _, text := range c.StringSlice("late") {
		name, by, ok := parseLate(text, in)
		if !ok {
			return nil, usage.Errorf("--late %q; write a searcher and a time, such as \"%s 10 min\"", text, in.Who()[0].Name)
		}
		ch.Late[name] = by
	}
	return ch, nil
}

// readNames reads searchers' names, in any case of letters.
func readNames(c *cli.Context, flag string, in situation.Input) (names []string, err error) {
	for _, text := range c.StringSlice(flag) {
		name, err := readName(flag, text, in)
		if err != nil {
			return nil, err
		}
		names = append(names, name)
	}
	return names, nil
}

func readName(flag, text string, in situation.Input) (string, error) {
	name, ok := in.Named(text)
	if ok {
		return name, nil
	}
	var known []string
	for _, w := range in.Who() {
		known = append(known, w.Name)
	}
	return "", usage.Errorf("--%s %q: no searcher has that name; write one of %s", flag, text, strings.Join(known, ", "))
}

// parseLate reads "west 10 min".
func parseLate(text string, in situation.Input) (name string, by float64, ok bool) {
	for _, w := range in.Who() {
		n := len(w.Name)
		if len(text) <= n || text[n] != ' ' || !strings.EqualFold(text[:n], w.Name) {
			continue
		}
		v, err := quantity.Parse(strings.TrimSpace(text[n:]), quantity.Time)
		return w.Name, v, err == nil && v >= 0
	}
	return "", 0, false
}

// filesFlags say where files go.
func filesFlags() []cli.Flag { return append(words("landings", "base", "base-credit"), outFlag()) }

// fileOptions say where files go.
type fileOptions struct {
	dir      string // "": out beside the flight file
	landings string // CSV of every landing; "": none

	base, credit string // base map under the pictures, and whose it is; "": none
}

func readFiles(c *cli.Context) fileOptions {
	return fileOptions{dir: c.String("out"), landings: c.String("landings"), base: c.String("base"),
		credit: c.String("base-credit")}
}

// in is the folder for the map files of a flight file at path.
func (o fileOptions) in(path string) string {
	if o.dir != "" {
		return o.dir
	}
	return filepath.Join(filepath.Dir(path), "out")
}

// open refuses, before any work, what could not be written after it, and opens
// the base map of a flight, which the caller closes.
func (o fileOptions) open(f *record.Flight) (*underlay.Map, error) {
	var names []string
	if o.landings != "" {
		names = []string{o.landings}
	}
	if err := outdir.Check(o.in(f.File.Path), names...); err != nil {
		return nil, usage.Mark(err)
	}
	key, path := "--base", o.base
	switch path {
	case "":
		key, path = "site.map", f.File.Map
	case "none":
		path = ""
	}
	return underlay.Open(key, path, o.credit, f.Input.Flight.Site.Pad)
}
