package show

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"windfall/cmd/windfall/internal/situation"
	"windfall/drift/learn"
	"windfall/geo/place"
)

// Applied prints what finds change in the map of a flight.
func Applied(w io.Writer, in situation.Input, was, now *situation.State) error {
	p := To(w)
	a, b := was.Landing(), now.Landing()
	p.F("flight %s, with what the logbook taught (%s)", in.Flight.ID, count(in.Learned.Finds, "find"))
	for _, u := range append(slices.Clone(in.Learned.Used), in.Measured...) {
		p.F("  %s", u)
	}
	p.F("  middle moves from %s to %s", fromPad(a.Mean), fromPad(b.Mean))
	for i := range a.Areas {
		p.F("  %2.0f %% in %s, was %s", 100*a.Areas[i].Probability, hectares(b.Areas[i].AreaM2), hectares(a.Areas[i].AreaM2))
	}
	p.List("caution", in.Cautions)
	return p.Err()
}

// Learned prints a learning; explain: with the places and vehicles, and which
// finds moved what.
func Learned(w io.Writer, r *learn.Result, skipped []string, explain bool) error {
	p := To(w)
	if r.Finds+r.Flights+len(r.Measured) == 0 {
		return finish(p, r, skipped)
	}
	p.F("learned from %s", learnedFrom(r))
	p.F("")
	p.F("%-22s %10s %10s    %10s %10s", "factor", "was", "spread", "now", "spread")
	for _, f := range r.Factors {
		p.F("%-22s %10s %10s    %10s %10s   (%srun to run %s to %s)%s", f.Name, factorValue(f, f.WasMean),
			factorSpread(f, f.WasSD), factorValue(f, f.Mean), factorSpread(f, f.SD),
			factorError(f), factorSpread(f, f.SDLow), factorSpread(f, f.SDHigh), notUsed(f.Withheld))
		if explain {
			for _, m := range f.Members {
				p.F("  %-20s %21s    %10s %10s   %s", memberName(m), "", factorValue(f, m.Mean), factorSpread(f, m.SD),
					behind(m.Finds, m.Measured))
			}
		}
	}
	if len(r.Outcomes) > 0 {
		p.F("")
		p.F("%-22s %10s    %10s", "outcome", "was", "now")
	}
	for _, o := range r.Outcomes {
		p.F("%-22s %8.1f %%    %8.1f %%   (+- %.1f)", o.Name, 100*o.Was, 100*o.Probability, 100*o.SE)
		if explain {
			for _, m := range o.Members {
				p.F("  %-20s %12s  %8.1f %%   (+- %.1f)   %s", m.Title, "", 100*m.Probability, 100*m.SE, count(m.Finds, "flight"))
			}
		}
	}
	if explain {
		taught(p, r)
	}
	if r.Finds == 0 || r.Flights == 1 { // of one flight none is left to learn its map from
		return finish(p, r, skipped)
	}
	judged(p, r, explain)
	return finish(p, r, skipped)
}

// judged prints how maps did that the finds did not help to make.
func judged(p *Printer, r *learn.Result, explain bool) {
	p.F("")
	p.F("finds inside their areas, no flight judging a map that it helped to make")
	for _, c := range r.Coverage {
		p.F("  %2.0f %% area   without learning %3d of %d (%2.0f to %3.0f %%)   with it %3d of %d (%2.0f to %3.0f %%)",
			100*c.Level, c.WasInside, c.Of, 100*c.WasLow, 100*c.WasHigh, c.Inside, c.Of, 100*c.Low, 100*c.High)
	}
	was, now := r.LogScore()
	p.F("  log score   without learning %.1f   with it %.1f (mean log of the map's density at the find, per m2)", was, now)
	p.F("")
	p.F("levels of the finds, 0 to 1 in tenths: even where maps are right")
	p.F("  without learning  %s", levelBars(r, func(s learn.Score) float64 { return s.WasLevel }))
	p.F("  with it           %s", levelBars(r, func(s learn.Score) float64 { return s.Level }))
	if explain {
		p.F("")
		p.F("what each find moved most (from its mean without this find, in shares of the mean's own uncertainty)")
		for _, s := range r.Scores {
			if s.IsWrong() {
				continue
			}
			var moved []string
			for _, m := range s.Moved {
				moved = append(moved, fmt.Sprintf("%s %.3g -> %.3g (%+.1f)", m.Factor, m.From, m.To, m.Share))
			}
			p.F("  %-22s level %.2f -> %.2f   %s", s.Flight, s.WasLevel, s.Level, strings.Join(moved, ", "))
		}
	}
}

// taught prints what taught what, and what would teach most next.
func taught(p *Printer, r *learn.Result) {
	p.F("")
	p.F("on average, with 90 %%, and what taught it")
	for _, f := range r.Factors {
		if says := f.TaughtSays(); says != "" {
			p.F("  %s%s", says, notUsed(f.Withheld))
		}
	}
	if r.Next != "" {
		p.F("%s", r.Next)
	}
}

// finish prints what is known of observers, the verdict, and what was left out.
func finish(p *Printer, r *learn.Result, skipped []string) error {
	if r.Finds+r.Flights+len(r.Measured) > 0 {
		p.F("")
	}
	for i := range r.Observers {
		p.F("%s", r.Observers[i].Says())
	}
	if r.Heard > 0 {
		p.F("what they saw of %s never found counts here as it does on maps, that allowed for", count(r.Heard, "flight"))
	}
	for _, v := range r.Verdict {
		p.F("%s", v)
	}
	p.List("left out", LeftOut(skipped))
	return p.Err()
}

// learnedFrom says what a learning rests on.
func learnedFrom(r *learn.Result) string {
	out := count(r.Finds, "find")
	if r.Flights > r.Finds {
		out = fmt.Sprintf("%s, %d of them found", count(r.Flights, "flight"), r.Finds)
	}
	wrong := 0
	for _, s := range r.Scores {
		if s.IsWrong() {
			wrong++
		}
	}
	if wrong > 0 {
		out += fmt.Sprintf(" (%d left out as wrong)", wrong)
	}
	if n := len(r.Measured); n > 0 {
		out += " and " + count(n, "drop")
	}
	return out
}

// notUsed marks what maps leave out.
func notUsed(withheld bool) string {
	if withheld {
		return "; not used"
	}
	return ""
}

// behind says what a row rests on.
func behind(flights, measured int) string {
	switch {
	case measured == 0:
		return count(flights, "flight")
	case flights == 0:
		return count(measured, "drop")
	}
	return count(flights, "flight") + ", " + count(measured, "drop")
}

func memberName(m learn.Member) string {
	at := orb.Point{m.Lon, m.Lat}
	switch {
	case m.Title != "":
		return m.Title
	case at != orb.Point{}:
		return place.Format(at, place.Local(at))
	}
	return m.Name
}

func factorValue(f learn.Factor, v float64) string {
	switch {
	case learn.IsShape(f.Name):
		return "-"
	case f.Log:
		return fmt.Sprintf("x %.3f", v)
	}
	return fmt.Sprintf("%+.2f %s", v, f.Unit)
}

func factorSpread(f learn.Factor, v float64) string {
	switch {
	case learn.IsShape(f.Name):
		return fmt.Sprintf("x %.2f", v)
	case f.Log:
		return fmt.Sprintf("%.1f %%", 100*v)
	}
	return fmt.Sprintf("%.2f %s", v, f.Unit)
}

// factorError tells how well a factor's mean is known.
func factorError(f learn.Factor) string {
	if learn.IsShape(f.Name) {
		return "" // it has no mean
	}
	return "+- " + factorSpread(f, f.MeanSE) + "; "
}

// levelBars counts levels by tenths.
func levelBars(r *learn.Result, level func(learn.Score) float64) string {
	var n [10]int
	for _, s := range r.Scores {
		if s.IsWrong() {
			continue // no find
		}
		n[min(int(10*level(s)), 9)]++
	}
	var b strings.Builder
	for _, k := range n {
		fmt.Fprintf(&b, "%4d", k)
	}
	return b.String()
}
