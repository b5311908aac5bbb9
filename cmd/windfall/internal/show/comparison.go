package show

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
	"time"

	"windfall/cmd/windfall/internal/situation"
	"windfall/drift/compare"
)

// mostRows is how many rows the table shows; --json has them all.
const mostRows = 30

// Comparison prints the table, unless the best row alone is wanted, and the
// verdict.
func Comparison(w io.Writer, t *compare.Table, r *situation.Comparison, best bool) error {
	p := To(w)
	if !best {
		p.comparison(t, r)
	}
	p.verdict(t, r)
	return p.Err()
}

// comparison prints the head and the table.
func (p *Printer) comparison(t *compare.Table, r *situation.Comparison) {
	p.F("flight %s, %d ways to fly it, %d runs each with the same draws, seed %d",
		r.Flight, len(t.Rows)+t.Dropped.Rows, r.Runs, r.Seed)
	if t.Dropped.Rows > 0 {
		p.F("the worse %d dropped by a search, the last of them after %d runs each", t.Dropped.Rows, t.Dropped.Runs)
	}
	for _, a := range t.Axes {
		if a.Fixed() {
			p.F("all with %s %s", a.Key, a.Values[0])
		}
	}
	p.F("")
	var text strings.Builder
	w := tabwriter.NewWriter(&text, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, strings.Join(compareHead(t), "\t"))
	for _, v := range t.Rows[:min(mostRows, len(t.Rows))] {
		fmt.Fprintln(w, strings.Join(compareLine(t, v), "\t"))
	}
	w.Flush()
	for l := range strings.Lines(text.String()) {
		p.F("%s", strings.TrimRight(l, " \n"))
	}
	if n := len(t.Rows) - mostRows; n > 0 {
		p.F("and %d more; --json has them all", n)
	}
	p.F("")
}

// compareHead names the columns; the first say what was set.
func compareHead(t *compare.Table) []string {
	var head []string
	if len(t.Hours) > 0 {
		head = append(head, "time")
	}
	for _, a := range t.Varied() {
		head = append(head, a.Key)
	}
	if t.ByField {
		head = append(head, "in field %", "from best")
	}
	return append(head, "90 % area", "centre", "wind at pad", "at apogee", "touchdown", "light")
}

func compareLine(t *compare.Table, v *compare.Row) []string {
	var line []string
	if len(t.Hours) > 0 {
		line = append(line, t.Clock(v.Hour))
	}
	for _, a := range t.Varied() {
		line = append(line, v.Set[a.Key])
	}
	if t.ByField {
		c, from := v.Places[0], "best"
		if v != t.Rows[0] {
			from = fmt.Sprintf("%+.1f (+- %.1f)", 100*v.Difference.Probability, 100*v.Difference.SE)
		}
		line = append(line, fmt.Sprintf("%.1f (+- %.1f)", 100*c.Probability, 100*c.SE), from)
	}
	windText := func(w compare.Wind) string { return fmt.Sprintf("%.1f m/s %03.0f", w.Speed, wholeBearing(w.FromDeg)) }
	mean := v.Moments.Mean
	line = append(line, hectares(v.Area), fmt.Sprintf("%.0f m, %03.0f", mean.Norm(), wholeBearing(mean.BearingDeg())),
		windText(v.Wind.Pad), windText(v.Wind.Apogee), fmt.Sprintf("%.1f m/s", v.Model.Nominal().LandingMps), lightText(v))
	if broken := v.Broken(); !v.Within && len(v.Limits) > 0 {
		line = append(line, "outside limits: "+broken)
	}
	return line
}

func lightText(v *compare.Row) string {
	if v.LightLeft == nil {
		return string(v.Light)
	}
	d := time.Duration(*v.LightLeft) * time.Minute
	return fmt.Sprintf("%s, %d h %02d left", v.Light, int(d.Hours()), int(d.Minutes())%60)
}

// verdict prints the reason, the places of the best row and the codes' figures.
func (p *Printer) verdict(t *compare.Table, r *situation.Comparison) {
	best := t.Rows[0]
	p.F("best: %s", r.Reason[0])
	for _, l := range r.Reason[1:] {
		p.F("  %s", l)
	}
	limits, broken := t.Limits.String(), best.Broken()
	switch {
	case r.Best == nil && broken != "":
		p.F("  outside limits: %s", broken)
	case r.Best != nil && limits != "":
		p.F("  within the limits given: %s", limits)
	case r.Best != nil:
		p.F("  no speed limits given: --max-touchdown, --max-ejection, --min-rail-exit hold it to some")
	}
	n, first := r.Rows[0].Nominal, "nothing opens"
	if n.EjectionV != nil {
		first = fmt.Sprintf("first device at %.1f m/s", *n.EjectionV)
	}
	p.F("  off the rail at %.1f m/s, apogee %.0f m, %s, touches down at %.1f m/s after %.0f s",
		n.RailExit, n.Apogee, first, n.LandingV, n.LandingS)
	for _, c := range best.Places {
		p.chance(c, r.Runs)
	}
	if s := r.Sun; s != nil && s.Sunset != nil && s.CivilDusk != nil {
		p.F("  sunset %s, end of civil twilight %s", s.Sunset.Format("15:04"), s.CivilDusk.Format("15:04"))
	}
	p.F("")
	p.F("figures of the codes for it")
	for _, f := range r.Rules {
		p.F("  %s", f)
	}
	p.F("  %s", r.RulesNote)
	p.List("assumed", r.Assumptions)
	p.List("caution", r.Cautions)
	p.List("wrote", r.Files)
}
