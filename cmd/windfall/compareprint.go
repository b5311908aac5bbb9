package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
	"time"

	"windfall/cmd/windfall/internal/choice"
	"windfall/drift/rules"
	"windfall/geo"
)

// mostRows is how many rows the table shows; --json has them all.
const mostRows = 30

// print prints the comparison for people: the table, the reason, the figures
// of the codes.
func (k *comparison) print(w io.Writer, r *compareResult) error {
	p := &printer{w: w}
	p.f("flight %s, %d ways to fly it, %d runs each with the same draws, seed %d", r.Flight, len(r.Rows)+r.Dropped.Rows, r.Runs, r.Seed)
	if r.Dropped.Rows > 0 {
		p.f("the worse %d dropped by a search, the last of them after %d runs each", r.Dropped.Rows, r.Dropped.Runs)
	}
	for _, a := range k.axes {
		if len(a.Values) == 1 && a.Values[0] != choice.Auto {
			p.f("all with %s %s", a.Key, a.Values[0])
		}
	}
	p.f("")
	k.table(p, r.Rows[:min(mostRows, len(r.Rows))])
	if n := len(r.Rows) - mostRows; n > 0 {
		p.f("and %d more; --json has them all", n)
	}
	p.f("")
	k.verdict(p, r)
	return p.err
}

// printBest prints the best choice alone.
func (k *comparison) printBest(w io.Writer, r *compareResult) error {
	p := &printer{w: w}
	k.verdict(p, r)
	return p.err
}

// table prints the rows; the first columns say what was set.
func (k *comparison) table(p *printer, rows []*variant) {
	var text strings.Builder
	t := tabwriter.NewWriter(&text, 0, 0, 2, ' ', 0)
	var head []string
	if len(k.hours) > 0 {
		head = append(head, "time")
	}
	for _, a := range k.varied() {
		head = append(head, a.Key)
	}
	inField := rows[0].in != nil
	if inField {
		head = append(head, "in field %", "from best")
	}
	head = append(head, "90 % area", "centre", "wind at pad", "at apogee", "touchdown", "light")
	fmt.Fprintln(t, strings.Join(head, "\t"))
	for i, v := range rows {
		var line []string
		if len(k.hours) > 0 {
			line = append(line, v.clock(k))
		}
		for _, a := range k.varied() {
			line = append(line, v.Set[a.Key])
		}
		if inField {
			from := "best"
			if i > 0 {
				from = fmt.Sprintf("%+.1f (+- %.1f)", 100*v.Difference.Probability, 100*v.Difference.SE)
			}
			c := v.Places[0]
			line = append(line, fmt.Sprintf("%.1f (+- %.1f)", 100*c.Probability, 100*c.SE), from)
		}
		line = append(line, hectares(v.area), fmt.Sprintf("%.0f m, %03.0f", v.Centre.Distance, whole(v.Centre.Bearing)),
			windText(v.Wind.Pad), windText(v.Wind.Apogee), fmt.Sprintf("%.1f m/s", v.Nominal.LandingV), v.lightText())
		if !v.Within && len(v.Limits) > 0 {
			line = append(line, "outside limits: "+v.broken())
		}
		fmt.Fprintln(t, strings.Join(line, "\t"))
	}
	t.Flush()
	for l := range strings.Lines(text.String()) {
		p.f("%s", strings.TrimRight(l, " \n"))
	}
}

// whole rounds a bearing to a whole degree below 360.
func whole(deg float64) float64 { return geo.NormDeg(float64(int(deg + 0.5))) }

func windText(w windAt) string { return fmt.Sprintf("%.1f m/s %03.0f", w.Speed, whole(w.FromDeg)) }

func (v *variant) lightText() string {
	if v.LightLeft == nil {
		return string(v.Light)
	}
	d := time.Duration(*v.LightLeft) * time.Minute
	return fmt.Sprintf("%s, %d h %02d left", v.Light, int(d.Hours()), int(d.Minutes())%60)
}

// broken names the limits that a row does not keep.
func (v *variant) broken() string {
	var out []string
	for _, l := range v.Limits {
		if l.Within {
			continue
		}
		name := map[string]string{"touchdown_mps": "touchdown", "ejection_mps": "first device", "rail_exit_mps": "off the rail"}[l.Name]
		if l.Value == nil {
			out = append(out, name+" never")
		} else {
			out = append(out, fmt.Sprintf("%s %.1f m/s", name, *l.Value))
		}
	}
	return strings.Join(out, ", ")
}

// verdict prints the reason, the places of the best row and the codes' figures.
func (k *comparison) verdict(p *printer, r *compareResult) {
	best := r.Rows[0]
	p.f("best: %s", r.Reason[0])
	for _, l := range r.Reason[1:] {
		p.f("  %s", l)
	}
	if r.Best == nil {
		if b := best.broken(); b != "" {
			p.f("  outside limits: %s", b)
		}
	} else if s := k.limit.String(); s != "" {
		p.f("  within the limits given: %s", s)
	} else {
		p.f("  no speed limits given: --max-touchdown, --max-ejection, --min-rail-exit hold it to some")
	}
	n := best.Nominal
	first := "nothing opens"
	if n.EjectionV != nil {
		first = fmt.Sprintf("first device at %.1f m/s", *n.EjectionV)
	}
	p.f("  off the rail at %.1f m/s, apogee %.0f m, %s, touches down at %.1f m/s after %.0f s", n.RailExit, n.Apogee, first, n.LandingV, n.LandingS)
	for _, c := range best.Places {
		printChance(p, c, r.Runs)
	}
	if s := r.Sun; s != nil && s.Sunset != nil && s.CivilDusk != nil {
		p.f("  sunset %s, end of civil twilight %s", s.Sunset.Format("15:04"), s.CivilDusk.Format("15:04"))
	}
	p.f("")
	p.f("figures of the codes for it")
	for _, f := range r.Rules {
		p.f("  %s", f)
	}
	p.f("  %s", rules.Deference)
	p.list("caution", r.Cautions)
	p.list("wrote", r.Files)
}
