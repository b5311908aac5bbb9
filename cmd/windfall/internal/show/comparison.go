package show

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

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
	columns, alike := tell(t, r)
	p.F("in all, to 5 %%: %s", strings.Join(alike, ", "))
	p.F("")
	var text strings.Builder
	w := tabwriter.NewWriter(&text, 0, 0, 2, ' ', 0)
	var head []string
	for _, c := range columns {
		head = append(head, c.head)
	}
	fmt.Fprintln(w, strings.Join(head, "\t"))
	for i := range t.Rows[:min(mostRows, len(t.Rows))] {
		var line []string
		for _, c := range columns {
			line = append(line, c.text(i))
		}
		fmt.Fprintln(w, strings.Join(line, "\t"))
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

// verdict prints the reason, the places of the best row and the codes' figures.
func (p *Printer) verdict(t *compare.Table, r *situation.Comparison) {
	best := t.Rows[0]
	p.F("%s", r.Reason[0])
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
	p.F("  off the rail at %.1f m/s, apogee %.0f m, %s", n.RailExit, n.Apogee, first)
	p.F("  sinks %.1f m/s and the wind carries it at %.1f; down after %.0f s", n.Sink, n.Carried, n.LandingS)
	p.chances(best.Places, r.Runs)
	if s := r.Sun; s != nil && s.Sunset != nil && s.CivilDusk != nil {
		p.F("  sunset %s, end of civil twilight %s", s.Sunset.Format("15:04"), s.CivilDusk.Format("15:04"))
	}
	p.figures(r.Rules, r.RulesNote, "--json")
	p.List("assumed", r.Assumptions)
	p.List("caution", r.Cautions)
	p.Wrote(r.Files)
}
