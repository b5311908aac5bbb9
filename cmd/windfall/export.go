package main

import (
	"context"
	"errors"
	"path/filepath"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/fieldpage"
	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/keptplan"
	"windfall/cmd/windfall/internal/outdir"
	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/show"
	"windfall/cmd/windfall/internal/situation"
	"windfall/cmd/windfall/internal/usage"
	"windfall/geo/mapfile"
	"windfall/geo/place"
	"windfall/geo/quantity"
	"windfall/search"
)

func exportCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "export", Usage: "the search plan's files for one searcher, in other formats or grids", ArgsUsage: "FLIGHT",
		Flags: append(slices.Concat(locateFlags(), planFlags(), changeFlags(),
			words("for", "grid", "pace", "base", "base-credit"), lists("format", "call"), switches("tracks", "page")),
			&cli.StringFlag{Name: "paper", Value: "a4"}, &cli.StringFlag{Name: "qr", Value: "geo"}, jsonFlag(), outFlag()),
		Action: func(c *cli.Context) error {
			q, err := readExport(e, c)
			if err != nil {
				return err
			}
			f, err := record.Load(q.source)
			if err != nil {
				return err
			}
			if err := q.check(f.Input); err != nil {
				return err
			}
			o, err := readPlan(c, f.Input)
			if err != nil {
				return err
			}
			return export(c.Context, e, f, q, o)
		},
	}
}

// exportRequest is what export is asked for.
type exportRequest struct {
	mapRequest
	searcher string // "": all
	format   mapfile.Options
	page     bool
	pace     float64 // m; 0: not given
	calls    []string
}

func readExport(e env, c *cli.Context) (q exportRequest, err error) {
	if q.mapRequest, err = readMapRequest(e, c); err != nil {
		return q, err
	}
	q.searcher, q.calls, q.page = c.String("for"), c.StringSlice("call"), c.Bool("page")
	q.format.Tracks = c.Bool("tracks")
	if q.format.Formats, err = readFormats(c.StringSlice("format"), q.format.Tracks); err != nil {
		return q, err
	}
	if g := c.String("grid"); g != "" {
		if q.format.Grid, err = place.StyleOf(g); err != nil || q.format.Grid == place.Decimal {
			return q, usage.Errorf("--grid %q is not a grid; write utm, mgrs, bng, deg-min or deg-min-sec (decimal degrees "+
				"are on every sheet)", g)
		}
	}
	if q.pace, err = readPace(c.String("pace")); err != nil {
		return q, err
	}
	if q.format.Letter, err = second(c, "paper", "a4", "letter"); err != nil {
		return q, err
	}
	q.format.QRList, err = second(c, "qr", "geo", "list")
	return q, err
}

func readFormats(names []string, tracks bool) ([]string, error) {
	var out []string
	for _, f := range names {
		f = strings.TrimSpace(f)
		if !slices.Contains(mapfile.Formats(), f) {
			return nil, usage.Errorf("--format %q is not known; write %s", f, strings.Join(mapfile.Formats(), ", "))
		}
		out = append(out, f)
	}
	if tracks && out != nil && !slices.Contains(out, "gpx") {
		return nil, usage.Errorf("--tracks is about GPX, which --format leaves out; add --format gpx")
	}
	return out, nil
}

func readPace(text string) (float64, error) {
	if text == "" {
		return 0, nil
	}
	pace, err := quantity.Parse(text, quantity.Length)
	if err != nil {
		return 0, usage.Errorf("--pace: %w", err)
	}
	if pace < 0.3 || pace > 2.5 {
		return 0, usage.Errorf("--pace %q is not a pace; write the length of one step, 0.3 m to 2.5 m", text)
	}
	return pace, nil
}

// second reports whether a flag that knows two words has the second.
func second(c *cli.Context, flag, a, b string) (bool, error) {
	v := c.String(flag)
	if v != a && v != b {
		return false, usage.Errorf("--%s %q is not known; write %s or %s", flag, v, a, b)
	}
	return v == b, nil
}

// check settles the grid, and refuses one that does not reach the pad and a
// searcher whom the flight does not have.
func (q *exportRequest) check(in situation.Input) error {
	pad := in.Flight.Site.Pad
	switch g := q.format.Grid; {
	case g == place.Decimal:
		q.format.Grid = place.Local(pad)
	case g == place.BNG && place.GridAt(pad, g).Name != place.GridAt([2]float64{-2, 52}, g).Name:
		return usage.Errorf("--grid bng does not reach the pad, %s; write utm or mgrs", place.Format(pad, place.Decimal))
	}
	if q.searcher == "" {
		return nil
	}
	var err error
	q.searcher, err = readName("for", q.searcher, in)
	return err
}

// exportAnswer is the JSON of export.
type exportAnswer struct {
	Flight   string   `json:"flight"`
	Seed     uint64   `json:"seed"`
	Searcher string   `json:"searcher,omitempty"`
	Grid     string   `json:"grid"`
	Files    []string `json:"files"`
}

func export(ctx context.Context, e env, f *record.Flight, q exportRequest, o situation.PlanOptions) error {
	base, err := q.files.open(f)
	if err != nil {
		return err
	}
	defer base.Close()
	dir := q.files.in(f.File.Path)
	kept := fileOptions{}.in(f.File.Path) // --out may lead elsewhere than search's
	if o.Kept, err = keptplan.Read(dir, kept); err != nil {
		return err
	}
	o.OnlyKept = true
	plan, err := makePlan(ctx, f, q.make, o)
	if errors.Is(err, situation.ErrNotKept) {
		return errNotKept(dir, f.File.Path, o.Kept)
	}
	if err != nil {
		return err
	}
	r, err := situation.SummarisePlan(plan)
	if err != nil {
		return err
	}
	l := base.Under(situation.PlanLayers(plan, r))
	a := exportAnswer{Flight: r.Flight, Seed: q.make.Seed, Searcher: q.searcher, Grid: q.format.Grid.String()}
	doc := fieldpage.Plan{Key: plan.Kept.Key, Flight: filepath.Base(f.File.Path), Only: q.searcher}
	if a.Files, err = q.write(ctx, dir, l, doc); err != nil {
		return err
	}
	if q.json {
		return show.JSON(e.out, a)
	}
	p := show.To(e.out)
	p.Wrote(a.Files)
	return p.Err()
}

// write writes the files, all or none; those of one searcher carry the name:
// search-east.gpx, sheet-east.html.
func (q exportRequest) write(ctx context.Context, dir string, l *mapfile.Landing, doc fieldpage.Plan) ([]string,
	error) {
	l.Contacts = q.calls
	for i := range l.Plan.Searchers {
		if w := &l.Plan.Searchers[i]; w.Kind == string(search.Walker) {
			w.Pace = q.pace
		}
	}
	suffix := ""
	if q.searcher != "" {
		var err error
		if l, err = l.Only(q.searcher); err != nil {
			return nil, err
		}
		l.Title += ": " + q.searcher
		suffix = "-" + flightfile.Slug(q.searcher)
	}
	var files []mapfile.File
	var err error
	if !q.page || q.format.Formats != nil { // with --page that page, and others only where --format names them
		files, err = mapfile.Files(l, q.format)
	}
	if q.page && err == nil {
		files, err = fieldpage.Append(files, l, doc)
	}
	if err != nil {
		return nil, err
	}
	set := outdir.Open(dir)
	defer set.Discard()
	for _, f := range files {
		base, ext, _ := strings.Cut(f.Name, ".")
		if err := set.Bytes(base+suffix+"."+ext, f.Data); err != nil {
			return nil, err
		}
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return set.Commit()
}
