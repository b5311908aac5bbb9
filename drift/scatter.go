package drift

import (
	"math"

	"windfall/geo"
	"windfall/geo/grid"
)

// Scatter is the centre and the one-sigma ellipse of landings, with standard
// errors that come from the scatter between the replicates of the runs.
type Scatter struct {
	Runs                     int
	Mean, MeanSE             geo.XY  // m
	SemiMajor, SemiMinor     float64 // m, one sigma
	AzimuthDeg               float64 // of the major axis, degrees true in [0, 180)
	SemiMajorSE, SemiMinorSE float64 // m
}

// Scatter returns centre and ellipse of the landings that keep says yes to; nil keeps
// all. Weights are not used: it is about the runs as drawn.
func (c *Cloud) Scatter(keep func(*Landing) bool) Scatter {
	if len(c.Landings) == 0 {
		return Scatter{}
	}
	all := grid.Sums{About: c.Landings[0].At}
	var part [replicates]grid.Sums
	for j := range part {
		part[j].About = all.About
	}
	for i := range c.Landings {
		if l := &c.Landings[i]; keep == nil || keep(l) {
			all.Add(l.At, 1)
			part[i%replicates].Add(l.At, 1)
		}
	}
	out := scatter(all)
	var left [replicates]Scatter
	for j, p := range part {
		left[j] = scatter(all.Less(p))
	}
	se := func(of func(Scatter) float64) float64 { return jackknife(left[:], of) }
	out.MeanSE = geo.XY{X: se(func(s Scatter) float64 { return s.Mean.X }),
		Y: se(func(s Scatter) float64 { return s.Mean.Y })}
	out.SemiMajorSE = se(func(s Scatter) float64 { return s.SemiMajor })
	out.SemiMinorSE = se(func(s Scatter) float64 { return s.SemiMinor })
	return out
}

// jackknife returns the standard error of a figure from its values with one
// replicate left out each.
func jackknife(left []Scatter, of func(Scatter) float64) float64 {
	var mean, sum float64
	k := float64(len(left))
	for _, s := range left {
		mean += of(s)
	}
	mean /= k
	for _, s := range left {
		sum += sq(of(s) - mean)
	}
	return math.Sqrt((k - 1) / k * sum)
}

// ShareSE returns the standard error of the share of the runs that is says yes
// to, from its scatter between the replicates. Weights are not used.
func (c *Cloud) ShareSE(is func(i int) bool) float64 {
	var yes, all [replicates]float64
	for i := range c.Landings {
		all[i%replicates]++
		if is(i) {
			yes[i%replicates]++
		}
	}
	var sum, squares float64
	for j := range yes {
		if all[j] == 0 {
			return 0.5 / math.Sqrt(max(float64(len(c.Landings)), 1)) // too few runs to tell: the most it can be
		}
		p := yes[j] / all[j]
		sum, squares = sum+p, squares+p*p
	}
	const n = replicates
	return math.Sqrt(max(squares-sum*sum/n, 0) / (n * (n - 1)))
}

func sq(x float64) float64 { return x * x }

// scatter returns centre and ellipse of points of weight 1.
func scatter(s grid.Sums) Scatter {
	if s.W < 1 {
		return Scatter{}
	}
	out := Scatter{Runs: int(s.W), Mean: s.Mean()}
	if s.W > 1 {
		out.SemiMajor, out.SemiMinor, out.AzimuthDeg = s.Sample().Axes()
	}
	return out
}
