package show

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"windfall/cmd/windfall/internal/situation"
	"windfall/drift/compare"
	"windfall/drift/rules"
	"windfall/geo/chance"
)

// Summary prints what a person does next with a map: where to go, how
// large the ground is, the chance on our own; then the flight and what may go
// wrong. A screen of 24 lines holds it; Detail has the rest.
func Summary(w io.Writer, r *situation.Summary) error {
	p := To(w)
	p.whereTo(r)
	p.wind(r.Wind)
	p.chances(r.Places, r.EffectiveRuns)
	if r.Prior == nil {
		p.flown(r)
		p.mayFail(r)
	} else {
		p.evidence(r)
	}
	if r.RulesNote != "" {
		p.codes(r)
	}
	for _, part := range r.Parts {
		if part.Landing != nil {
			p.F("%s, should it come off (%.0f %%): %s, 90 %% in %s", part.Name, 100*part.Chance, fromPad(part.Landing.Mean),
				hectares(part.Landing.Within(0.9)))
		}
	}
	if r.Learned != nil {
		p.List("from the logbook", r.Learned.Used)
	}
	p.List("measured", r.Measured)
	p.List("assumed", r.Assumptions)
	p.List("caution", r.Cautions)
	p.Wrote(r.Files)
	return p.Err()
}

// whereTo prints where to go and how large the ground is.
func (p *Printer) whereTo(r *situation.Summary) {
	l := r.Landing
	head := "where it will come down"
	if r.Prior != nil {
		head = "where it came down"
	}
	p.F("%s: %s", r.Flight, head)
	p.F("  go to           %s", placeText(l.Mean))
	p.F("                  %s", fromPad(l.Mean))
	for i, a := range l.Areas {
		if a.Probability != 0.5 && a.Probability != 0.9 {
			continue
		}
		e := l.Ellipses[i]
		p.F("  %2.0f %% within     %s, about %.0f by %.0f m, long toward %03.0f", 100*a.Probability, hectares(a.AreaM2),
			round2(2*e.SemiMajor), round2(2*e.SemiMinor), wholeBearing(e.AzimuthDeg))
	}
}

// wind prints what the kind of wind costs, and what would help most.
func (p *Printer) wind(w *compare.WindWorth) {
	if w == nil {
		return
	}
	times := "no more than"
	if w.Times > 1.15 {
		times = fmt.Sprintf("%.2g times", w.Times)
	}
	p.F("  from            %s: the 90 %% area is %s what a sounding would give", w.Says, times)
	var helps []string
	for _, h := range w.Helps {
		helps = append(helps, fmt.Sprintf("%s (%s)", h.What, hectares(h.Area90)))
	}
	if len(helps) > 0 {
		p.F("  would help      %s", strings.Join(helps, "; "))
	}
}

// round2 rounds to two digits: an area is no better known to who walks it.
func round2(v float64) float64 {
	if v <= 0 {
		return 0
	}
	step := math.Pow(10, math.Floor(math.Log10(v))-1)
	return math.Round(v/step) * step
}

// chances prints the chance on our own ground and of all that is drawn to be
// kept free; what no run reached is one line.
func (p *Printer) chances(places []chance.Chance, runs int) {
	var none []string
	for _, c := range places {
		switch {
		case c.Kind == chance.Cover:
		case c.Probability == 0:
			none = append(none, c.Name)
		case c.Kind == chance.Field:
			p.F("  on our %-8s %s", c.Name, share(c))
		default:
			p.F("  %-15s %s", c.Name, share(c)+worst(c))
		}
	}
	if len(none) > 0 {
		// Rule of three, as in Detail.
		p.F("  in no run       %s (each below %.2g %%)", strings.Join(none, ", "), 300/float64(runs))
	}
}

// share writes a chance as a person says it.
func share(c chance.Chance) string {
	if c.Probability > 0 && c.Probability < 0.001 {
		return "under 0.1 %"
	}
	if c.Probability < 0.1 {
		return fmt.Sprintf("%.1f %%", 100*c.Probability)
	}
	return fmt.Sprintf("%.0f %%", 100*c.Probability)
}

// worst says how much of a chance is a ballistic return: that is no streamer.
func worst(c chance.Chance) string {
	if c.Kind != chance.Place && c.Kind != chance.NoGo && c.Kind != chance.Line {
		return ""
	}
	for _, o := range c.Outcomes {
		if o.Name == "no recovery" && o.Probability > 0.1*c.Probability {
			return fmt.Sprintf(", %.0f %% of it with nothing open", 100*o.Probability/c.Probability)
		}
	}
	return ""
}

// flown prints the flight as designed in three lines.
func (p *Printer) flown(r *situation.Summary) {
	n := r.Nominal
	p.F("")
	p.F("as designed: off the rail at %.1f m/s, apogee %.0f m after %.1f s", n.RailExit, n.Apogee, n.ApogeeS)
	if n.EjectionV != nil {
		p.F("  first device out at %.0f m/s through the air", *n.EjectionV)
	} else {
		p.F("  nothing opens")
	}
	p.F("  sinks %.1f m/s and the wind carries it at %.1f; down after %.0f s, %s", n.Sink, n.Carried, n.LandingS,
		fromPad(n.Landing))
}

// mayFail prints the outcomes and what spreads the landings.
func (p *Printer) mayFail(r *situation.Summary) {
	p.F("how it may go")
	for _, o := range r.Outcomes {
		where := "in no run"
		if o.Mean != nil {
			where = fromPad(*o.Mean)
		}
		p.F("  %-15s %5.1f %%  %s", o.Name, 100*o.Probability, where)
	}
	var causes []string
	for _, x := range r.Sensitivity {
		if x.Share >= 0.05 && x.Name != "together" {
			causes = append(causes, fmt.Sprintf("%s %.0f %%", x.Name, 100*x.Share))
		}
	}
	if len(causes) > 0 {
		p.F("spread by: %s", strings.Join(causes, ", "))
	}
}

// evidence prints what the sightings changed, in words.
func (p *Printer) evidence(r *situation.Summary) {
	p.F("")
	p.F("what was seen: 90 %% within %s before, %s now", hectares(r.Prior.Landing.Within(0.9)),
		hectares(r.Landing.Within(0.9)))
	for _, s := range r.Sightings {
		note := fmt.Sprintf("without it %s", hectares(s.AreaWithout))
		if s.Disagrees {
			note = "DISAGREES with the rest; " + note
		}
		p.F("  %3d  %s: %s", s.ID, s.What, note)
	}
	var went []string
	for k, o := range r.Outcomes {
		if math.Abs(o.Probability-r.Prior.Outcomes[k].Probability) > 0.01 {
			went = append(went, fmt.Sprintf("%s %.0f %% (before %.0f)", o.Name, 100*o.Probability,
				100*r.Prior.Outcomes[k].Probability))
		}
	}
	if len(went) > 0 {
		p.F("  how it went     %s", strings.Join(went, ", "))
	}
	var likely []string
	for _, c := range r.Changes {
		if c.Words != "" {
			likely = append(likely, c.Words)
		}
	}
	if len(likely) > 0 {
		p.F("  likely          %s", strings.Join(likely, ", "))
	}
}

// codes prints what of the codes the flight is outside of, and the note.
func (p *Printer) codes(r *situation.Summary) {
	p.figures(r.Rules, r.RulesNote, "--detail")
	if s := r.Sun; s != nil && s.Sunset != nil && s.CivilDusk != nil {
		p.F("lands in %s; sunset %s, end of civil twilight %s", r.Light, s.Sunset.Format("15:04"),
			s.CivilDusk.Format("15:04"))
	}
}

// figures prints what of the codes a flight is outside of, and the note; all
// names the flag that shows every figure.
func (p *Printer) figures(found []rules.Finding, note, all string) {
	p.F("")
	if len(found) == 0 {
		p.F("%s", note)
		return
	}
	outside := slices.DeleteFunc(slices.Clone(found), func(f rules.Finding) bool { return f.Within })
	p.F("within %d of %d figures of the codes compared (%s lists them); %s", len(found)-len(outside), len(found), all,
		note)
	for _, f := range outside {
		p.F("  %s", f)
	}
}
