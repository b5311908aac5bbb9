package hindcast

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"sort"
	"strconv"

	"windfall/drift/wind"
	"windfall/drift/wind/spread"
)

// Fact is how wrong the winds of one kind were in a layer, as they were given
// and carried up by the single-level law: a summary that may be kept where the
// winds themselves may not.
type Fact struct {
	Kind         string
	Age          float64 // h
	Lone, Night  bool
	Top          float64 // m, of the layer
	Cases, Dates int
	Speed        float64 // m/s, root mean square: of the reading, or of the layer's mean wind as given
	RMS          float64 // m/s, root mean square error of a component of the layer's mean wind
}

// Facts sums cases up for the layers up to tops, in order of kind and top.
func Facts(cases []Case, tops []float64) []Fact {
	byKey := map[string]*Fact{}
	dates := map[string]map[string]bool{}
	for i := range cases {
		c := &cases[i]
		if c.At != nil {
			continue
		}
		f := Fact{Kind: c.Kind, Age: c.Given.Age, Lone: c.Lone(), Night: c.Fresh() && c.Given.Sun < 0}
		if f.Night {
			f.Kind += " by night"
		} else if c.Fresh() {
			f.Kind += " by day"
		}
		for _, f.Top = range tops {
			if c.Truth.Top() < 0.95*f.Top {
				break
			}
			key := fmt.Sprintf("%s %6.0f", f.Kind, f.Top)
			if byKey[key] == nil {
				g := f
				g.Age = 0
				byKey[key], dates[key] = &g, map[string]bool{}
			}
			g := byKey[key]
			had, truth := meanWind(&c.Had.Profile, f.Top), meanWind(&c.Truth.Profile, f.Top)
			g.Cases++
			g.Age += c.Given.Age
			g.RMS += square(truth-had) / 2
			if f.Lone {
				g.Speed += math.Pow(c.Had.Levels[0].Speed, 2)
			} else {
				g.Speed += square(had)
			}
			dates[key][c.Group] = true
		}
	}
	keys := make([]string, 0, len(byKey))
	for k := range byKey {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	var out []Fact
	for _, k := range keys {
		f := byKey[k]
		n := float64(f.Cases)
		f.Dates, f.Age, f.Speed, f.RMS = len(dates[k]), f.Age/n, math.Sqrt(f.Speed/n), math.Sqrt(f.RMS/n)
		out = append(out, *f)
	}
	return out
}

func square(w complex128) float64 { return real(w)*real(w) + imag(w)*imag(w) }

// meanWind is the mean wind of the layer from the ground up to top.
func meanWind(p *wind.Profile, top float64) (mean complex128) {
	for i := range layers {
		u, v := p.At(top * (float64(i) + 0.5) / layers)
		mean += complex(u, v) / layers
	}
	return mean
}

// Expected is the RMS that the model has for winds such as the fact's; old: the
// one that the spreads had before they went by kind.
func (f *Fact) Expected(m *spread.Model, old bool) float64 {
	p := wind.Profile{VeerDeg: wind.DefaultVeer, Levels: []wind.Level{{Height: 10, Speed: f.Speed, FromDeg: 270}}}
	if !f.Lone {
		p.Levels = append(p.Levels, wind.Level{Height: 4000, Speed: f.Speed, FromDeg: 270})
	}
	sun := 30.0
	if f.Night {
		sun = -30
	}
	s := m.Of(p, spread.Source{Age: f.Age, Sun: sun})
	if old {
		s = nil
	}
	same := &Profile{Profile: p}
	l := layerError(p, s, same, f.Top)
	return math.Sqrt((l.VarAlong+l.VarAcross)/2 + (l.Along*l.Along+l.Across*l.Across)/2)
}

// WriteFacts writes facts as CSV; ReadFacts reads them.
func WriteFacts(w io.Writer, facts []Fact) error {
	out := csv.NewWriter(w)
	rows := [][]string{{"kind", "age_h", "lone", "night", "top_m", "cases", "dates", "speed_mps", "rms_mps"}}
	for _, f := range facts {
		rows = append(rows, []string{f.Kind, fmt.Sprintf("%.3g", f.Age), strconv.FormatBool(f.Lone),
			strconv.FormatBool(f.Night), fmt.Sprintf("%g", f.Top),
			strconv.Itoa(f.Cases), strconv.Itoa(f.Dates), fmt.Sprintf("%.2f", f.Speed), fmt.Sprintf("%.2f", f.RMS)})
	}
	return out.WriteAll(rows)
}

// ReadFacts reads what WriteFacts wrote.
func ReadFacts(r io.Reader) (out []Fact, err error) {
	rows, err := csv.NewReader(r).ReadAll()
	if err != nil {
		return nil, err
	}
	for i, row := range rows[min(1, len(rows)):] {
		var f Fact
		f.Kind = row[0]
		line := fmt.Sprint(row[1:])
		if _, err := fmt.Sscanf(line, "[%g %t %t %g %d %d %g %g]", &f.Age, &f.Lone, &f.Night, &f.Top, &f.Cases, &f.Dates,
			&f.Speed, &f.RMS); err != nil {
			return nil, fmt.Errorf("line %d: %w", i+2, err)
		}
		out = append(out, f)
	}
	return out, nil
}
