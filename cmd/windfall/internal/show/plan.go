package show

import (
	"io"

	"windfall/cmd/windfall/internal/situation"
	"windfall/geo"
)

// Plan prints a search: what it is worth, then each
// searcher's legs.
func Plan(w io.Writer, r *situation.Summary) error {
	p := To(w)
	plan := r.Plan
	p.F("flight %s: search, %.0f minutes", r.Flight, plan.Minutes)
	p.F("  likeliest ground  %s", fromPad(r.Landing.Mean))
	p.F("                    %s", placeText(r.Landing.Mean))
	p.F("  50 / 90 %% in      %s / %s", hectares(r.Landing.Within(0.5)), hectares(r.Landing.Within(0.9)))
	p.F("  chance to find it %.0f %% with this plan; no plan of this effort does better than %.0f %%", 100*plan.POS,
		100*plan.UpperBound)
	if plan.POS > 0 {
		p.F("  if it is found    after %.0f minutes on average", plan.MeanIfFound)
	}
	p.F("  left after        %.0f %%, of which outside the map %.1f %%", 100*plan.Left, 100*plan.Outside)
	for _, who := range plan.Searchers {
		p.F("")
		p.F("%s, %s, sweep width %.0f m, back after %.0f minutes", who.Name, who.Kind, who.SweepWidth, who.Minutes)
		for _, g := range who.Legs {
			v := geo.XY{X: g.To.East - g.From.East, Y: g.To.North - g.From.North}
			p.F("  %3d  %5.1f min  %-8s  %03.0f deg  %4.0f m  POS %4.1f %%", g.N, g.StartMin, g.Kind,
				wholeBearing(v.BearingDeg()), v.Norm(), 100*g.POS)
		}
	}
	p.List("assumed", r.Assumptions)
	p.List("caution", r.Cautions)
	p.Wrote(r.Files)
	return p.Err()
}
