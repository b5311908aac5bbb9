package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/outdir"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/wind"
	"windfall/drift/wind/picture"
	"windfall/drift/wind/sources"
	"windfall/geo/place"
	"windfall/geo/quantity"
)

func windCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "wind", Usage: "read any wind source and print the profile it makes of it", ArgsUsage: "FILE...",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "flight", Usage: "the flight whose pad and launch time the wind is for"},
			&cli.StringFlag{Name: "elevation", Usage: "the pad's elevation above sea level, such as \"412 m\""},
			&cli.StringFlag{Name: "when", Usage: "launch time, such as 2026-03-14T10:30:00+01:00"},
			&cli.StringFlag{Name: "fetch", Usage: "ask the forecast service for the wind at this place (\"pad\": the flight's) and save the answer"},
			&cli.StringFlag{Name: "service", Value: sources.Service, Usage: "address of the forecast service"},
			outFlag(), seedFlag(), jsonFlag(),
		},
		Action: func(c *cli.Context) error { return windAction(c.Context, e, c) },
	}
}

// windJob is one run of the command.
type windJob struct {
	flight   *flightfile.File // nil: none named
	opt      sources.Options
	reports  []sources.Report
	choices  []wind.Choice
	cautions []string
	files    []string
}

func windAction(ctx context.Context, e env, c *cli.Context) error {
	j := &windJob{}
	files := c.Args().Slice()
	flight := c.String("flight")
	if flight == "" && len(files) == 1 && isFlight(files[0]) {
		flight, files = files[0], nil
	}
	if flight == "" && len(files) == 0 && c.String("fetch") == "" {
		return usage.Errorf("windfall wind needs a wind file or a flight, such as: windfall wind sounding.csv")
	}
	if c.String("fetch") != "" && len(files) > 0 {
		return usage.Errorf("windfall wind reads files or fetches a forecast, not both; leave out %s or --fetch", files[0])
	}
	if err := j.options(c, flight, len(files) == 0 && c.String("fetch") == ""); err != nil {
		return usage.Mark(err)
	}
	set := outdir.Open("")
	defer set.Discard()
	if c.String("fetch") != "" {
		name, err := j.fetch(ctx, c, set)
		if err != nil {
			return err
		}
		j.cautions = append(j.cautions, fmt.Sprintf("saved the answer as %s; to fly with it write wind: %s in the flight file", name, filepath.Base(name)))
	}
	if err := j.read(files); err != nil {
		return usage.Mark(err)
	}
	if err := j.pictures(c, set); err != nil {
		return err
	}
	done, err := set.Commit()
	if err != nil {
		return err
	}
	j.files = done
	if c.Bool("json") {
		return writeJSON(e.out, j.json())
	}
	return j.print(e.out)
}

// isFlight tells a flight file or folder from a wind file.
func isFlight(path string) bool {
	if ext := filepath.Ext(path); ext == ".yaml" || ext == ".yml" {
		return true
	}
	st, err := os.Stat(path)
	return err == nil && st.IsDir()
}

// options gathers pad and launch time from the flight file and the flags. The
// flight's own wind is read only where it is what is asked for: the file it
// names may be the one that is being fetched.
func (j *windJob) options(c *cli.Context, flight string, own bool) error {
	if flight != "" {
		var calm []flightfile.Setting
		if !own {
			calm = append(calm, flightfile.Setting{Key: "wind", Value: "[{height: 10 m, from: 0 deg, speed: 0 m/s}]"})
		}
		f, err := flightfile.Read(flight, calm...)
		if err != nil {
			return err
		}
		j.flight, j.opt = f, f.WindOptions()
		if own {
			j.choices, j.cautions = f.Flight.Wind, f.Warnings
		}
	}
	if s := c.String("elevation"); s != "" {
		z, err := quantity.Parse(s, quantity.Length)
		if err != nil {
			return fmt.Errorf("--elevation %w", err)
		}
		j.opt.Elevation = &z
	}
	if s := c.String("when"); s != "" {
		t, err := parseWhen(s)
		if err != nil {
			return fmt.Errorf("--when %w", err)
		}
		j.opt.When = t
	}
	return nil
}

// parseWhen reads a time with its zone.
func parseWhen(s string) (time.Time, error) {
	for _, layout := range []string{time.RFC3339, "2006-01-02T15:04Z07:00", "2006-01-02 15:04:05Z07:00", "2006-01-02 15:04Z07:00"} {
		if t, err := time.Parse(layout, s); err == nil {
			return t, nil
		}
	}
	return time.Time{}, fmt.Errorf("%q is not a time with its zone; write one such as 2026-03-14T10:30:00+01:00", s)
}

// fetch asks the service and puts the answer into the set of files to write.
func (j *windJob) fetch(ctx context.Context, c *cli.Context, set *outdir.Set) (string, error) {
	q := sources.Request{Service: c.String("service"), When: j.opt.When, Elevation: j.opt.Elevation}
	switch at := c.String("fetch"); {
	case at == "pad" && j.flight != nil:
		q.Place = j.flight.Flight.Site.Pad
	case at == "pad":
		return "", usage.Errorf("--fetch pad needs --flight FLIGHT, whose pad it is; or name a place such as 39.0512,-5.5831")
	default:
		p, err := place.Parse(at)
		if err != nil {
			return "", usage.Errorf("--fetch %v", err)
		}
		q.Place = p
	}
	if q.When.IsZero() {
		return "", usage.Errorf("--fetch needs the launch time; add --when 2026-03-14T10:30:00+01:00")
	}
	if err := q.Check(); err != nil {
		return "", usage.Errorf("--%w", err)
	}
	j.opt.Pad = &q.Place
	raw, err := sources.Fetch(ctx, q)
	if err != nil {
		return "", err
	}
	name := "forecast-" + q.When.UTC().Format("20060102T1504Z") + ".json"
	if j.flight != nil {
		name = filepath.Join(filepath.Dir(j.flight.Path), name)
	}
	if err := set.Bytes(name, raw); err != nil {
		return "", err
	}
	r, err := sources.Read(name, strings.NewReader(string(raw)), j.opt)
	if err != nil {
		return "", err
	}
	j.reports = append(j.reports, r)
	return name, nil
}

// read reads the files and combines what they say.
func (j *windJob) read(files []string) error {
	for _, name := range files {
		in, err := os.Open(name)
		if err != nil {
			var pe *os.PathError
			if errors.As(err, &pe) {
				err = pe.Err
			}
			return fmt.Errorf("%s: %w; name a wind file", name, err)
		}
		r, err := sources.Read(name, in, j.opt)
		in.Close()
		if err != nil {
			return err
		}
		j.reports = append(j.reports, r)
	}
	if len(j.reports) == 0 {
		return nil // the flight's own wind
	}
	var items []sources.Item
	for _, r := range j.reports {
		items = append(items, sources.Item{Report: r})
		j.cautions = append(j.cautions, r.Warnings...)
	}
	var err error
	j.choices, err = sources.Combine(items, j.opt)
	return err
}

// levels are those of the one source as it reports them, or what the winds
// combine to.
func (j *windJob) levels() []sources.Level {
	if len(j.reports) == 1 {
		return j.reports[0].Levels
	}
	return sources.Mean(j.choices, j.opt)
}

// source says in words where the wind is from.
func (j *windJob) source() string {
	if j.flight != nil && len(j.reports) == 0 {
		return "wind of " + j.flight.Flight.ID
	}
	var names []string
	for _, r := range j.reports {
		names = append(names, r.Source)
	}
	return strings.Join(names, "; ")
}

// valid is the time of the newest source, or of the flight.
func (j *windJob) valid() time.Time {
	var t time.Time
	for _, r := range j.reports {
		if r.Valid.After(t) {
			t = r.Valid
		}
	}
	if len(j.reports) == 0 {
		t = j.opt.When
	}
	return t.UTC()
}

// pictures draws the wind into --out, or beside the flight file.
func (j *windJob) pictures(c *cli.Context, set *outdir.Set) error {
	dir := c.String("out")
	if dir == "" && j.flight == nil {
		return nil
	}
	if dir == "" {
		dir = filepath.Join(filepath.Dir(j.flight.Path), "out")
	}
	w := picture.Wind{Title: "Wind: " + j.source(), Choices: j.choices}
	if t := j.valid(); !t.IsZero() {
		w.Note = "valid " + t.Format("2006-01-02 15:04 UTC") + "; shaded: one standard deviation from run to run"
	}
	if len(j.reports) == 1 && j.reports[0].FromLowest {
		w.Above = "the lowest level"
	}
	if j.flight != nil {
		w.Speed, w.TurnDeg = j.flight.Flight.Spread.WindSpeed, j.flight.Flight.Spread.WindDirectionDeg
	}
	for _, f := range []struct {
		name   string
		draw   func(io.Writer, picture.Format, picture.Wind) error
		format picture.Format
	}{
		{"wind.png", picture.Profile, picture.PNG}, {"wind.svg", picture.Profile, picture.SVG},
		{"hodograph.png", picture.Hodograph, picture.PNG}, {"hodograph.svg", picture.Hodograph, picture.SVG},
	} {
		err := set.Write(filepath.Join(dir, f.name), func(out io.Writer) error { return f.draw(out, f.format, w) })
		if err != nil {
			return err
		}
	}
	return nil
}

type windLevel struct {
	Height    float64  `json:"height_m"`
	Elevation *float64 `json:"elevation_m"` // null: the pad's elevation is not known
	From      *float64 `json:"from_deg"`    // null: variable
	Speed     float64  `json:"speed_mps"`
	SD        float64  `json:"sd_mps"`
}

type windAnswer struct {
	Levels      []windLevel `json:"levels"`
	Source      string      `json:"source"`
	Valid       *string     `json:"valid"`
	Gust        *float64    `json:"gust_mps,omitempty"`
	Temperature *float64    `json:"temperature_c,omitempty"`
	QNH         *float64    `json:"qnh_hpa,omitempty"`
	Winds       int         `json:"alternatives"`
	Cautions    []string    `json:"cautions"`
	Files       []string    `json:"files"`
}

func (j *windJob) json() windAnswer {
	a := windAnswer{Levels: []windLevel{}, Source: j.source(), Winds: len(j.choices), Cautions: append([]string{}, j.cautions...), Files: append([]string{}, j.files...)}
	if t := j.valid(); !t.IsZero() {
		s := t.Format(time.RFC3339)
		a.Valid = &s
	}
	for _, l := range j.levels() {
		a.Levels = append(a.Levels, windLevel{round3(l.Height), finite(l.Elevation), finite(l.FromDeg), round3(l.Speed), round3(l.SD)})
	}
	if len(j.reports) == 1 {
		r := j.reports[0]
		scaled := func(v *float64, k, add float64) *float64 {
			if v == nil {
				return nil
			}
			return finite(*v*k + add)
		}
		a.Gust, a.Temperature, a.QNH = scaled(r.Gust, 1, 0), scaled(r.Temperature, 1, -273.15), scaled(r.QNH, 0.01, 0)
	}
	return a
}

func round3(v float64) float64 { return math.Round(v*1000) / 1000 }

// finite is null for NaN.
func finite(v float64) *float64 {
	if math.IsNaN(v) {
		return nil
	}
	v = round3(v)
	return &v
}

// shown is how far up the table on a screen goes; JSON has all levels.
const shown = 4000.0 // m

func (j *windJob) print(out io.Writer) error {
	var b strings.Builder
	fmt.Fprintln(&b, j.source())
	above := "the pad"
	if len(j.reports) == 1 && j.reports[0].FromLowest {
		above = "the lowest level reported"
	}
	if t := j.valid(); !t.IsZero() {
		fmt.Fprintf(&b, "valid %s, ", t.Format("2006-01-02 15:04 UTC"))
	}
	fmt.Fprintf(&b, "heights above %s\n\n%8s %10s %6s %7s %6s %9s\n", above, "height m", "elevation", "from", "m/s", "kn", "+- m/s")
	more := 0
	for _, l := range j.levels() {
		if l.Height > shown {
			more++
			continue
		}
		elevation, from := "-", "VRB"
		if !math.IsNaN(l.Elevation) {
			elevation = fmt.Sprintf("%.0f", l.Elevation)
		}
		if !math.IsNaN(l.FromDeg) {
			from = fmt.Sprintf("%03.0f", l.FromDeg)
		}
		fmt.Fprintf(&b, "%8.0f %10s %6s %7.1f %6.1f %9.1f\n", l.Height, elevation, from, l.Speed, l.Speed/knot, l.SD)
	}
	if more > 0 {
		fmt.Fprintf(&b, "above %.0f m: %d more, which --json has\n", shown, more)
	}
	if n := len(j.choices); n > 1 {
		fmt.Fprintf(&b, "\n%d alternatives, of which each run draws one\n", n)
	}
	if len(j.cautions) > 0 {
		fmt.Fprintln(&b)
	}
	for _, s := range j.cautions {
		fmt.Fprintf(&b, "caution: %s\n", s)
	}
	for _, s := range j.files {
		fmt.Fprintf(&b, "wrote %s\n", s)
	}
	_, err := io.WriteString(out, b.String())
	return err
}

const knot = 1852.0 / 3600 // m/s
