package learn

import (
	"math"
	"sort"

	"windfall/drift"
	"windfall/geo"
	"windfall/geo/grid"
)

// Share is how much of a miss one group of inputs explains.
type Share struct {
	Cause  string  `json:"cause"`
	Likely float64 `json:"likely_m"` // m along the miss, at the likeliest inputs that land at the find; sums to it
	Could  float64 `json:"could_m"`  // m along the miss that two standard deviations of these inputs reach
}

// causes names the groups of inputs as a flier thinks of them.
func cause(c drift.Coord) string {
	switch c.Group {
	case "wind speed", "wind direction", "wind shape", "wind choice":
		return "wind"
	case "rail lean":
		return "lean"
	}
	if n := len(c.Group); n > 10 && c.Group[n-10:] == " drag area" {
		return "descent rate"
	}
	return "the rest"
}

// Explain splits a miss (find less the map's middle, m) among wind, descent
// rate, lean and the rest, by the nominal flight's response to each input: at
// the likeliest inputs for a linear response J, J^T (J J^T)^-1 miss. Causes come
// largest first.
func Explain(m *drift.Model, miss geo.XY) []Share {
	coords := m.Coords()
	var w drift.Work
	in := drift.Input{Outcome: m.NominalOutcome(), Z: make([]float64, len(coords))}
	j := make([]geo.XY, len(coords))
	const step = 0.5
	for i := range coords {
		in.Z[i] = step
		up := m.Fly(in, &w).At
		in.Z[i] = -step
		j[i] = up.Sub(m.Fly(in, &w).At).Scale(1 / (2 * step))
		in.Z[i] = 0
	}
	var c grid.Cov
	for _, d := range j {
		c = c.Plus(grid.Outer(d))
	}
	length := miss.Norm()
	if !(c.Det() > 0) || length == 0 {
		return nil
	}
	a := c.Inverse().Of(miss)
	along := miss.Scale(1 / length)
	sum, reach := map[string]float64{}, map[string]float64{}
	for i, d := range j {
		k := cause(coords[i])
		p := d.Dot(along)
		sum[k] += p * d.Dot(a)
		reach[k] += p * p
	}
	var out []Share
	for k, v := range sum {
		out = append(out, Share{k, v, 2 * math.Sqrt(reach[k])})
	}
	sort.Slice(out, func(a, b int) bool {
		if out[a].Likely != out[b].Likely {
			return out[a].Likely > out[b].Likely
		}
		return out[a].Cause < out[b].Cause
	})
	return out
}
