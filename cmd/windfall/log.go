package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/show"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/logbook"
)

func logCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "log", Usage: "list flights, sightings, tracks and finds; keep the logbook", ArgsUsage: "[FLIGHT]",
		Flags: append(slices.Concat(words("logbook", "by", "since", "until", "import", "as", "into", "backup", "salvage"),
			lists("kind"), []cli.Flag{&cli.GenericFlag{Name: "set", Value: &texts{}}},
			switches("withdrawn", "csv", "geojson", "check"), entries("withdraw", "amend", "extract")), jsonFlag()),
		Action: func(c *cli.Context) error {
			q, err := readLog(e, c)
			if err != nil {
				return err
			}
			return q.act(e)
		},
	}
}

// logRequest is what log is asked for: one act on a logbook.
type logRequest struct {
	path   string // of the logbook
	query  logbook.Query
	format string // csv, geojson or json; "": for people
	text   string // value of the act's flag
	id     int64  // or its number
	into   string
	set    []string
	by     string // who withdraws or amends
	json   bool
	do     func(logRequest, env) error
}

func (q logRequest) act(e env) error { return q.do(q, e) }

func readLog(e env, c *cli.Context) (q logRequest, err error) {
	q = logRequest{path: readLogbook(e, c), json: c.Bool("json"), into: c.String("into"), set: *c.Generic("set").(*texts),
		by: c.String("as"), do: logList}
	acts := []struct {
		flag string
		do   func(logRequest, env) error
	}{
		{"check", logCheck}, {"backup", logBackup}, {"salvage", logSalvage}, {"import", logImport},
		{"withdraw", logWithdraw}, {"amend", logAmend}, {"extract", logExtract}, {"csv", logList}, {"geojson", logList},
	}
	var chosen []string
	for _, a := range acts {
		if c.IsSet(a.flag) {
			chosen, q.do = append(chosen, "--"+a.flag), a.do
			q.text, q.id = c.String(a.flag), c.Int64(a.flag)
		}
	}
	if len(chosen) > 1 {
		return q, usage.Errorf("%s do not go together; give one of them", strings.Join(chosen, " and "))
	}
	if c.IsSet("set") && !c.IsSet("amend") {
		return q, usage.Errorf("--set is for --amend; name the entry, such as --amend 3 --set bearing_deg=74")
	}
	for _, f := range []string{"json", "csv", "geojson"} {
		if c.Bool(f) {
			q.format = f
		}
	}
	if len(chosen) == 0 || c.Bool("csv") || c.Bool("geojson") {
		q.query, err = readLogQuery(c)
	}
	return q, err
}

// readLogQuery reads the flags that choose entries.
func readLogQuery(c *cli.Context) (logbook.Query, error) {
	q := logbook.Query{By: c.String("by"), Withdrawn: c.Bool("withdrawn")}
	if c.NArg() > 1 {
		return q, usage.Errorf("windfall log takes one flight, not %d (%s)", c.NArg(), strings.Join(c.Args().Slice(), " "))
	}
	if c.NArg() == 1 {
		var err error
		if q.Flight, err = flightID(c.Args().First()); err != nil {
			return q, err
		}
	}
	for _, k := range c.StringSlice("kind") {
		if !slices.Contains(logbook.Kinds, logbook.Kind(k)) {
			return q, usage.Errorf("--kind %q; write sighting, timing, height, nothing-in, track, find or measured", k)
		}
		q.Kinds = append(q.Kinds, logbook.Kind(k))
	}
	for name, t := range map[string]*time.Time{"since": &q.Since, "until": &q.Until} {
		s := c.String(name)
		if s == "" {
			continue
		}
		var err error
		if *t, err = time.Parse(time.RFC3339, s); err != nil {
			*t, err = time.ParseInLocation("2006-01-02", s, time.Local)
		}
		if err != nil {
			return q, usage.Errorf("--%s %q; write a day or a time, such as 2026-03-14 or 2026-03-14T10:30:00Z", name, s)
		}
	}
	return q, nil
}

// flightID returns the id of a flight file, or arg itself where there is none.
func flightID(arg string) (string, error) {
	if _, err := os.Stat(arg); err != nil && !strings.ContainsAny(arg, `/\`) {
		return arg, nil
	}
	f, err := flightfile.Read(arg)
	if err != nil {
		return "", usage.Mark(err)
	}
	return f.Flight.ID, nil
}

func logList(q logRequest, e env) error {
	b, err := logbook.OpenRead(q.path)
	if err != nil {
		return err
	}
	defer b.Close()
	w := bufio.NewWriter(e.out)
	if err := record.List(w, b, q.query, q.format); err != nil {
		return err
	}
	return w.Flush()
}

func logCheck(q logRequest, e env) error {
	problems, err := logbook.Check(q.path)
	if err != nil {
		return err
	}
	if q.json {
		if problems == nil {
			problems = []string{}
		}
		err = show.JSON(e.out, map[string]any{"sound": len(problems) == 0, "problems": problems})
	} else {
		err = show.Sound(e.out, q.path, problems)
	}
	if err == nil && len(problems) > 0 {
		err = fmt.Errorf("%s is not sound (%d problems)", q.path, len(problems))
	}
	return err
}

func logBackup(q logRequest, e env) error {
	b, err := logbook.OpenRead(q.path)
	if err != nil {
		return err
	}
	defer b.Close()
	if err := b.Backup(q.text); err != nil {
		return err
	}
	if q.json {
		return show.JSON(e.out, map[string]string{"backup": q.text})
	}
	fmt.Fprintf(e.out, "%s holds the whole logbook; to restore, copy it to %s\n", q.text, q.path)
	return nil
}

func logSalvage(q logRequest, e env) error {
	kept, lost, err := logbook.Salvage(q.path, q.text)
	if err != nil {
		return err
	}
	if q.json {
		return show.JSON(e.out, map[string]int{"kept": kept, "lost": lost})
	}
	fmt.Fprintf(e.out, "%d entries read and written to %s, %d could not be read\n", kept, q.text, lost)
	return nil
}

func logImport(q logRequest, e env) error {
	f, err := os.Open(q.text)
	if err != nil {
		return usage.Errorf("%s: %v; check the name", q.text, errors.Unwrap(err))
	}
	defer f.Close()
	var entries []logbook.Entry
	switch ext := strings.ToLower(filepath.Ext(q.text)); ext {
	case ".csv":
		entries, err = logbook.ReadCSV(f, q.text, record.CheckEntry)
	case ".geojson", ".json":
		entries, err = logbook.ReadGeoJSON(f, q.text, record.CheckEntry)
	default:
		return usage.Errorf("%s: ending %q; name a .csv or a .geojson file", q.text, ext)
	}
	if err != nil {
		return usage.Mark(err)
	}
	b, err := logbook.Open(q.path)
	if err != nil {
		return err
	}
	defer b.Close()
	got, err := b.Import(entries)
	if err != nil {
		return err
	}
	if q.json {
		if got == nil {
			got = []logbook.Entry{}
		}
		return show.JSON(e.out, map[string]any{"entries": got, "known": len(entries) - len(got)})
	}
	fmt.Fprintf(e.out, "%d entries logged, %d were here already\n", len(got), len(entries)-len(got))
	return nil
}

func logWithdraw(q logRequest, e env) error {
	return q.revise(e, func(b *logbook.Book) (logbook.Entry, error) { return b.Withdraw(q.id, q.by, e.now()) })
}

func logAmend(q logRequest, e env) error {
	set, err := readSet(q.set)
	if err != nil {
		return err
	}
	if len(set) == 0 {
		return usage.Errorf("--amend %d without --set; say what changes, such as --set bearing_deg=74", q.id)
	}
	return q.revise(e, func(b *logbook.Book) (logbook.Entry, error) { return record.Amend(b, q.id, q.by, e.now(), set) })
}

// readSet reads key=value; what is no JSON is a text.
func readSet(pairs []string) (map[string]json.RawMessage, error) {
	set := map[string]json.RawMessage{}
	for _, s := range pairs {
		k, v, ok := strings.Cut(s, "=")
		if !ok || k == "" {
			return nil, usage.Errorf("--set %q; write key=value, such as bearing_deg=74", s)
		}
		set[k] = json.RawMessage(v)
		if !json.Valid(set[k]) {
			text, err := json.Marshal(v)
			if err != nil {
				return nil, err
			}
			set[k] = text
		}
	}
	return set, nil
}

func (q logRequest) revise(e env, change func(*logbook.Book) (logbook.Entry, error)) error {
	if _, err := os.Stat(q.path); err != nil {
		return usage.Errorf("%s does not exist: there is no entry to correct", q.path)
	}
	b, err := logbook.Open(q.path)
	if err != nil {
		return err
	}
	defer b.Close()
	got, err := change(b)
	if err != nil {
		return usage.Mark(err)
	}
	if q.json {
		return show.JSON(e.out, got)
	}
	return record.PrintEntry(e.out, got)
}

func logExtract(q logRequest, e env) error {
	if q.into == "" {
		return usage.Errorf("--extract needs --into, a new folder for the files")
	}
	if es, err := os.ReadDir(q.into); err == nil && len(es) > 0 {
		return usage.Errorf("%s: is not empty; name a new folder", q.into)
	}
	b, err := logbook.OpenRead(q.path)
	if err != nil {
		return err
	}
	defer b.Close()
	in, err := b.Inputs(q.id)
	if err != nil {
		return usage.Mark(err)
	}
	main, err := record.WriteInputs(in, q.into)
	if err != nil {
		return err
	}
	if q.json {
		return show.JSON(e.out, map[string]any{"flight": main, "version": in.Version, "seed": in.Seed, "runs": in.Runs,
			"learned": in.Learned})
	}
	runs, learned := "auto", " --no-learning"
	if in.Runs != 0 {
		runs = fmt.Sprint(in.Runs)
	}
	if in.Learned != 0 {
		learned = fmt.Sprintf(" and learning %d", in.Learned)
	}
	p := show.To(e.out)
	p.F("%s", main)
	p.F("the map was made with version %s, --seed %d --runs %s%s", in.Version, in.Seed, runs, learned)
	return p.Err()
}
