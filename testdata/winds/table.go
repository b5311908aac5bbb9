package main

import (
	"fmt"
	"math"
	"sort"

	"windfall/drift/hindcast"
	"windfall/drift/wind/spread"
)

// table prints coverage of layer means by kind, source and height.
func table(m *spread.Model, all []hindcast.Profile, held bool) {
	type cell struct{ n, in50, in75, in90, in95, ratio, score float64 }
	cells := map[string]*cell{}
	for _, c := range hindcast.Pairs(all) {
		if held && !c.Held() {
			continue
		}
		light := "day"
		if c.Given.Sun < 0 {
			light = "night"
		}
		kind := c.Kind
		if kind == "surface" {
			kind += " " + light
		}
		for _, top := range tops {
			if c.Truth.Top() < 0.95*top {
				break
			}
			l := hindcast.LayerError(m, &c, top)
			keys := []string{fmt.Sprintf("%-28s %5.0f m  ~all", kind, top), fmt.Sprintf("%-28s %5.0f m %s", kind, top,
				c.Truth.Source)}
			if v := c.Had.Levels[0].Speed; kind[:7] == "surface" {
				b := "light"
				if v > 6 {
					b = "strong"
				} else if v > 2 {
					b = "middling"
				}
				keys = append(keys, fmt.Sprintf("%-28s %5.0f m ~%s", kind, top, b))
			}
			for _, k := range keys {
				x := cells[k]
				if x == nil {
					x = &cell{}
					cells[k] = x
				}
				in := l.Inside()
				x.n++
				for i, p := range []*float64{&x.in50, &x.in75, &x.in90, &x.in95} {
					if in < []float64{0.5, 0.75, 0.9, 0.95}[i] {
						*p++
					}
				}
				x.ratio += (l.Along*l.Along + l.Across*l.Across) / (l.VarAlong + l.VarAcross)
				x.score += l.LogScore()
			}
		}
	}
	var keys []string
	for k := range cells {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	for _, k := range keys {
		x := cells[k]
		fmt.Printf("%-48s n %4.0f   %3.0f %3.0f %3.0f %3.0f   sd ratio %.2f  score %.3f\n", k, x.n, 100*x.in50/x.n,
			100*x.in75/x.n, 100*x.in90/x.n, 100*x.in95/x.n, math.Sqrt(x.ratio/x.n), x.score/x.n)
	}
}
