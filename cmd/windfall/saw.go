package main

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"github.com/urfave/cli/v2"

	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/saw"
	"windfall/cmd/windfall/internal/show"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/evidence"
	"windfall/drift/logbook"
)

func sawCommand(e env) *cli.Command {
	return &cli.Command{
		Name: "saw", Usage: "log what was seen of a lost flight", ArgsUsage: "FLIGHT",
		Flags: slices.Concat(
			words("by", "from", "bearing", "elevation", "at", "after", "before", "event", "since", "bearing-sd",
				"elevation-sd", "time-sd",
				"height", "height-sd", "farther-than", "nearer-than", "eye", "looked", "nothing-in", "sure", "note", "logbook"),
			switches("radio", "heard", "list", "anyway", "keep"), entries("amend", "withdraw"), words(saw.CameraWords...),
			words(saw.PhotoWords...), []cli.Flag{horizonFlag(), seedFlag(), jsonFlag()}),
		Action: func(c *cli.Context) error {
			q, err := readSaw(e, c)
			if err != nil {
				return err
			}
			f, err := record.Read(q.source)
			if err != nil {
				return err
			}
			return logSighting(c.Context, e, f, q)
		},
	}
}

// sawRequest is what saw is asked for.
type sawRequest struct {
	source   record.Source
	stamp    record.Stamp
	list     bool
	withdraw int64 // an entry; 0: none
	amend    int64 // an entry; 0: none
	anyway   bool
	json     bool
	given    saw.Words // what the sighting is made of
}

func readSaw(e env, c *cli.Context) (q sawRequest, err error) {
	path, err := onlyArgument(c, "a flight file")
	if err != nil {
		return q, err
	}
	modes := 0
	for _, n := range []string{"amend", "withdraw", "list"} {
		if c.IsSet(n) {
			modes++
		}
	}
	if modes > 1 {
		return q, usage.Errorf("--amend, --withdraw and --list exclude each other; give one")
	}
	q = sawRequest{source: readSource(e, c, path), stamp: readStamp(e, c), list: c.Bool("list"),
		anyway: c.Bool("anyway"), json: c.Bool("json"), given: readGiven(c)}
	for name, to := range map[string]*int64{"amend": &q.amend, "withdraw": &q.withdraw} {
		if *to = c.Int64(name); c.IsSet(name) && *to < 1 {
			return q, usage.Errorf("--%s %d is no entry's number; --list lists them", name, *to)
		}
	}
	return q, nil
}

// readGiven reads the command's flags that were given.
func readGiven(c *cli.Context) saw.Words {
	w := saw.Words{}
	for _, f := range c.Command.Flags {
		if name := f.Names()[0]; c.IsSet(name) {
			w[name] = fmt.Sprint(c.Value(name))
		}
	}
	return w
}

func logSighting(ctx context.Context, e env, f *record.Flight, q sawRequest) error {
	switch {
	case q.list:
		return listLogged(e, f, q.source.Logbook, q.json)
	case q.withdraw != 0:
		entry, err := record.Withdraw(q.source.Logbook, f.File, q.withdraw, q.stamp)
		return answerSaw(e, f, q, entry, err)
	}
	var s evidence.Sighting
	if q.amend != 0 {
		old, by, err := record.OldSighting(q.source.Logbook, f.File, q.amend)
		if err != nil {
			return err
		}
		if s = old; q.stamp.By == "" {
			q.stamp.By = by
		}
	}
	kind := s.Kind
	in, err := saw.Photo(q.given, f)
	if err != nil {
		return usage.Mark(err)
	}
	if in != nil {
		s.Picture = saw.Picture(in)
		if q.given["keep"] == "true" {
			q.stamp.Files = []logbook.File{{Name: "photos/" + in.SHA256[:12] + "-" + in.Name, Bytes: in.Data}}
		}
	}
	if err := saw.Read(q.given, f.File, &s); err != nil {
		return usage.Mark(err)
	}
	if q.amend != 0 && s.Kind.Name() != kind.Name() {
		return usage.Errorf("entry %d is a %s and cannot become a %s: withdraw it and log a new one", q.amend, kind.Name(),
			s.Kind.Name())
	}
	if err := q.check(ctx, e, f, &s); err != nil {
		return err
	}
	entry, caution, err := record.AddSighting(q.source.Logbook, f.File, s, q.amend, q.stamp)
	if caution != "" {
		fmt.Fprintln(e.err, "caution:", caution)
	}
	if err := answerSaw(e, f, q, entry, err); err != nil || in == nil || q.json {
		return err
	}
	return show.Picture(e.out, in.Rests)
}

// horizonFlag marks one or two pixels of the horizon.
func horizonFlag() cli.Flag { return &cli.GenericFlag{Name: "horizon", Value: &texts{}} }

// check refuses what cannot be, and says what hardly can.
func (q sawRequest) check(ctx context.Context, e env, f *record.Flight, s *evidence.Sighting) error {
	if err := s.Ready(); err != nil {
		return usage.Mark(saw.ByFlag(err))
	}
	caution, err := evidence.Check(ctx, f.Input.Model, *s, evidence.Options{Seed: q.stamp.Seed})
	var cannot *evidence.OutOfReach
	switch {
	case errors.As(err, &cannot) && q.anyway:
		caution = cannot.Error()
	case errors.As(err, &cannot):
		return usage.Errorf("%w; --anyway logs it all the same", err)
	case errors.Is(err, context.Canceled):
		return err
	case err != nil:
		return usage.Mark(err)
	}
	if caution != "" {
		fmt.Fprintln(e.err, "caution:", caution)
	}
	return nil
}

// answerSaw answers with the entry that was logged or taken back.
func answerSaw(e env, f *record.Flight, q sawRequest, entry logbook.Entry, err error) error {
	if err != nil {
		return err
	}
	if q.json {
		return show.JSON(e.out, entry)
	}
	p := show.To(e.out)
	if entry.Withdrawn {
		p.F("withdrew %d: %s", entry.ID, record.Sentence(entry))
		return p.Err()
	}
	word := "logged"
	if q.amend != 0 {
		word = "amended"
	}
	p.F("%s %d: %s", word, entry.ID, record.Sentence(entry))
	p.Hint("next: windfall locate %s", f.File.Path)
	return p.Err()
}

// listLogged lists what is logged of a flight: of some kinds, or what was seen.
func listLogged(e env, f *record.Flight, path string, json bool, kinds ...logbook.Kind) error {
	all, err := record.Logged(path, f.File, kinds...)
	if err != nil {
		return err
	}
	if json {
		return show.JSON(e.out, map[string]any{"entries": all})
	}
	p := show.To(e.out)
	if len(all) == 0 {
		p.F("nothing logged for %s", f.Input.Flight.ID)
	}
	for _, x := range all {
		p.F("%4d  %s", x.ID, record.Sentence(x))
	}
	return p.Err()
}
