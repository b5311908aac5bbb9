package compare

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"windfall/drift/compare/figure"
)

// Chances plots the chance of the field against the hour, else against the
// first key whose values are numbers, else against the first key with more than
// one value; all other keys make series, that of the best row first. The table
// must be ranked by the field.
func (t *Table) Chances() figure.Chances {
	f := figure.Chances{Title: t.Title + ": chance of coming down in the field", Y: "chance", X: "time"}
	across := -1 // the axis along x; -1: the hour
	var x func(*Row) float64
	if len(t.Hours) > 1 {
		x = t.hourTicks(&f)
	} else {
		across = acrossAxis(t.Axes)
		f.X = t.Axes[across].Key
		x = valueTicks(&f, t.Axes[across])
	}
	slices.SortFunc(f.Ticks, func(a, b figure.Tick) int { return cmp.Compare(a.X, b.X) })
	for _, r := range t.Rows {
		c := r.Places[0]
		f.Add(t.seriesOf(r, across), figure.Point{X: x(r), P: c.Probability, SE: c.SE})
	}
	return f
}

// seriesOf names a row by all that is not along x.
func (t *Table) seriesOf(r *Row, across int) string {
	var name []string
	for i, a := range t.Axes {
		if i != across && len(a.Values) > 1 {
			name = append(name, a.Key+" "+r.Set[a.Key])
		}
	}
	if across >= 0 && len(t.Hours) == 1 {
		name = append(name, t.Clock(r.Hour))
	}
	return strings.Join(name, ", ")
}

// acrossAxis picks the key along x.
func acrossAxis(axes []Axis) int {
	several := func(a Axis) bool { return len(a.Values) > 1 }
	numbers := func(a Axis) bool { _, ok := sameUnit(a); return ok && several(a) }
	if i := slices.IndexFunc(axes, numbers); i >= 0 {
		return i
	}
	return max(0, slices.IndexFunc(axes, several))
}

// hourTicks marks the hours and returns where a row stands.
func (t *Table) hourTicks(f *figure.Chances) func(*Row) float64 {
	for _, h := range t.Hours {
		f.Ticks = append(f.Ticks, figure.Tick{X: h.Sub(t.Hours[0]).Hours(), Label: t.Clock(h)})
	}
	return func(r *Row) float64 { return r.Hour.Sub(t.Hours[0]).Hours() }
}

// valueTicks marks the values of an axis, at their numbers where they have one
// unit, else one after the other, and returns where a row stands.
func valueTicks(f *figure.Chances, a Axis) func(*Row) float64 {
	values, numbers := sameUnit(a)
	at := map[string]float64{}
	for i, s := range a.Values {
		at[s] = float64(i)
		if numbers {
			at[s] = values[i]
		}
		f.Ticks = append(f.Ticks, figure.Tick{X: at[s], Label: shorten(s)})
	}
	return func(r *Row) float64 { return at[r.Set[a.Key]] }
}

// sameUnit returns an axis's values as numbers where all have one unit.
func sameUnit(a Axis) ([]float64, bool) {
	var out []float64
	unit := ""
	for i, s := range a.Values {
		num, u, _ := strings.Cut(strings.TrimSpace(s), " ")
		x, err := strconv.ParseFloat(num, 64)
		if err != nil || i > 0 && u != unit {
			return nil, false
		}
		unit = u
		out = append(out, x)
	}
	return out, true
}

// Clouds draws the landings of each hour's best row in the order of the hours,
// else of each row, best first.
func (t *Table) Clouds() figure.Clouds {
	f := figure.Clouds{Title: t.Title + ": where it comes down", Field: t.Rows[0].Field}
	rows := t.Rows
	if len(t.Hours) > 1 {
		f.Title += ", the best choice of each hour"
		rows = nil
		for _, h := range t.Hours {
			if i := slices.IndexFunc(t.Rows, func(r *Row) bool { return r.Hour.Equal(h) }); i >= 0 {
				rows = append(rows, t.Rows[i])
			}
		}
	}
	for _, r := range rows[:min(len(rows), figure.MaxPanels)] {
		p := figure.Panel{Title: t.shortLabel(r), Points: r.points(), In: r.In}
		p.Area = r.Map.Contours([]float64{0.9})[0].Shape
		if r.In != nil {
			p.Value = fmt.Sprintf("%.1f %%", 100*r.Places[0].Probability)
		}
		f.Panels = append(f.Panels, p)
	}
	return f
}

// shortLabel is the row's label without the sections of keys, which say little
// over a panel.
func (t *Table) shortLabel(r *Row) string {
	var out []string
	if !r.Hour.IsZero() {
		out = append(out, t.Clock(r.Hour))
	}
	for _, a := range t.Varied() {
		key := a.Key
		if last := key[strings.LastIndexByte(key, '.')+1:]; strings.Trim(last, "0123456789") != "" {
			key = last
		}
		out = append(out, key+" "+r.Set[a.Key])
	}
	return strings.Join(out, ", ")
}

// shorten cuts a long text, such as a whole device, for a label.
func shorten(s string) string {
	const most = 24
	if r := []rune(s); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}
