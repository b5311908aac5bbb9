package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/contactpage"
	"windfall/cmd/windfall/internal/outdir"
	"windfall/cmd/windfall/internal/pictures"
	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/report"
	"windfall/cmd/windfall/internal/saw"
	"windfall/cmd/windfall/internal/show"
	"windfall/cmd/windfall/internal/situation"
	"windfall/cmd/windfall/internal/usage"
)

func lookCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "look", Usage: "find in photographs of the ground what does not belong there", ArgsUsage: "FLIGHT PHOTOS...",
		Flags: slices.Concat(mapFlags(), words(saw.CameraWords...),
			words("by", "from", "above", "path", "begins", "every", "yes", "no", "verdicts"), []cli.Flag{jsonFlag(), outFlag()}),
		Action: func(c *cli.Context) error {
			q, err := readLook(e, c)
			if err != nil {
				return err
			}
			f, err := record.Read(q.source)
			if err != nil {
				return err
			}
			if len(q.verdicts) > 0 {
				return judge(e, f, q)
			}
			return look(c.Context, e, f, q)
		},
	}
}

// lookRequest is what look is asked for.
type lookRequest struct {
	source   record.Source
	options  report.Options
	files    fileOptions
	photos   []string
	given    saw.Words
	verdicts []record.Verdict
	json     bool
}

func readLook(e env, c *cli.Context) (q lookRequest, err error) {
	args := c.Args().Slice()
	if len(args) == 0 {
		return q, usage.Errorf("windfall look needs a flight file and photographs, such as: " +
			"windfall look flight.yaml DCIM/*.JPG")
	}
	q = lookRequest{source: readSource(e, c, args[0]), files: readFiles(c), given: readGiven(c), json: c.Bool("json")}
	q.options = report.Options{Logbook: q.source.Logbook, Stamp: readStamp(e, c)}
	if q.verdicts, err = readVerdicts(q.given); err != nil {
		return q, usage.Mark(err)
	}
	if q.photos, err = pictures.Names(args[1:]); err != nil {
		return q, usage.Mark(err)
	}
	switch judged := c.IsSet("yes") || c.IsSet("no") || c.IsSet("verdicts"); {
	case judged && len(q.photos) > 0:
		return q, usage.Errorf("verdicts and photographs are two steps: look at the pictures first, " +
			"then say --yes and --no of the candidates")
	case judged && len(q.verdicts) == 0:
		return q, usage.Errorf("no candidate is judged: give numbers, such as --yes 3 --no 1,2")
	case !judged && len(q.photos) == 0:
		return q, usage.Errorf("windfall look needs photographs, such as: windfall look %s DCIM/*.JPG", args[0])
	}
	q.options.Map, err = readMap(e, c)
	return q, err
}

// readVerdicts reads --yes, --no and --verdicts.
func readVerdicts(g saw.Words) (out []record.Verdict, err error) {
	for _, flag := range []string{"yes", "no"} {
		for _, text := range strings.FieldsFunc(g[flag], func(r rune) bool { return r == ',' || r == ' ' }) {
			n, err := strconv.Atoi(text)
			if err != nil || n < 1 {
				return nil, fmt.Errorf("--%s %q is no candidate's number; write numbers, such as 3 or 1,2", flag, text)
			}
			out = append(out, record.Verdict{N: n, Yes: flag == "yes"})
		}
	}
	if name := g["verdicts"]; name != "" {
		data, err := os.ReadFile(name)
		if err != nil {
			return nil, fmt.Errorf("--verdicts %s: cannot be read; name the file that the page saved", name)
		}
		var saved struct{ Verdicts []record.Verdict }
		if err := json.Unmarshal(data, &saved); err != nil || len(saved.Verdicts) == 0 {
			return nil, fmt.Errorf("--verdicts %s: holds no verdicts; name the file that the page saved", name)
		}
		out = append(out, saved.Verdicts...)
	}
	said := map[int]bool{}
	for _, v := range out {
		if was, ok := said[v.N]; ok && was != v.Yes {
			return nil, fmt.Errorf("candidate %d is said to be both yes and no; say one", v.N)
		}
		said[v.N] = v.Yes
	}
	return out, nil
}

// memoryLimit is what the collector keeps to while pictures are looked at,
// bytes: two of them are in memory at a time.
const memoryLimit = 420 << 20

// lookAnswer is what look answers beside the entry.
type lookAnswer struct {
	Survey   pictures.Survey    `json:"survey"`
	Pictures []pictures.Picture `json:"pictures"`
	leftAnswer
}

func look(ctx context.Context, e env, f *record.Flight, q lookRequest) error {
	how, err := saw.Cameras(q.given, f)
	if err != nil {
		return usage.Mark(err)
	}
	if err := outdir.Check(q.files.in(f.File.Path)); err != nil {
		return usage.Mark(err)
	}
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(memoryLimit))
	p := report.Photos{Files: q.photos, Kept: filepath.Join(q.files.in(f.File.Path), "look-progress.jsonl"), How: how,
		Done: e.progress("looking")}
	a, err := report.LogLook(ctx, f, p, q.options)
	if errors.Is(err, context.Canceled) {
		fmt.Fprintf(e.err, "the pictures done so far are kept in %s; the same command goes on from there\n", p.Kept)
	}
	if err != nil {
		return err
	}
	files, err := q.write(ctx, f, how, a)
	if err != nil {
		a.Missing(err)
	}
	if q.json {
		for i := range a.Pictures {
			a.Pictures[i].Strip()
		}
		return writeEntry(e, a.Entry, lookAnswer{a.Survey, a.Pictures, leftAnswer{a.Left, files, a.Caution}})
	}
	return show.Looked(e.out, f.File.Path, a, files)
}

// write writes the page, the points and the map of what is left.
func (q lookRequest) write(ctx context.Context, f *record.Flight, how *pictures.Settings, a *report.Looked) ([]string,
	error) {
	files, err := contactpage.Files(contactpage.Data{Flight: f.Input.Flight.ID, File: f.File.Path, Verdicts: a.Verdicts,
		Survey: a.Survey, Areas: a.Areas, Ground: how.Shown(a.Pictures), LeftAside: pictures.Reasons(a.Pictures),
		Sharpness: how.Words(a.Pictures)})
	if err != nil {
		return []string{}, err
	}
	set := outdir.Open(q.files.in(f.File.Path))
	defer set.Discard()
	for _, file := range files {
		if err := set.Bytes(file.Name, file.Data); err != nil {
			return []string{}, err
		}
	}
	names, err := set.Commit()
	if err != nil || a.Summary == nil {
		return names, err
	}
	maps, err := writeFiles(ctx, q.files.in(f.File.Path), "", a.After.Cloud, situation.Layers(a.After, a.Summary))
	return append(names, maps...), err
}

// judge logs verdicts on candidates.
func judge(e env, f *record.Flight, q lookRequest) error {
	entries, err := record.Judge(q.source.Logbook, f.File, q.verdicts, q.options.Stamp)
	if err != nil {
		return err
	}
	if q.json {
		return show.JSON(e.out, map[string]any{"entries": entries})
	}
	return show.Judged(e.out, f.File.Path, q.verdicts, entries)
}
