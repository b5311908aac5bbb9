package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/drift/logbook"
)

func logCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "log", Usage: "list flights, sightings, tracks and finds; keep the logbook", ArgsUsage: "[FLIGHT]",
		Description: "FLIGHT is a flight file or a flight's id; with it the flight is shown whole, without it flights are listed.",
		Flags: []cli.Flag{
			jsonFlag(), logbookFlag(),
			&cli.StringSliceFlag{Name: "kind", Usage: "only this kind: sighting, timing, height, nothing-in, track, find; may be repeated"},
			&cli.StringFlag{Name: "by", Usage: "only what this person logged"},
			&cli.StringFlag{Name: "since", Usage: "only what was logged at this time or later: 2026-03-14 or 2026-03-14T10:30:00Z"},
			&cli.StringFlag{Name: "until", Usage: "only what was logged before this time"},
			&cli.BoolFlag{Name: "withdrawn", Usage: "with what was taken back"},
			&cli.BoolFlag{Name: "csv", Usage: "entries as CSV"},
			&cli.BoolFlag{Name: "geojson", Usage: "entries as GeoJSON"},
			&cli.StringFlag{Name: "import", Usage: "log the entries of a .csv or .geojson file that are not here yet"},
			&cli.Int64Flag{Name: "withdraw", Usage: "take the entry with this number back; it stays on record"},
			&cli.Int64Flag{Name: "amend", Usage: "correct the entry with this number, with --set; what it said stays on record"},
			&cli.StringSliceFlag{Name: "set", Usage: "for --amend: key=value, such as bearing_deg=74; may be repeated"},
			&cli.StringFlag{Name: "as", Usage: "who withdraws or amends"},
			&cli.Int64Flag{Name: "extract", Usage: "write the input files with this number (see 'windfall log FLIGHT') back into --into"},
			&cli.StringFlag{Name: "into", Usage: "for --extract: a new folder"},
			&cli.BoolFlag{Name: "check", Usage: "read the whole logbook and say whether it is sound"},
			&cli.StringFlag{Name: "backup", Usage: "write a whole copy, also while others use the logbook"},
			&cli.StringFlag{Name: "salvage", Usage: "copy what can still be read of a damaged logbook into a new file"},
		},
		Action: func(c *cli.Context) error { return runLog(e, c) },
	}
}

func runLog(e env, c *cli.Context) error {
	path := logbookPath(e, c)
	acts := []struct {
		flag string
		do   func() error
	}{
		{"check", func() error { return logCheck(e, c, path) }},
		{"backup", func() error { return logBackup(e, c, path) }},
		{"salvage", func() error { return logSalvage(e, c, path) }},
		{"import", func() error { return logImport(e, c, path) }},
		{"withdraw", func() error { return logRevise(e, c, path) }},
		{"amend", func() error { return logRevise(e, c, path) }},
		{"extract", func() error { return logExtract(e, c, path) }},
		{"csv", func() error { return logList(e, c, path) }},
		{"geojson", func() error { return logList(e, c, path) }},
	}
	var chosen []string
	do := func() error { return logList(e, c, path) }
	for _, a := range acts {
		if c.IsSet(a.flag) {
			chosen, do = append(chosen, "--"+a.flag), a.do
		}
	}
	if len(chosen) > 1 {
		return wrongf("%s do not go together; give one of them", strings.Join(chosen, " and "))
	}
	if c.IsSet("set") && !c.IsSet("amend") {
		return wrongf("--set is for --amend; name the entry, such as --amend 3 --set bearing_deg=74")
	}
	return do()
}

// logQuery reads the flags that choose entries.
func logQuery(c *cli.Context) (logbook.Query, error) {
	q := logbook.Query{By: c.String("by"), Withdrawn: c.Bool("withdrawn")}
	switch c.NArg() {
	case 0:
	case 1:
		var err error
		if q.Flight, err = flightID(c.Args().First()); err != nil {
			return q, err
		}
	default:
		return q, wrongf("windfall log takes one flight, not %d (%s)", c.NArg(), strings.Join(c.Args().Slice(), " "))
	}
	for _, k := range c.StringSlice("kind") {
		switch kind := logbook.Kind(k); kind {
		case logbook.Sighting, logbook.Timing, logbook.Height, logbook.NothingIn, logbook.Track, logbook.Find:
			q.Kinds = append(q.Kinds, kind)
		default:
			return q, wrongf("--kind %q; write sighting, timing, height, nothing-in, track or find", k)
		}
	}
	for name, t := range map[string]*time.Time{"since": &q.Since, "until": &q.Until} {
		if s := c.String(name); s != "" {
			var err error
			if *t, err = time.Parse(time.RFC3339, s); err != nil {
				if *t, err = time.ParseInLocation("2006-01-02", s, time.Local); err != nil {
					return q, wrongf("--%s %q; write a day or a time, such as 2026-03-14 or 2026-03-14T10:30:00Z", name, s)
				}
			}
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
		return "", wrong{err}
	}
	return f.Flight.ID, nil
}

func logList(e env, c *cli.Context, path string) error {
	q, err := logQuery(c)
	if err != nil {
		return err
	}
	b, err := logbook.OpenRead(path)
	if err != nil {
		return err
	}
	defer b.Close()
	w := bufio.NewWriter(e.out)
	if err := writeLog(w, b, q, c); err != nil {
		return err
	}
	return w.Flush()
}

func writeLog(w io.Writer, b *logbook.Book, q logbook.Query, c *cli.Context) error {
	filtered := q.By != "" || len(q.Kinds) > 0 || !q.Since.IsZero() || !q.Until.IsZero() || q.Withdrawn
	plain := !c.Bool("csv") && !c.Bool("geojson") && !c.Bool("json")
	if plain && q.Flight == "" && !filtered {
		return printFlights(w, b)
	}
	if plain && q.Flight != "" && !filtered {
		return printFlight(w, b, q.Flight)
	}
	entries, err := b.Entries(q)
	if err != nil {
		return err
	}
	switch {
	case c.Bool("csv"):
		return logbook.WriteCSV(w, entries)
	case c.Bool("geojson"):
		return logbook.WriteGeoJSON(w, entries)
	case c.Bool("json"):
		return writeLogJSON(w, b, q, entries)
	}
	for _, en := range entries {
		printEntry(w, en)
	}
	return nil
}

// writeLogJSON lists flights and entries; of one flight, its inputs too.
func writeLogJSON(w io.Writer, b *logbook.Book, q logbook.Query, entries []logbook.Entry) error {
	type inputs struct {
		ID      int64             `json:"id"`
		When    string            `json:"when"`
		Version string            `json:"version"`
		Seed    uint64            `json:"seed"`
		Runs    int               `json:"runs"`
		Learned int64             `json:"learned,omitempty"`
		Files   map[string]string `json:"files"` // name to SHA-256
	}
	out := struct {
		Entries []logbook.Entry     `json:"entries"`
		Flights []logbook.FlightRow `json:"flights"`
		Inputs  []inputs            `json:"inputs,omitempty"`
	}{Entries: entries, Flights: []logbook.FlightRow{}}
	if entries == nil {
		out.Entries = []logbook.Entry{}
	}
	flights, err := b.Flights()
	if err != nil {
		return err
	}
	for _, f := range flights {
		if q.Flight == "" || f.ID == q.Flight {
			out.Flights = append(out.Flights, f)
		}
	}
	if q.Flight != "" {
		ins, err := b.FlightInputs(q.Flight)
		if err != nil {
			return err
		}
		for _, in := range ins {
			files := map[string]string{}
			for _, f := range in.Files {
				files[f.Name] = f.SHA256
			}
			out.Inputs = append(out.Inputs, inputs{in.ID, in.When.Format(time.RFC3339), in.Version, in.Seed, in.Runs, in.Learned, files})
		}
	}
	return writeJSON(w, out)
}

func printFlights(w io.Writer, b *logbook.Book) error {
	flights, err := b.Flights()
	if err != nil {
		return err
	}
	if len(flights) == 0 {
		fmt.Fprintln(w, "the logbook is empty")
		return nil
	}
	fmt.Fprintf(w, "%-24s %-17s %9s %6s %5s\n", "flight", "ignition", "sightings", "tracks", "finds")
	for _, f := range flights {
		at := "-"
		if !f.Launched.IsZero() {
			at = f.Launched.UTC().Format("2006-01-02 15:04Z")
		}
		fmt.Fprintf(w, "%-24s %-17s %9d %6d %5d\n", f.ID, at, f.Sightings, f.Tracks, f.Finds)
	}
	return nil
}

// printFlight shows one flight whole: its inputs, its entries, and how they
// were corrected.
func printFlight(w io.Writer, b *logbook.Book, id string) error {
	entries, err := b.Entries(logbook.Query{Flight: id, Withdrawn: true})
	if err != nil {
		return err
	}
	ins, err := b.FlightInputs(id)
	if err != nil {
		return err
	}
	if len(entries) == 0 && len(ins) == 0 {
		return wrongf("the logbook has no flight %q; 'windfall log' lists those it has", id)
	}
	fmt.Fprintln(w, id)
	for _, in := range ins {
		fmt.Fprintf(w, "inputs %d  %s  version %s, seed %d, %d runs", in.ID, in.When.UTC().Format("2006-01-02 15:04Z"), in.Version, in.Seed, in.Runs)
		if in.Learned != 0 {
			fmt.Fprintf(w, ", with learning %d", in.Learned)
		}
		fmt.Fprintln(w)
		for _, f := range in.Files {
			fmt.Fprintf(w, "    %s  %d bytes  sha256 %.12s\n", f.Name, f.Size, f.SHA256)
		}
	}
	for _, en := range entries {
		printEntry(w, en)
		if en.Revision == 1 {
			continue
		}
		history, err := b.History(en.ID)
		if err != nil {
			return err
		}
		for i, h := range history {
			was := ""
			if i+1 < len(history) {
				was = "  " + briefBody(h.Body)
			}
			fmt.Fprintf(w, "    %s %s %s%s\n", h.State, h.When.UTC().Format("2006-01-02 15:04Z"), orNobody(h.By), was)
		}
	}
	return nil
}

func orNobody(by string) string {
	if by == "" {
		return "(no name)"
	}
	return by
}

func printEntry(w io.Writer, en logbook.Entry) {
	state := ""
	if en.Withdrawn {
		state = "  withdrawn"
	}
	fmt.Fprintf(w, "%5d  %s  %-10s %-16s %s  %s%s\n", en.ID, en.When.UTC().Format("2006-01-02 15:04Z"), en.Kind, orNobody(en.By), en.Flight, briefBody(en.Body), state)
}

// briefBody shows a body on one line, cut where it is long.
func briefBody(body json.RawMessage) string {
	s := strings.NewReplacer(`"`, "", "{", "", "}", "", ",", " ").Replace(string(body))
	if r := []rune(s); len(r) > 100 {
		s = string(r[:97]) + "..."
	}
	return s
}
