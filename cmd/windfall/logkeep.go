package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"windfall/drift/logbook"
)

func logCheck(e env, c *cli.Context, path string) error {
	problems, err := logbook.Check(path)
	if err != nil {
		return err
	}
	if c.Bool("json") {
		if problems == nil {
			problems = []string{}
		}
		if err := writeJSON(e.out, map[string]any{"sound": len(problems) == 0, "problems": problems}); err != nil {
			return err
		}
	} else if len(problems) == 0 {
		if _, err := os.Stat(path); err != nil {
			fmt.Fprintf(e.out, "%s does not exist yet: nothing has been logged\n", path)
			return nil
		}
		fmt.Fprintf(e.out, "%s is sound\n", path)
	}
	if len(problems) == 0 {
		return nil
	}
	if !c.Bool("json") {
		for _, p := range problems {
			fmt.Fprintln(e.out, p)
		}
		fmt.Fprintf(e.out, `
To restore, nobody using the logbook:
  1. put the damaged file aside, with those beside it: %[1]s, %[1]s-wal, %[1]s-shm
  2. copy your latest backup (windfall log --backup FILE) to %[1]s
  3. or, without one: windfall log --logbook THE-FILE-PUT-ASIDE --salvage %[1]s
  4. windfall log --check
`, path)
	}
	return fmt.Errorf("%s is not sound (%d problems)", path, len(problems))
}

func logBackup(e env, c *cli.Context, path string) error {
	b, err := logbook.OpenRead(path)
	if err != nil {
		return err
	}
	defer b.Close()
	to := c.String("backup")
	if err := b.Backup(to); err != nil {
		return err
	}
	if c.Bool("json") {
		return writeJSON(e.out, map[string]string{"backup": to})
	}
	fmt.Fprintf(e.out, "%s holds the whole logbook; to restore, copy it to %s\n", to, path)
	return nil
}

func logSalvage(e env, c *cli.Context, path string) error {
	kept, lost, err := logbook.Salvage(path, c.String("salvage"))
	if err != nil {
		return err
	}
	if c.Bool("json") {
		return writeJSON(e.out, map[string]int{"kept": kept, "lost": lost})
	}
	fmt.Fprintf(e.out, "%d entries read and written to %s, %d could not be read\n", kept, c.String("salvage"), lost)
	return nil
}

func logImport(e env, c *cli.Context, path string) error {
	name := c.String("import")
	f, err := os.Open(name)
	if err != nil {
		return wrongf("%s: %v", name, errors.Unwrap(err))
	}
	defer f.Close()
	var entries []logbook.Entry
	switch ext := strings.ToLower(filepath.Ext(name)); ext {
	case ".csv":
		entries, err = logbook.ReadCSV(f, name)
	case ".geojson", ".json":
		entries, err = logbook.ReadGeoJSON(f, name)
	default:
		return wrongf("%s: ending %q; name a .csv or a .geojson file", name, ext)
	}
	if err != nil {
		return wrong{err}
	}
	b, err := logbook.Open(path)
	if err != nil {
		return err
	}
	defer b.Close()
	got, err := b.Import(entries)
	if err != nil {
		return err
	}
	if c.Bool("json") {
		if got == nil {
			got = []logbook.Entry{}
		}
		return writeJSON(e.out, map[string]any{"entries": got, "known": len(entries) - len(got)})
	}
	fmt.Fprintf(e.out, "%d entries logged, %d were here already\n", len(got), len(entries)-len(got))
	return nil
}

func logRevise(e env, c *cli.Context, path string) error {
	if _, err := os.Stat(path); err != nil {
		return wrongf("%s does not exist: there is no entry to correct", path)
	}
	set := map[string]json.RawMessage{}
	for _, s := range c.StringSlice("set") {
		k, v, ok := strings.Cut(s, "=")
		if !ok || k == "" {
			return wrongf("--set %q; write key=value, such as bearing_deg=74", s)
		}
		if !json.Valid([]byte(v)) {
			v = strconv.Quote(v)
		}
		set[k] = json.RawMessage(v)
	}
	if c.IsSet("amend") && len(set) == 0 {
		return wrongf("--amend %d without --set; say what changes, such as --set bearing_deg=74", c.Int64("amend"))
	}
	b, err := logbook.Open(path)
	if err != nil {
		return err
	}
	defer b.Close()
	var got logbook.Entry
	if c.IsSet("withdraw") {
		got, err = b.Withdraw(c.Int64("withdraw"), c.String("as"), e.now())
	} else {
		got, err = amend(b, c.Int64("amend"), c.String("as"), e.now(), set)
	}
	if err != nil {
		return wrong{err}
	}
	if c.Bool("json") {
		return writeJSON(e.out, got)
	}
	printEntry(e.out, got)
	return nil
}

// amend puts keys into the body of an entry; null takes a key out.
func amend(b *logbook.Book, id int64, by string, when time.Time, set map[string]json.RawMessage) (logbook.Entry, error) {
	h, err := b.History(id)
	if err != nil {
		return logbook.Entry{}, err
	}
	body := map[string]json.RawMessage{}
	if len(h) > 0 {
		if err := json.Unmarshal(h[len(h)-1].Body, &body); err != nil {
			return logbook.Entry{}, err
		}
	}
	for k, v := range set {
		if string(v) == "null" {
			delete(body, k)
		} else {
			body[k] = v
		}
	}
	text, err := json.Marshal(body)
	if err != nil {
		return logbook.Entry{}, err
	}
	return b.Amend(id, by, when, text)
}

func logExtract(e env, c *cli.Context, path string) error {
	dir := c.String("into")
	if dir == "" {
		return wrongf("--extract needs --into, a new folder for the files")
	}
	if es, err := os.ReadDir(dir); err == nil && len(es) > 0 {
		return wrongf("%s: is not empty; name a new folder", dir)
	}
	b, err := logbook.OpenRead(path)
	if err != nil {
		return err
	}
	defer b.Close()
	in, err := b.Inputs(c.Int64("extract"))
	if err != nil {
		return wrong{err}
	}
	main, err := writeInputs(in, dir)
	if err != nil {
		return err
	}
	if c.Bool("json") {
		return writeJSON(e.out, map[string]any{"flight": main, "version": in.Version, "seed": in.Seed, "runs": in.Runs, "learned": in.Learned})
	}
	fmt.Fprintf(e.out, "%s\nthe map was made with version %s, --seed %d --runs %d", main, in.Version, in.Seed, in.Runs)
	if in.Learned == 0 {
		fmt.Fprint(e.out, " --no-learning")
	} else {
		fmt.Fprintf(e.out, " and learning %d", in.Learned)
	}
	fmt.Fprintln(e.out)
	return nil
}
