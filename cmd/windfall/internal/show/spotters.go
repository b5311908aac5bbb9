package show

import (
	"fmt"
	"io"
	"strings"

	"windfall/cmd/windfall/internal/cardpage"
	"windfall/cmd/windfall/internal/situation"
)

// Spotters prints where observers should stand.
func Spotters(w io.Writer, r *situation.Spotting) error {
	p := To(w)
	p.F("flight %s: 90 %% of the chance lies in %s with nobody watching", r.Flight, hectares(r.Without))
	p.F("")
	p.F("expected with %d watching, over %d flights that were watched", r.N, r.Trials)
	for _, s := range r.Best {
		p.F("  %-10s (+- %s)  %s", hectares(s.Area), hectares(s.SE), strings.Join(s.Places, "  and  "))
	}
	if !r.Exhaustive {
		p.F("  (too many sets to try all: one observer after the other, then exchanges)")
	}
	p.F("")
	p.F("each alone")
	for _, s := range r.Candidates {
		p.F("  %-10s (+- %s)  %s, sees the ejection in %.0f %% and the landing in %.0f %% of flights (+- %.0f)",
			hectares(s.Area), hectares(s.AreaSE), s.Name, 100*s.SeesEjection, 100*s.SeesLanding, 100*s.SE)
	}
	p.F("")
	p.F("the best set: where to look, as designed (90 %% of flights)")
	for _, c := range r.Cards {
		var says []string
		for _, e := range c.Events {
			bearing := cardpage.Bearing
			says = append(says, fmt.Sprintf("%s at %.0f s on %s (%s to %s), %s deg up", e.Event, e.At,
				bearing(e.Bearing), bearing(e.Span[0]), bearing(e.Span[1]), cardpage.Elevation(e.Height)))
		}
		p.F("  %s: %s", c.Name, strings.Join(says, "; "))
	}
	p.List("caution", r.Cautions)
	p.Wrote(r.Files)
	return p.Err()
}
