package main

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"windfall/cmd/windfall/internal/choice"
	"windfall/cmd/windfall/internal/figure"
	"windfall/cmd/windfall/internal/outdir"
)

// figures adds the pictures of the comparison to the set: chance against
// choice, where there is a field, and the clouds over it.
func (k *comparison) figures(set *outdir.Set) error {
	if k.rows[0].in != nil && len(k.rows) > 1 {
		if err := set.Write("compare-chance.png", func(w io.Writer) error { return k.chanceFigure().Draw(w) }); err != nil {
			return err
		}
	}
	return set.Write("compare-clouds.png", func(w io.Writer) error { return k.cloudFigure().Draw(w) })
}

// chanceFigure plots the chance of the field against the hour, else against the
// first key whose values are numbers, else against the first key; all other
// keys make series.
func (k *comparison) chanceFigure() figure.Chances {
	f := figure.Chances{Title: k.file.Flight.ID + ": chance of coming down in the field", Y: "chance", X: "time"}
	across := -1 // the axis along x; -1: the hour
	numbers := false
	if len(k.hours) < 2 {
		across, numbers = k.acrossAxis()
		f.X = k.axes[across].Key
	}
	x := k.ticks(&f, across, numbers)
	series := map[string]int{}
	for _, v := range k.rows { // best first: the series that hold the best rows come first
		var name []string
		for i, a := range k.axes {
			if i != across && len(a.Values) > 1 {
				name = append(name, a.Key+" "+v.Set[a.Key])
			}
		}
		if across >= 0 && len(k.hours) == 1 {
			name = append(name, v.clock(k))
		}
		n := strings.Join(name, ", ")
		i, ok := series[n]
		if !ok {
			i = len(f.Series)
			series[n] = i
			f.Series = append(f.Series, figure.Series{Name: n})
		}
		c := v.Places[0]
		f.Series[i].Points = append(f.Series[i].Points, figure.Point{X: x(v), P: c.Probability, SE: c.SE})
	}
	for _, s := range f.Series {
		slices.SortFunc(s.Points, func(a, b figure.Point) int {
			if a.X < b.X {
				return -1
			}
			return 1
		})
	}
	if n := len(f.Series); n > figure.MaxSeries {
		f.Note = fmt.Sprintf("the best %d of %d series", figure.MaxSeries, n)
		f.Series = f.Series[:figure.MaxSeries]
	}
	return f
}

// acrossAxis picks the key along x.
func (k *comparison) acrossAxis() (axis int, numbers bool) {
	for i, a := range k.axes {
		if _, ok := sameUnit(a); ok && len(a.Values) > 1 {
			return i, true
		}
	}
	for i, a := range k.axes {
		if len(a.Values) > 1 {
			return i, false
		}
	}
	return 0, false
}

// ticks sets the x axis and returns where a row stands on it.
func (k *comparison) ticks(f *figure.Chances, across int, numbers bool) func(*variant) float64 {
	if across < 0 {
		first := k.hours[0]
		hour := func(v *variant) float64 { return v.hour.Sub(first).Hours() }
		for _, h := range k.hours {
			v := variant{hour: h}
			f.Ticks = append(f.Ticks, figure.Tick{X: hour(&v), Label: v.clock(k)})
		}
		return hour
	}
	a := k.axes[across]
	values, _ := sameUnit(a)
	at := map[string]float64{}
	for i, s := range a.Values {
		at[s] = float64(i)
		if numbers {
			at[s] = values[i]
		}
		f.Ticks = append(f.Ticks, figure.Tick{X: at[s], Label: shorten(s)})
	}
	slices.SortFunc(f.Ticks, func(a, b figure.Tick) int {
		if a.X < b.X {
			return -1
		}
		return 1
	})
	return func(v *variant) float64 { return at[v.Set[a.Key]] }
}

// shorten cuts a long value, such as a whole device, for a label.
func shorten(s string) string {
	const most = 24
	if r := []rune(s); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}

// sameUnit returns an axis's values as numbers where all have one unit.
func sameUnit(a choice.Axis) ([]float64, bool) {
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

// cloudFigure draws the cloud of each hour's best row in the order of the
// hours, else of each row, best first.
func (k *comparison) cloudFigure() figure.Clouds {
	f := figure.Clouds{Title: k.file.Flight.ID + ": where it comes down", Field: k.rows[0].file.Field}
	rows := k.rows
	if len(k.hours) > 1 {
		f.Title += ", the best choice of each hour"
		rows = nil
		for _, h := range k.hours {
			if i := slices.IndexFunc(k.rows, func(v *variant) bool { return v.hour.Equal(h) }); i >= 0 {
				rows = append(rows, k.rows[i])
			}
		}
	}
	for _, v := range rows[:min(len(rows), figure.MaxPanels)] {
		p := figure.Panel{Title: shortLabel(v.label(k)), Points: v.points(), In: v.in, Area: v.chances.Contours([]float64{0.9})[0].Shape}
		if v.in != nil {
			p.Title = fmt.Sprintf("%s: %.1f %%", p.Title, 100*v.Places[0].Probability)
		}
		f.Panels = append(f.Panels, p)
	}
	return f
}

// shortLabel drops the section of keys, so that a label fits over its panel.
func shortLabel(s string) string {
	var out []string
	for part := range strings.SplitSeq(s, ", ") {
		key, value, ok := strings.Cut(part, " ")
		if i := strings.LastIndexByte(key, '.'); ok && i >= 0 {
			part = key[i+1:] + " " + value
		}
		out = append(out, part)
	}
	return shorten(strings.Join(out, ", "))
}
