package record

import (
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"windfall/cmd/windfall/internal/measured"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/evidence"
	"windfall/drift/logbook"
	"windfall/geo/place"
)

// List writes what a query chooses in a format: csv, geojson or json; "": lines
// for people. As text and without any choice it lists the flights, and a flight
// chosen alone is shown whole.
func List(w io.Writer, b *logbook.Book, q logbook.Query, f string) error {
	filtered := q.By != "" || len(q.Kinds) > 0 || !q.Since.IsZero() || !q.Until.IsZero() || q.Withdrawn
	if f == "" && !filtered {
		if q.Flight == "" {
			return printFlights(w, b)
		}
		return printFlight(w, b, q.Flight)
	}
	entries, err := b.Entries(q)
	if err != nil {
		return err
	}
	switch f {
	case "csv":
		return logbook.WriteCSV(w, entries)
	case "geojson":
		return logbook.WriteGeoJSON(w, entries)
	case "json":
		return listJSON(w, b, q, entries)
	}
	for _, x := range entries {
		if err := PrintEntry(w, x); err != nil {
			return err
		}
	}
	return nil
}

// storedInputs is the JSON of inputs, without the files' bytes.
type storedInputs struct {
	ID      int64             `json:"id"`
	When    string            `json:"when"`
	Version string            `json:"version"`
	Seed    uint64            `json:"seed"`
	Runs    int               `json:"runs"`
	Learned int64             `json:"learned,omitempty"`
	Files   map[string]string `json:"files"` // name to SHA-256
}

// storedNote is the JSON of a note from the field.
type storedNote struct {
	Kind string          `json:"kind"`
	By   string          `json:"by"`
	When string          `json:"when"`
	Body json.RawMessage `json:"body"`
}

// listJSON lists flights and entries; of one flight, its inputs too.
func listJSON(w io.Writer, b *logbook.Book, q logbook.Query, entries []logbook.Entry) error {
	out := struct {
		Entries []logbook.Entry     `json:"entries"`
		Flights []logbook.FlightRow `json:"flights"`
		Inputs  []storedInputs      `json:"inputs,omitempty"`
		Notes   []storedNote        `json:"notes,omitempty"`
	}{append([]logbook.Entry{}, entries...), []logbook.FlightRow{}, nil, nil}
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
			out.Inputs = append(out.Inputs, storedInputs{in.ID, in.When.Format(time.RFC3339), in.Version, in.Seed, in.Runs,
				in.Learned, files})
		}
		ch, err := b.Since(q.Flight, 0)
		if err != nil {
			return err
		}
		for _, n := range ch.Notes {
			out.Notes = append(out.Notes, storedNote{n.Kind, n.By, n.When.Format(time.RFC3339Nano), n.Body})
		}
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	return enc.Encode(out)
}

// minute is how a time is shown: in the local zone, named.
const minute = "2006-01-02 15:04 MST"

func printFlights(w io.Writer, b *logbook.Book) error {
	flights, err := b.Flights()
	if err != nil {
		return err
	}
	if len(flights) == 0 {
		_, err := fmt.Fprintln(w, "the logbook is empty")
		return err
	}
	some := slices.ContainsFunc(flights, func(f logbook.FlightRow) bool { return f.Measured > 0 })
	judged := slices.ContainsFunc(flights, func(f logbook.FlightRow) bool { return f.Judged != nil })
	head := fmt.Sprintf("%-24s %-17s %9s %6s %5s", "flight", "ignition", "sightings", "tracks", "finds")
	if some {
		head += "  measured"
	}
	if judged {
		head += "  the last find lay"
	}
	fmt.Fprintln(w, head)
	for _, f := range flights {
		at := "-"
		if !f.Launched.IsZero() {
			at = f.Launched.Local().Format(minute)
		}
		line := fmt.Sprintf("%-24s %-17s %9d %6d %5d", f.ID, at, f.Sightings, f.Tracks, f.Finds)
		if some {
			line += fmt.Sprintf(" %9d", f.Measured)
		}
		if judged {
			line += "  " + judgement(f.Judged)
		}
		if _, err := fmt.Fprintln(w, strings.TrimRight(line, " ")); err != nil {
			return err
		}
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
	said, err := b.Since(id, 0)
	if err != nil {
		return err
	}
	if len(entries) == 0 && len(ins) == 0 && len(said.Notes) == 0 {
		return usage.Errorf("the logbook has no flight %q; 'windfall log' lists those it has", id)
	}
	fmt.Fprintln(w, id)
	for _, in := range ins {
		printInputs(w, in)
	}
	for _, x := range entries {
		if err := PrintEntry(w, x); err != nil {
			return err
		}
		if x.Revision == 1 {
			continue
		}
		history, err := b.History(x.ID)
		if err != nil {
			return err
		}
		printHistory(w, x, history)
	}
	return printNotes(w, said.Notes)
}

// printNotes shows what was said in the field, each on one line.
func printNotes(w io.Writer, notes []logbook.Note) error {
	for _, n := range notes {
		text := strings.TrimRight(fmt.Sprintf(" note  %s  %s by %s  %s", n.When.Local().Format(minute), n.Kind,
			orNobody(n.By), brief(n.Body)), " ")
		if _, err := fmt.Fprintln(w, text); err != nil {
			return err
		}
	}
	return nil
}

func printInputs(w io.Writer, in logbook.Inputs) {
	runs, learned := "auto", ""
	if in.Runs != 0 {
		runs = fmt.Sprint(in.Runs)
	}
	if in.Learned != 0 {
		learned = fmt.Sprintf(", with learning %d", in.Learned)
	}
	fmt.Fprintf(w, "inputs %d  %s  version %s, seed %d, %s runs%s\n", in.ID, in.When.Local().Format(minute), in.Version,
		in.Seed, runs, learned)
	for _, f := range in.Files {
		fmt.Fprintf(w, "    %s  %d bytes  sha256 %.12s\n", f.Name, f.Size, f.SHA256)
	}
}

// printHistory shows the revisions of an entry, each with what it replaced.
func printHistory(w io.Writer, x logbook.Entry, history []logbook.Revision) {
	x.Judged = nil // of what it says now
	for i, h := range history {
		was := ""
		if x.Body = h.Body; i+1 < len(history) {
			was = "  " + sentence(x)
		}
		fmt.Fprintf(w, "    %s %s %s%s\n", h.State, h.When.Local().Format(minute), orNobody(h.By), was)
	}
}

// PrintEntry writes an entry on one line.
func PrintEntry(w io.Writer, x logbook.Entry) error {
	state := ""
	if x.Withdrawn {
		state = "  withdrawn"
	}
	_, err := fmt.Fprintf(w, "%5d  %s  %s  %s%s\n", x.ID, x.When.Local().Format(minute), x.Flight, sentence(x), state)
	return err
}

// sentence says an entry as a person would.
func sentence(x logbook.Entry) string {
	switch x.Kind {
	case logbook.Track:
		if l, ok := decodeLook(x); ok {
			return l.sentence(x.By)
		}
		var t Track
		if json.Unmarshal(x.Body, &t) != nil {
			break
		}
		s := fmt.Sprintf("%s went over %.1f km without a find, sweep width %.0f m", orNobody(x.By), t.LengthM/1000,
			t.SweepWidth)
		if t.Minutes > 0 {
			s += fmt.Sprintf(", in %.0f min", t.Minutes)
		}
		return s
	case logbook.Find:
		var f Find
		if json.Unmarshal(x.Body, &f) != nil {
			break
		}
		s := findSentence(x.By, f)
		if j := judgement(x.Judged); j != "" {
			s += "; " + j
		}
		return s
	case logbook.Measured:
		if m, err := measured.Decode(x.Body); err == nil {
			return m.Sentence(x.By)
		}
	default:
		if s, ok, err := evidence.Decode(x.ID, x.By, string(x.Kind), x.Body); ok && err == nil {
			if x.By == "" {
				return "(no name): " + s.String()
			}
			return s.String()
		}
	}
	return fmt.Sprintf("%s by %s: %s", x.Kind, orNobody(x.By), brief(x.Body))
}

// findSentence says a find and how the flight had gone.
func findSentence(by string, f Find) string {
	what := "it"
	if f.Part != "" {
		what = "the " + f.Part
	}
	s := fmt.Sprintf("%s found %s at %s", orNobody(by), what, place.Format(f.At(), place.Decimal))
	if f.Outcome != "" {
		s += ", " + f.Outcome
	}
	if f.LooksLike != "" {
		s += ", " + f.LooksLike
	}
	if f.Unconfirmed {
		s += fmt.Sprintf(" in a picture, candidate %d, not confirmed on foot", f.Candidate)
	}
	return s
}

// judgement says how well a map had done for a find; "" where it is not known.
func judgement(judged json.RawMessage) string {
	var j struct {
		Miss   *float64  `json:"miss_m"`
		Inside []float64 `json:"inside"`
		Before *float64  `json:"level_before_tracks"`
	}
	if json.Unmarshal(judged, &j) != nil || j.Miss == nil {
		return ""
	}
	area := "outside the 95 % area"
	if len(j.Inside) > 0 {
		area = fmt.Sprintf("inside the %.0f %% area", 100*slices.Min(j.Inside))
	}
	before := ""
	if j.Before != nil {
		before = fmt.Sprintf(" of the ground not yet searched, at level %.3f before the tracks", *j.Before)
	}
	return fmt.Sprintf("%s%s, %.0f m from the map's middle", area, before, *j.Miss)
}

// brief shows a body on one line, cut where it is long.
func brief(body json.RawMessage) string {
	s := strings.NewReplacer(`"`, "", "{", "", "}", "", ",", " ").Replace(string(body))
	if r := []rune(s); len(r) > 100 {
		s = string(r[:97]) + "..."
	}
	return s
}

func orNobody(by string) string {
	if by == "" {
		return "(no name)"
	}
	return by
}
