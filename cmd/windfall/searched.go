package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strings"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/outdir"
	"windfall/drift/logbook"
	"windfall/geo/mapfile"
	"windfall/search"
	"windfall/search/track"
)

const searchedHelp = `Logs ground that was gone over without a find, from the track a phone or a drone
recorded, and shows what is left:

  windfall searched flight.yaml walk.gpx --by east

Gaps, fixes that jump and stretches faster than anybody searches (a forgotten
recorder in a car) are left out and said. --by names a searcher of the flight
file; anybody else counts as a walker. A track that was logged already is
refused; windfall log --withdraw ID takes one back.`

func searchedCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "searched", Usage: "log ground covered without a find, then show what is left", ArgsUsage: "FLIGHT TRACK.gpx", Description: searchedHelp,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "by", Usage: "who went there: a searcher of the flight file, or any name"},
			&cli.BoolFlag{Name: "again", Usage: "log a track that is logged already once more"},
			detectionFlag(), jsonFlag(), seedFlag(), outFlag(), runsFlag(), logbookFlag(), noLearningFlag(),
		},
		Action: func(c *cli.Context) error { return runSearched(e, c) },
	}
}

// leftResult is what a track changed and what is left.
type leftResult struct {
	POS        float64       `json:"probability_of_success"` // of this track, on the map before it
	POSTotal   float64       `json:"probability_of_success_total"`
	Outside    float64       `json:"outside_map"` // odds that it is outside altogether
	WasOutside float64       `json:"outside_map_before"`
	Moved      float64       `json:"mean_moved_m"`
	Landing    landingResult `json:"landing"`
	Outcomes   []leftOutcome `json:"outcomes"`
	NextHour   *nextHour     `json:"next_hour"`
	Advice     string        `json:"advice"`
}

type leftOutcome struct {
	Name        string  `json:"name"`
	Probability float64 `json:"probability"`
	Was         float64 `json:"was"`
}

// nextHour is what another hour of the flight's searchers would buy.
type nextHour struct {
	POS        float64 `json:"probability_of_success"`
	UpperBound float64 `json:"upper_bound"`
}

func runSearched(e env, c *cli.Context) error {
	args := c.Args().Slice()
	if len(args) != 2 {
		return wrongf("windfall searched needs a flight file and a track, such as: windfall searched flight.yaml walk.gpx --by east")
	}
	law, err := lawFlag(c)
	if err != nil {
		return err
	}
	f, m, err := loadPath(c, args[0])
	if err != nil {
		return err
	}
	body, err := readTrack(c, f, args[1])
	if err != nil {
		return err
	}
	before, err := situated(c, e, f, m)
	if err != nil {
		return err
	}
	lines, err := body.lines(before.cloud.Frame)
	if err != nil {
		return err
	}
	passes := search.Passes(lines, body.Searcher.searcher(c.String("by")), f.Target, f.Ground)
	for _, p := range passes {
		body.SweepWidth += p.Width * p.B.Sub(p.A).Norm() / body.LengthM
	}
	after, pos, err := before.without(law, passes)
	if err != nil {
		return wrong{err}
	}
	if pos < 1e-9 {
		body.Notes = append(body.Notes, "the track touches no likely ground")
	}
	for _, l := range lines {
		after.covered = append(after.covered, mapfile.Strip{By: orNobody(c.String("by")), Path: l, Width: body.SweepWidth})
	}
	after.foundBy = 1 - (1-before.foundBy)*(1-pos)
	left, err := leftAfter(c, before, after, pos)
	if err != nil {
		return err
	}
	set := outdir.Open(outFolder(c, f))
	defer set.Discard()
	r, err := after.summarise()
	if err != nil {
		return err
	}
	if err := after.landingFiles(set, r); err != nil {
		return err
	}
	entry, err := logTrack(e, c, f, body)
	if err != nil {
		return err
	}
	files, err := set.Commit()
	if err != nil {
		return fmt.Errorf("the track is logged as %d, but its map files were not written: %w", entry.ID, err)
	}
	if c.Bool("json") {
		return writeEntryWith(e, entry, map[string]any{"left": left, "files": files})
	}
	return printSearched(e, f, entry, body, left, files)
}

// readTrack reads and cleans the GPX file.
func readTrack(c *cli.Context, f *flightfile.File, path string) (*trackBody, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, wrongf("%s: %v", path, errReason(err))
	}
	defer file.Close()
	t, err := track.Read(file, path)
	if err != nil {
		return nil, wrong{err}
	}
	who := oneWalker
	var notes []string
	by := c.String("by")
	known := false
	var names []string
	for _, s := range f.Searchers {
		names = append(names, s.Name)
		if s.Name == by {
			who, known = s, true
		}
	}
	if !known && len(names) > 0 {
		notes = append(notes, fmt.Sprintf("%q is not a searcher of the flight file (%s): taken for a walker", by, strings.Join(names, ", ")))
	}
	w, err := track.Clean(t, f.Frame, track.Limit(who.Kind == search.Drone, who.Speed))
	if err != nil {
		return nil, wrongf("%s: %w", path, err)
	}
	return &trackBody{
		Geometry: trackGeometry(f.Frame, w.Lines), LengthM: w.Metres, Minutes: w.Seconds / 60, Notes: append(notes, w.Notes...),
		Searcher: trackSearcher{who.Kind, who.Speed, who.Height, who.FieldDeg, who.Pixels},
	}, nil
}

func errReason(err error) string {
	if os.IsNotExist(err) {
		return "no such file"
	}
	return err.Error()
}

// logTrack writes the entry unless the same ways are logged already.
func logTrack(e env, c *cli.Context, f *flightfile.File, body *trackBody) (entry logbook.Entry, err error) {
	text, err := json.Marshal(body)
	if err != nil {
		return entry, err
	}
	in, err := inputsOf(f, e.now(), c.Uint64("seed"), 0, f.Learned.ID)
	if err != nil {
		return entry, err
	}
	b, err := logbook.Open(logbookPath(e, c))
	if err != nil {
		return entry, err
	}
	defer b.Close()
	old, err := b.Entries(logbook.Query{Flight: f.Flight.ID, Kinds: []logbook.Kind{logbook.Track}})
	if err != nil {
		return entry, err
	}
	mine, err := json.Marshal(body.Geometry)
	if err != nil {
		return entry, err
	}
	for _, x := range old {
		var was trackBody
		if json.Unmarshal(x.Body, &was) != nil {
			continue
		}
		if theirs, err := json.Marshal(was.Geometry); err == nil && string(theirs) == string(mine) && !c.Bool("again") {
			return entry, wrongf("this track is logged already, as entry %d; --again counts it a second time", x.ID)
		}
	}
	got, err := b.Add(in, logbook.Entry{Flight: f.Flight.ID, Kind: logbook.Track, By: c.String("by"), When: e.now(), Body: text})
	if err != nil {
		return entry, err
	}
	return got[0], nil
}

// leftAfter compares the map before and after a track and plans another hour.
func leftAfter(c *cli.Context, before, after *situation, pos float64) (*leftResult, error) {
	l := &leftResult{
		POS: pos, POSTotal: after.foundBy, Outside: after.chances.Outside, WasOutside: before.chances.Outside,
		Moved:   after.moments.Mean.Sub(before.moments.Mean).Norm(),
		Landing: landingOf(after.model.Frame(), after.moments, after.chances),
	}
	now, was := outcomeChances(after.cloud), outcomeChances(before.cloud)
	for k, o := range after.cloud.Outcomes {
		l.Outcomes = append(l.Outcomes, leftOutcome{o.Name, now[k], was[k]})
	}
	who := append([]search.Searcher(nil), after.file.Searchers...)
	if len(who) == 0 {
		who = []search.Searcher{oneWalker}
	}
	for i := range who {
		who[i].Available, who[i].Joins = 3600, 0
	}
	law, err := lawFlag(c)
	if err != nil {
		return nil, err
	}
	plan, err := search.Make(c.Context, search.Problem{
		Map: after.chances, Searchers: who, Target: after.file.Target, Ground: after.file.Ground,
		Terrain: after.file.Flight.Terrain, Law: law, Wind: after.windAt(),
	}, search.Options{Seed: c.Uint64("seed")})
	switch {
	case err == nil:
		l.NextHour = &nextHour{plan.POS, plan.UpperBound}
	case c.Context.Err() != nil:
		return nil, c.Context.Err()
	}
	l.Advice = advice(l)
	return l, nil
}

// Bounds of the advice to stop: choices of ours, no source.
const (
	littleHour  = 0.05 // POS of another hour under which it buys next to nothing
	muchOutside = 0.5  // odds that the map itself is wrong
)

// advice says whether going on makes sense.
func advice(l *leftResult) string {
	switch {
	case l.Outside >= muchOutside:
		return "it is more likely outside the map than in it: stop, and think again about what was seen and assumed"
	case l.NextHour == nil:
		return "no plan can be made for another hour: see windfall search"
	case l.NextHour.POS < littleHour:
		return "another hour buys next to nothing: stopping is reasonable"
	}
	return "going on is worth while: windfall search plans it from here"
}

// writeEntryWith writes an entry's JSON with more keys.
func writeEntryWith(e env, entry logbook.Entry, more map[string]any) error {
	b, err := json.Marshal(entry)
	if err != nil {
		return err
	}
	out := map[string]json.RawMessage{}
	if err := json.Unmarshal(b, &out); err != nil {
		return err
	}
	for k, v := range more {
		if out[k], err = json.Marshal(v); err != nil {
			return err
		}
	}
	return writeJSON(e.out, out)
}

func printSearched(e env, f *flightfile.File, entry logbook.Entry, b *trackBody, l *leftResult, files []string) error {
	p := &printer{w: e.out}
	p.f("logged %d: %.1f km gone over by %s, sweep width %.0f m", entry.ID, b.LengthM/1000, orNobody(entry.By), b.SweepWidth)
	p.f("  this track        would have found it with %.1f %%; all tracks together with %.1f %%", 100*l.POS, 100*l.POSTotal)
	p.f("  the middle        has moved by %.0f m, to %s", l.Moved, fromPad(l.Landing.Mean))
	p.f("  50 / 90 %% in      %s / %s", hectares(l.Landing.Areas[0].AreaM2), hectares(l.Landing.Areas[2].AreaM2))
	p.f("  outside the map   %.2f %%, before it %.2f %%", 100*l.Outside, 100*l.WasOutside)
	for _, o := range l.Outcomes {
		if math.Abs(o.Probability-o.Was) >= 0.005 {
			p.f("  %-17s %.1f %%, before it %.1f %%", o.Name, 100*o.Probability, 100*o.Was)
		}
	}
	if l.NextHour != nil {
		p.f("  another hour      finds it with %.0f %% (no plan: more than %.0f %%)", 100*l.NextHour.POS, 100*l.NextHour.UpperBound)
	}
	p.f("%s", l.Advice)
	p.f("next: windfall search %s", f.Path)
	p.list("note", b.Notes)
	p.list("wrote", files)
	return p.err
}
