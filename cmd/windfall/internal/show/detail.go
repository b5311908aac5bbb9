package show

import (
	"fmt"
	"io"
	"math"
	"strings"

	"windfall/cmd/windfall/internal/situation"
	"windfall/geo/chance"
)

// Detail prints all of a map's summary for people.
func Detail(w io.Writer, r *situation.Summary) error {
	p := To(w)
	p.F("flight %s, %d runs, seed %d", r.Flight, r.Runs, r.Seed)
	p.nominal(r)
	p.landing(r)
	p.F("")
	p.F("how it may go")
	for _, o := range r.Outcomes {
		where := "in no run"
		if o.Mean != nil {
			where = fromPad(*o.Mean)
		}
		p.F("  %-16s  %s  %s", o.Name, percent(o.Probability, o.SE), where)
	}
	p.weighing(r)
	if len(r.Sensitivity) > 0 {
		p.F("")
		p.F("what spreads it, by share of the variance")
		for _, x := range r.Sensitivity {
			if x.Share >= 0.01 {
				p.F("  %-24s %3.0f %%", x.Name, 100*x.Share)
			}
		}
	}
	if len(r.Places) > 0 {
		p.F("")
		p.F("chances by place")
		for _, c := range r.Places {
			p.chance(c, r.EffectiveRuns)
		}
	}
	p.beforeLaunch(r)
	for _, part := range r.Parts {
		p.F("")
		if part.Landing == nil {
			p.F("%s: no flight lasted until it could come off", part.Name)
			continue
		}
		p.F("%s, should it come off (%.0f %%): %s, 90 %% in %s", part.Name, 100*part.Chance, fromPad(part.Landing.Mean),
			hectares(part.Landing.Within(0.9)))
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

// nominal prints the flight as designed.
func (p *Printer) nominal(r *situation.Summary) {
	n := r.Nominal
	p.F("")
	p.F("as designed")
	p.F("  leaves the rail   %.1f m/s along it (wind there %.1f m/s)", n.RailExit, n.RailExitWind)
	p.F("  burnout           %.1f s", n.Burnout)
	p.F("  apogee            %.0f m above the pad at %.1f s", n.Apogee, n.ApogeeS)
	if n.Ejection != nil {
		p.F("  ejection          %.1f s", *n.Ejection)
	}
	if n.EjectionV != nil {
		p.F("  first device out  at %.1f m/s through the air", *n.EjectionV)
	}
	p.F("  touches down      at %.1f s, sinking %.1f m/s and carried along at %.1f m/s, %s",
		n.LandingS, n.Sink, n.Carried, fromPad(n.Landing))
}

// landing prints the map's middle, areas and ellipses.
func (p *Printer) landing(r *situation.Summary) {
	l := r.Landing
	p.F("")
	p.F("where it comes down, everything that varies and fails counted")
	p.F("  middle            %s, known to %.1f m", fromPad(l.Mean), math.Hypot(l.MeanSE.East, l.MeanSE.North))
	p.F("                    %s", placeText(l.Mean))
	for i, a := range l.Areas {
		e := l.Ellipses[i]
		p.F("  %2.0f %% in           %-10s ellipse %.0f by %.0f m half axes (+- %.1f, %.1f), long axis toward %03.0f",
			100*a.Probability, hectares(a.AreaM2), e.SemiMajor, e.SemiMinor, e.MajorSE, e.MinorSE, e.AzimuthDeg)
	}
}

// weighing prints what the sightings changed.
func (p *Printer) weighing(r *situation.Summary) {
	if r.Prior == nil {
		return
	}
	p.F("")
	p.F("what the sightings changed")
	p.F("  90 %% in           %s before, %s after", hectares(r.Prior.Landing.Within(0.9)), hectares(r.Landing.Within(0.9)))
	for k, o := range r.Prior.Outcomes {
		p.F("  %-16s  %5.1f %% before, %5.1f %% after", o.Name, 100*o.Probability, 100*r.Outcomes[k].Probability)
	}
	for _, v := range r.Changes {
		p.F("  %-40s %.3g (+- %.2g) before, %.3g (+- %.2g) after", v.Name, v.Before, v.BeforeSD, v.After, v.AfterSD)
	}
	p.F("")
	p.F("what each sighting did")
	for _, s := range r.Sightings {
		var notes []string
		if s.MovedMost && len(r.Sightings) > 1 {
			notes = append(notes, "moved the map most")
		}
		if s.Disagrees {
			notes = append(notes, "DISAGREES with the rest")
		}
		p.F("  %3d  %s", s.ID, s.What)
		p.F("       moved %.0f %% of the chance; without it 90 %% in %s; a mistake: %s  %s",
			100*s.Moved, hectares(s.AreaWithout), strings.TrimSpace(percent(s.Mistake, s.SE)), strings.Join(notes, ", "))
	}
}

// beforeLaunch prints what matters before a launch: the figures of the codes
// and the light.
func (p *Printer) beforeLaunch(r *situation.Summary) {
	if r.RulesNote == "" {
		return
	}
	p.F("")
	p.F("figures of the codes")
	for _, f := range r.Rules {
		p.F("  %s", f)
	}
	p.F("  %s", r.RulesNote)
	if s := r.Sun; s != nil && s.Sunset != nil && s.CivilDusk != nil {
		p.F("  lands in %s; sunset %s, end of civil twilight %s", r.Light, s.Sunset.Format("15:04"),
			s.CivilDusk.Format("15:04"))
	}
}

// chance prints the chance of a place with its error and, where people or
// traffic may be, the outcomes it comes with: a ballistic return is not a
// streamer.
func (p *Printer) chance(c chance.Chance, runs int) {
	if c.Probability == 0 {
		// Rule of three: none of n runs leaves 3/n at 95 % (Hanley and
		// Lippman-Hand 1983, JAMA 249).
		p.F("  %-24s   none of %d runs: below %.2g %%", c.Name, runs, 300/float64(runs))
		return
	}
	var parts []string
	if c.Kind == chance.Place || c.Kind == chance.NoGo || c.Kind == chance.Line {
		for _, o := range c.Outcomes {
			parts = append(parts, fmt.Sprintf("%s %.2g %%", o.Name, 100*o.Probability))
		}
	}
	by := ""
	if len(parts) > 0 {
		by = "  of which " + strings.Join(parts, ", ")
	}
	p.F("  %-24s %s%s", c.Name, percent(c.Probability, c.SE), by)
}
