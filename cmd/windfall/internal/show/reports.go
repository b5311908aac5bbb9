package show

import (
	"io"
	"math"

	"windfall/cmd/windfall/internal/report"
	"windfall/cmd/windfall/internal/situation"
	"windfall/geo/quantity"
)

// Found prints a find that was logged.
func Found(w io.Writer, a *report.Found) error {
	p := To(w)
	what := a.Flight
	if a.Part != "" {
		what += ", " + a.Part
	}
	p.F("%s found %s: entry %d", what, fromPad(a.Place), a.ID)
	if a.Judgement != nil {
		p.judgement(a.Judgement)
	}
	switch {
	case a.Plan == nil:
	case a.Plan.First == nil:
		p.F("  the plan          would not have passed it")
	default:
		p.F("  the plan          passes it first after %.0f min and finds it with %s, on average after %.0f min",
			*a.Plan.First, quantity.Chance(a.Plan.Probability, 0), *a.Plan.Mean)
	}
	if a.Judgement == nil || a.Judgement.Beyond == nil {
		p.Hint("")
		p.Hint("windfall learn refits the spreads with it")
	}
	p.List("caution", a.Caution)
	return p.Err()
}

// judgement prints how well the map had done.
func (p *Printer) judgement(j *situation.Judgement) {
	p.F("  miss              %.0f m from the map's middle, on bearing %03.0f: %.1f standard deviations", j.Miss,
		wholeBearing(j.Bearing), j.MissSD)
	p.F("  level             %.3f: the area of this probability just reaches it", j.Level)
	if len(j.Inside) == 0 {
		p.F("                    outside the 95 %% area")
	} else {
		p.F("                    inside the %.0f %% area", 100*j.Inside[0])
	}
	if j.Beyond != nil {
		p.F("  explained by      nothing: two standard deviations of all inputs together reach %.0f m that way", *j.Beyond)
		p.F("                    check the place, and that it is of this flight")
	}
	for i, s := range j.Causes {
		head := ""
		if i == 0 {
			head = "explained by"
		}
		p.F("  %-17s %-12s %4.0f m likely, up to %.0f m within two standard deviations", head, s.Cause, s.Likely, s.Could)
	}
}

// Searched prints what a track of a flight file at path changed, and the files
// written.
func Searched(w io.Writer, path string, a *report.Searched, files []string) error {
	p := To(w)
	p.F("logged %d: %.1f km gone over by %s, sweep width %.0f m", a.Entry.ID, a.Track.LengthM/1000,
		orNobody(a.Entry.By), a.Track.SweepWidth)
	if l := a.Left; l != nil {
		p.F("  this track        would have found it with %s; all tracks together with %s", quantity.Chance(l.POS, 1),
			quantity.Chance(l.POSTotal, 1))
		p.F("  the middle        has moved by %.0f m, to %s", l.Moved, fromPad(l.Landing.Mean))
		p.F("  50 / 90 %% in      %s / %s", hectares(l.Landing.Within(0.5)), hectares(l.Landing.Within(0.9)))
		p.F("  outside the map   %s, before it %s", quantity.Chance(l.Outside, 2), quantity.Chance(l.WasOutside, 2))
		for _, o := range l.Outcomes {
			if math.Abs(o.Probability-o.Was) >= 0.005 {
				p.F("  %-17s %.1f %%, before it %.1f %%", o.Name, 100*o.Probability, 100*o.Was)
			}
		}
		if l.NextHour != nil {
			p.F("  another hour      finds it with %s; %s", quantity.Chance(l.NextHour.POS, 0), noBetter(l.NextHour.UpperBound))
		}
		p.F("%s", l.Advice)
	}
	p.Hint("next: windfall search %s", path)
	p.List("note", a.Track.Notes)
	p.List("caution", a.Caution)
	p.Wrote(files)
	return p.Err()
}

// Measured prints a measurement of a flight file at path that was logged or
// taken back, said in a sentence.
func Measured(w io.Writer, sentence string, m *report.Measured, path string) error {
	p := To(w)
	word := "logged"
	if m.Entry.Withdrawn {
		word = "withdrew"
	}
	p.F("%s %d: %s", word, m.Entry.ID, sentence)
	if r := m.Result; r != nil {
		p.F("  drag area       %.4g m2; it sank toward %.1f m/s", r.AreaM2, r.SinksMps)
	}
	if len(m.Later) == 0 {
		p.F("  later maps      take nothing from what was measured")
	}
	for _, s := range m.Later {
		p.F("  later maps      %s", s)
	}
	p.Hint("next: windfall predict %s", path)
	p.List("caution", m.Caution)
	return p.Err()
}
