package show

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"windfall/cmd/windfall/internal/situation"
	"windfall/drift/compare"
)

// column is one column of a comparison.
type column struct {
	head string
	text func(row int) string
}

// figure is a column that is shown where it tells rows apart; else it is said
// once for all.
type figure struct {
	column
	value  func(row int) float64 // NaN: it does not happen
	differ func(a, b float64) bool
}

// notable is the share of a speed or a height below which rows are not told
// apart by it: a choice of ours, about what the design of a flight is known to.
const notable = 0.05

func apart(a, b float64) bool {
	if math.IsNaN(a) || math.IsNaN(b) {
		return math.IsNaN(a) != math.IsNaN(b)
	}
	return math.Abs(a-b) > notable*max(math.Abs(a), math.Abs(b))
}

// tell returns the columns that say what was set and what came of it, and in
// words what is alike in all rows.
func tell(t *compare.Table, r *situation.Comparison) (columns []column, alike []string) {
	columns = append(setColumns(t), resultColumns(t)...)
	for _, f := range figures(t, r) {
		varies := false
		for i := range t.Rows {
			varies = varies || f.differ(f.value(0), f.value(i))
		}
		if varies {
			columns = append(columns, f.column)
		} else {
			alike = append(alike, strings.TrimPrefix(f.head+" "+f.text(0), "light "))
		}
	}
	all := t.AllMarks()
	if len(all) > 0 {
		alike = append(alike, "and each "+strings.Join(all, ", "))
	}
	if marks := markColumn(t, all); marks != nil {
		columns = append(columns, *marks)
	}
	return columns, alike
}

// setColumns say what sets a row apart.
func setColumns(t *compare.Table) (out []column) {
	if len(t.Hours) > 1 {
		out = append(out, column{"time", func(i int) string { return t.Clock(t.Rows[i].Hour) }})
	}
	for _, a := range t.Varied() {
		out = append(out, column{a.Key, func(i int) string { return t.Rows[i].Set[a.Key] }})
	}
	return out
}

// resultColumns say where a row comes down.
func resultColumns(t *compare.Table) (out []column) {
	if t.ByField {
		out = append(out, column{"in field %", func(i int) string {
			c := t.Rows[i].Places[0]
			return fmt.Sprintf("%.1f (+- %.1f)", 100*c.Probability, 100*c.SE)
		}})
	}
	if t.ByField && len(t.Rows) > 1 {
		out = append(out, column{"from first", func(i int) string {
			if i == 0 {
				return "-"
			}
			d := t.Rows[i].Difference
			return fmt.Sprintf("%+.1f (+- %.1f)", 100*d.Probability, 100*d.SE)
		}})
	}
	return append(out, column{"90 % area", func(i int) string { return hectares(t.Rows[i].Area) }},
		column{"centre", func(i int) string {
			mean := t.Rows[i].Moments.Mean
			return fmt.Sprintf("%.0f m, %03.0f", mean.Norm(), wholeBearing(mean.BearingDeg()))
		}})
}

// figures are those of the flight as designed, the wind and the light.
func figures(t *compare.Table, r *situation.Comparison) []figure {
	amount := func(head, format string, value func(i int) float64) figure {
		return figure{column{head, func(i int) string {
			if v := value(i); !math.IsNaN(v) {
				return fmt.Sprintf(format, v)
			}
			return "never"
		}}, value, apart}
	}
	wind := func(head string, of func(i int) compare.Wind) figure {
		return figure{column{head, func(i int) string {
			return fmt.Sprintf("%.1f m/s %03.0f", of(i).Speed, wholeBearing(of(i).FromDeg))
		}}, func(i int) float64 { return of(i).Speed }, apart}
	}
	out := []figure{
		amount("off rail", "%.1f m/s", func(i int) float64 { return r.Rows[i].Nominal.RailExit }),
		amount("apogee", "%.0f m", func(i int) float64 { return r.Rows[i].Nominal.Apogee }),
		amount("opens at", "%.1f m/s", func(i int) float64 { return t.Rows[i].Model.Nominal().EjectionMps }),
		amount("sinks", "%.1f m/s", func(i int) float64 { return r.Rows[i].Nominal.Sink }),
		wind("wind at pad", func(i int) compare.Wind { return t.Rows[i].Wind.Pad }),
		wind("at apogee", func(i int) compare.Wind { return t.Rows[i].Wind.Apogee }),
	}
	if t.Rows[0].Light != "" {
		out = append(out, light(t))
	}
	return out
}

// light tells rows apart that come down more than a quarter of an hour apart.
func light(t *compare.Table) figure {
	left := func(i int) float64 {
		if v := t.Rows[i].LightLeft; v != nil {
			return *v
		}
		return math.NaN()
	}
	return figure{column{"light", func(i int) string { return lightText(t.Rows[i]) }}, left,
		func(a, b float64) bool { return math.IsNaN(a) != math.IsNaN(b) || math.Abs(a-b) > 15 }}
}

// markColumn says what rows break beyond what all do; nil where none does.
func markColumn(t *compare.Table, all []string) *column {
	text := func(i int) string {
		v := t.Rows[i]
		own := slices.DeleteFunc(slices.Clone(v.Marks), func(m string) bool { return slices.Contains(all, m) })
		marks := strings.Join(own, ", ")
		broken := v.Broken()
		switch {
		case broken == "":
			return marks
		case marks == "":
			return "outside limits: " + broken
		}
		return marks + "; outside limits: " + broken
	}
	for i := range t.Rows {
		if text(i) != "" {
			return &column{"breaks", text}
		}
	}
	return nil
}

func lightText(v *compare.Row) string {
	if v.LightLeft == nil {
		return string(v.Light)
	}
	d := time.Duration(*v.LightLeft) * time.Minute
	return fmt.Sprintf("%s, %d h %02d left", v.Light, int(d.Hours()), int(d.Minutes())%60)
}
