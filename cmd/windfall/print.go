package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"windfall/geo"
	"windfall/geo/place"
	"windfall/geo/quantity"
)

// printResult prints a result for people.
func printResult(w io.Writer, s *situation, r *result) error {
	p := &printer{w: w}
	n := r.Nominal
	p.f("flight %s, %d runs, seed %d", r.Flight, r.Runs, r.Seed)
	p.f("")
	p.f("as designed")
	p.f("  leaves the rail   %.1f m/s along it (wind there %.1f m/s)", n.RailExit, n.RailExitWind)
	p.f("  burnout           %.1f s", n.Burnout)
	p.f("  apogee            %.0f m above the pad at %.1f s", n.Apogee, n.ApogeeS)
	if n.Ejection != nil {
		p.f("  ejection          %.1f s", *n.Ejection)
	}
	if n.EjectionV != nil {
		p.f("  first device out  at %.1f m/s through the air", *n.EjectionV)
	}
	p.f("  touches down      at %.1f s, %.1f m/s over the ground, %s", n.LandingS, n.LandingV, fromPad(n.Landing))
	p.f("")
	p.f("where it comes down, everything that varies and fails counted")
	p.f("  middle            %s, known to %.1f m", fromPad(r.Landing.Mean), math.Hypot(r.Landing.MeanSE.East, r.Landing.MeanSE.North))
	p.f("                    %s", s.placeText(r.Landing.Mean))
	for i, a := range r.Landing.Areas {
		e := r.Landing.Ellipses[i]
		p.f("  %2.0f %% in           %-10s ellipse %.0f by %.0f m half axes (+- %.1f, %.1f), long axis toward %03.0f", 100*a.Probability, hectares(a.AreaM2), e.SemiMajor, e.SemiMinor, e.MajorSE, e.MinorSE, e.AzimuthDeg)
	}
	p.f("")
	p.f("how it may go")
	for _, o := range r.Outcomes {
		where := "in no run"
		if o.Mean != nil {
			where = fromPad(*o.Mean)
		}
		p.f("  %-16s  %s  %s", o.Name, percent(o.Probability, o.SE), where)
	}
	p.evidenceLines(r)
	if len(r.Sensitivity) > 0 {
		p.f("")
		p.f("what spreads it, by share of the variance")
		for _, x := range r.Sensitivity {
			if x.Share >= 0.01 {
				p.f("  %-24s %3.0f %%", x.Name, 100*x.Share)
			}
		}
	}
	if len(r.Places) > 0 {
		p.f("")
		p.f("chances by place")
		for _, c := range r.Places {
			printChance(p, c, r.EffectiveRuns)
		}
	}
	p.beforeLaunch(r)
	for _, part := range r.Parts {
		p.f("")
		if part.Landing == nil {
			p.f("%s: no flight lasted until it could come off", part.Name)
			continue
		}
		p.f("%s, should it come off (%.0f %%): %s, 90 %% in %s", part.Name, 100*part.Chance, fromPad(part.Landing.Mean), hectares(part.Landing.Areas[2].AreaM2))
	}
	if r.Learned != nil {
		p.list("from finds", r.Learned.Used)
	}
	p.list("assumed", r.Assumptions)
	p.list("caution", r.Cautions)
	p.list("wrote", r.Files)
	return p.err
}

// printer keeps the first error of writing.
type printer struct {
	w   io.Writer
	err error
}

func (p *printer) f(format string, args ...any) {
	if p.err == nil {
		_, p.err = fmt.Fprintln(p.w, strings.TrimRight(fmt.Sprintf(format, args...), " "))
	}
}

func (p *printer) list(head string, lines []string) {
	if len(lines) > 0 {
		p.f("")
	}
	for _, l := range lines {
		p.f("%s: %s", head, l)
	}
}

// fromPad says where a place lies from the pad.
func fromPad(q geo.Place) string {
	v := geo.XY{X: q.East, Y: q.North}
	if v.Norm() < 0.5 {
		return "on the pad"
	}
	return fmt.Sprintf("%.0f m from the pad on bearing %03.0f", v.Norm(), math.Mod(math.Round(v.BearingDeg()), 360))
}

// placeText writes a place in the local grid and in degrees.
func (s *situation) placeText(q geo.Place) string {
	p := s.model.Frame().ToLonLat(geo.XY{X: q.East, Y: q.North})
	return place.Format(p, place.Local(p)) + "   " + place.Format(p, place.Decimal)
}

func hectares(m2 float64) string { return quantity.Hectares(m2) }

// percent writes a chance with its standard error.
func percent(p, se float64) string { return fmt.Sprintf("%5.1f %% (+- %.1f)", 100*p, 100*se) }
