package show

import (
	"fmt"
	"io"
	"strings"

	"github.com/paulmach/orb"

	"windfall/cmd/windfall/internal/situation"
	"windfall/geo"
	"windfall/geo/mapfile"
	"windfall/geo/place"
	"windfall/geo/quantity"
	"windfall/search"
)

// Plan prints a search: what it is worth, then each searcher's blocks with the
// ways between them; layers are those of its map files.
func Plan(w io.Writer, r *situation.Summary, layers *mapfile.Landing) error {
	p := To(w)
	plan := r.Plan
	p.F("flight %s: search, %.0f minutes", r.Flight, plan.Minutes)
	p.F("  likeliest ground  %s", fromPad(r.Landing.Mean))
	p.F("                    %s", placeText(r.Landing.Mean))
	p.F("  50 / 90 %% in      %s / %s", hectares(r.Landing.Within(0.5)), hectares(r.Landing.Within(0.9)))
	p.F("  chance to find it %s with this plan; %s", quantity.Chance(plan.POS, 0), noBetter(plan.UpperBound))
	if plan.POS > 0 {
		p.F("  if it is found    after %.0f minutes on average", plan.MeanIfFound)
	}
	p.F("  left after        %s, of which outside the map %s", quantity.Chance(plan.Left, 0),
		quantity.Chance(plan.Outside, 1))
	if e := plan.Enough; e.POS > 0 && e.POS < plan.POS-1e-9 {
		p.F("  enough            after %.0f minutes with %.0f %%; what comes later brings %.0f %% more", e.Minutes, 100*e.POS,
			100*(plan.POS-e.POS))
	}
	for i, told := range mapfile.Tell(layers) {
		p.F("")
		p.F("%s: %s", told.Name, told.Summary)
		if told.Lines == nil {
			p.legs(plan.Searchers[i])
		}
		for _, s := range told.Lines {
			p.sentence(s)
		}
	}
	p.List("measured", r.Measured)
	p.List("assumed", r.Assumptions)
	p.List("caution", r.Cautions)
	p.List("careful", mapfile.Standing())
	p.Wrote(r.Files)
	return p.Err()
}

// sentence prints a block or a way.
func (p *Printer) sentence(s mapfile.Sentence) {
	if s.Later != "" {
		p.F("  -- %s --", s.Later)
	}
	if s.Block == "" {
		found := ""
		if s.Tells {
			found = fmt.Sprintf(": finds %.1f %%", 100*s.POS)
		}
		p.F("  %3s %5.1f min  %s%s", "", s.StartMin, s.Text, found)
		return
	}
	p.F("  %-3s %5.1f min  %s", s.Block, s.StartMin, s.Text)
	p.F("  %3s %5s      begin at %s; until %.1f min; finds %.1f %%, so far %.1f %%", "", "",
		placeText(s.Begin), s.EndMin, 100*s.POS, 100*s.Sum)
}

// legs prints a route that has no blocks.
func (p *Printer) legs(who search.Route) {
	for _, g := range who.Legs {
		v := geo.XY{X: g.To.East - g.From.East, Y: g.To.North - g.From.North}
		p.F("  %3d  %5.1f min  %-8s  %03.0f deg  %4.0f m  POS %4.1f %%", g.N, g.StartMin, g.Kind,
			wholeBearing(v.BearingDeg()), v.Norm(), 100*g.POS)
	}
}

// Messages prints a line for each searcher, to be sent to a telephone: the way,
// then each block with a geo: link to where it begins (RFC 5870).
func Messages(w io.Writer, layers *mapfile.Landing) error {
	p := To(w)
	for _, told := range mapfile.Tell(layers) {
		parts := make([]string, 0, len(told.Lines))
		for _, s := range told.Lines {
			if s.Block == "" {
				parts = append(parts, s.Text)
				continue
			}
			at := orb.Point{s.Begin.Lon, s.Begin.Lat}
			parts = append(parts, fmt.Sprintf("%s from %s geo:%.6f,%.6f %s, until %.0f min", s.Block,
				place.Format(at, place.Local(at)), at.Lat(), at.Lon(), s.Text, s.EndMin))
		}
		if len(parts) == 0 {
			parts = append(parts, told.Summary)
		}
		p.F("%s: %s", told.Name, strings.Join(parts, "; "))
	}
	return p.Err()
}

// noBetter says what no plan of the effort passes; near certainty that is no limit.
func noBetter(bound float64) string {
	if bound >= 0.995 {
		return "no plan of this effort does much better"
	}
	return "no plan of this effort does better than " + quantity.Chance(bound, 0)
}
