package compare

import (
	"fmt"
	"slices"
	"strings"

	"windfall/geo/quantity"
)

// Verdict is what the runs can tell of the first row.
type Verdict struct {
	Best  *int  // index of the best row, 0; nil: none keeps the limits in daylight
	Equal []int // rows as good as the first as far as the runs can tell
	Next  bool  // Equal are the rows right after the first
	Worst int   // the last row that limits and light treat as they do the first
}

// sure is how many standard errors of the paired difference a row must be worse
// by to be called worse: about 95 % (normal distribution).
const sure = 2.0

// Verdict holds the rows against the first. Without a field there is no error
// of a difference and no row is called equal.
func (t *Table) Verdict() Verdict {
	first := t.Rows[0]
	v := Verdict{Next: true}
	if first.Within {
		v.Best = new(int)
	}
	for i, r := range t.Rows[1:] {
		if r.Within != first.Within {
			continue
		}
		v.Worst = i + 1
		if d := r.Difference; d != nil && -d.Probability <= sure*d.SE {
			v.Equal = append(v.Equal, i+1)
			v.Next = v.Next && len(v.Equal) == i+1
		}
	}
	return v
}

// Reason says why the first row is first, a sentence each.
func (t *Table) Reason() []string {
	best, v := t.Rows[0], t.Verdict()
	var out []string
	add := func(format string, a ...any) { out = append(out, fmt.Sprintf(format, a...)) }
	if v.Best == nil {
		limits := t.Limits.String()
		if limits == "" {
			limits = "no speed limits given"
		}
		add("no row is within the limits in daylight (%s); of those outside, the one with the best chance:", limits)
	}
	if !t.ByField {
		add("smallest area: %s, %s for 90 %%; draw a field for the chance of staying in it",
			best.Label, quantity.Hectares(best.Area))
		return append(out, t.unmarked()...)
	}
	add("most often in the field: %s, %s of its runs", best.Label, inField(best))
	if len(t.Rows) == 1 {
		return append(out, t.unmarked()...)
	}
	add("%s", t.others(v))
	out = append(out, t.unmarked()...)
	add("%s", best.why())
	if v.Worst > 0 {
		worst := t.Rows[v.Worst]
		add("the worst, %s; %s in the field", worst.why(), inField(worst))
	}
	return out
}

// unmarked says what the first row breaks, and which comes first of those that
// break nothing; nothing where the first does not.
func (t *Table) unmarked() []string {
	best := t.Rows[0]
	if len(best.Marks) == 0 {
		return nil
	}
	out := []string{"but as designed: " + strings.Join(best.Marks, ", ")}
	i := slices.IndexFunc(t.Rows, func(r *Row) bool { return len(r.Marks) == 0 && r.Within == best.Within })
	switch {
	case i < 0 && len(t.Rows) > 1:
		return append(out, "each of the rows breaks some rule of thumb")
	case i < 0:
		return out
	}
	r := t.Rows[i]
	if !t.ByField {
		return append(out, fmt.Sprintf("of those that break nothing: %s, %s for 90 %%", r.Label, quantity.Hectares(r.Area)))
	}
	return append(out, fmt.Sprintf("of those that break nothing: %s, %s in the field", r.Label, inField(r)))
}

// AllMarks returns the marks that every row has.
func (t *Table) AllMarks() (out []string) {
	for _, m := range t.Rows[0].Marks {
		if !slices.ContainsFunc(t.Rows, func(r *Row) bool { return !slices.Contains(r.Marks, m) }) {
			out = append(out, m)
		}
	}
	return out
}

// others says how the rows after the first compare with it.
func (t *Table) others(v Verdict) string {
	const noWorse = "no worse beyond twice the error of the difference"
	next, n := t.Rows[1], len(v.Equal)
	switch {
	case next.Within != t.Rows[0].Within:
		return "no other row is within the limits in daylight"
	case n == 0:
		d := next.Difference
		return fmt.Sprintf("%s more than the next, %s", quantity.Percent(-d.Probability, d.SE), next.Label)
	case n == 1 && v.Next:
		return fmt.Sprintf("the next, %s, is %s: take either", next.Label, noWorse)
	case n == 1:
		return fmt.Sprintf("one row farther down, %s, is %s: take either", t.Rows[v.Equal[0]].Label, noWorse)
	case v.Next:
		return fmt.Sprintf("the next %d rows are %s: take any of them", n, noWorse)
	}
	return fmt.Sprintf("%d rows, not all of them the next, are %s: take any of them", n, noWorse)
}

// why gives the figures behind a row's chance.
func (r *Row) why() string {
	return fmt.Sprintf("%s: landings centre %.0f m from the pad, 90 %% in %s, "+
		"wind %.1f m/s at the pad and %.1f m/s at apogee", r.Label,
		r.Moments.Mean.Norm(), quantity.Hectares(r.Area), r.Wind.Pad.Speed, r.Wind.Apogee.Speed)
}

func inField(r *Row) string { return quantity.Percent(r.Places[0].Probability, r.Places[0].SE) }
