package compare

import (
	"fmt"
	"strings"
	"time"
)

// Auto is the value of rail.toward that asks for the best direction.
const Auto = "auto"

// toward is the key whose value may be Auto.
const toward = "rail.toward"

// Axis is one key of the flight with the values to try, at least one.
type Axis struct {
	Key    string
	Values []string // as the flight file would have them
}

// Fixed says that the axis sets every row alike.
func (a Axis) Fixed() bool { return len(a.Values) == 1 && a.Values[0] != Auto }

// Fixed returns the settings that all rows share.
func Fixed(axes []Axis) (out []Setting) {
	for _, a := range axes {
		if a.Fixed() {
			out = append(out, Setting{a.Key, a.Values[0]})
		}
	}
	return out
}

// Varied returns the axes that tell rows apart.
func (t *Table) Varied() []Axis {
	var out []Axis
	for _, a := range t.Axes {
		if !a.Fixed() {
			out = append(out, a)
		}
	}
	return out
}

// Size returns how many combinations the axes and hours have, at most 1e9.
func (in Input) Size() int {
	n := max(1, len(in.Hours))
	for _, a := range in.Axes {
		n = min(n*len(a.Values), 1e9)
	}
	return n
}

// rows lists every combination, unflown: hours slowest, the last axis fastest.
func (in Input) rows() ([]*Row, error) {
	if n := in.Size(); n > MostVariants {
		return nil, InputError(fmt.Sprintf("%d combinations are more than %d; give fewer values or hours, or a wider step",
			n, MostVariants))
	}
	hours := in.Hours
	if len(hours) == 0 {
		hours = []time.Time{{}}
	}
	var out []*Row
	for _, h := range hours {
		for _, pick := range combinations(in.Axes) {
			r := &Row{Set: map[string]string{}, Hour: h, order: len(out)}
			if !h.IsZero() {
				r.settings = append(r.settings, Setting{"when", h.Format(time.RFC3339)})
			}
			for k, a := range in.Axes {
				r.put(a.Key, a.Values[pick[k]])
			}
			out = append(out, r)
		}
	}
	return out, nil
}

// put sets a key of the row, or leaves the rail to be turned.
func (r *Row) put(key, value string) {
	r.Set[key] = value
	if key == toward && value == Auto {
		r.turn = true
		return
	}
	r.settings = append(r.settings, Setting{key, value})
}

// combinations returns one value index an axis in each row, the last axis
// fastest.
func combinations(axes []Axis) [][]int {
	out := [][]int{{}}
	for _, a := range axes {
		var next [][]int
		for _, row := range out {
			for v := range a.Values {
				next = append(next, append(append([]int{}, row...), v))
			}
		}
		out = next
	}
	return out
}

// label says what sets a row apart, for people.
func (t *Table) label(r *Row) string {
	var out []string
	if !r.Hour.IsZero() {
		out = append(out, t.Clock(r.Hour))
	}
	for _, a := range t.Varied() {
		out = append(out, a.Key+" "+r.Set[a.Key])
	}
	if out == nil {
		return "the flight so set"
	}
	return strings.Join(out, ", ")
}

// Clock writes an hour of the table in its zone, with the date where hours of
// more than one day are compared.
func (t *Table) Clock(hour time.Time) string {
	first, last := t.Hours[0], t.Hours[len(t.Hours)-1]
	if first.Format(time.DateOnly) != last.Format(time.DateOnly) {
		return hour.Format("2 Jan 15:04")
	}
	return hour.Format("15:04")
}

// inWords says what was set, for errors.
func inWords(settings []Setting) string {
	var out []string
	for _, s := range settings {
		out = append(out, s.Key+"="+s.Value)
	}
	return strings.Join(out, ", ")
}
