package drift

import (
	"math"
	"slices"

	"windfall/drift/wind"
)

// windTable holds the mean winds at fixed heights, between which every run's
// wind is linear, and how the random shape is drawn there.
type windTable struct {
	heights []float64      // m, ascending
	mean    [][][2]float64 // m/s, of each choice at each height
	miss    [][][2]float64 // m/s, what the runs add to mean; nil of a choice: nothing
	sd      [][]float64    // m/s, s(z) of each choice at each height
	tail    [][]float64    // of each choice at each height, log sd of the size of its error; nil: none
	carried []float64      // of each choice, share of the spread of speed and direction
	lower   []float64      // the next height below at which a step should end
	shapeAt []float64      // m, ascending, where the random shape is drawn
	between []shapeShare   // of each height among shapeAt
	bridges [][]bridge     // of each choice, in the order of the coordinates
	choices []float64      // cumulative probability
}

// shapeShare says between which two draws of the shape a height lies.
type shapeShare struct {
	lo, hi int
	f      float64 // 0 at lo, 1 at hi
}

// bridge draws the unit process at one node given two that are drawn already:
// a G[left] + b G[right] + s Z.
type bridge struct {
	node, left, right int
	a, b, s           float64
}

// shapeHeights returns where the random shape is drawn: every 25 m near the
// ground, 50 m to 1 km, 80 m above, or at a level of the wind instead where one
// is about that far. Straight lines between draws lose the share
// step^2/(12 L^2), L = 400 m, of the variance of the wind's integral: 0.03 %,
// 0.13 %, 0.33 %.
func shapeHeights(bottom, top float64, levels []float64) []float64 {
	var hs []float64
	for z := 0.0; z > bottom; z -= 100 {
		hs = append(hs, z-100)
	}
	slices.Reverse(hs)
	for z := 0.0; ; {
		hs = append(hs, z)
		if z >= top {
			return hs
		}
		d := shapeStep(z)
		next, best := z+d, 0.3*d
		for _, l := range levels {
			if off := math.Abs(l - z - d); off < best {
				next, best = l, off
			}
		}
		z = next
	}
}

func shapeStep(z float64) float64 {
	switch {
	case z < 100:
		return 25
	case z < 1000:
		return 50
	}
	return 80
}

// stopsAt returns the heights at which a step down should end: where the shape
// is drawn, and levels well away from there. The kink of a level nearer than a
// third of the spacing moves a landing by centimetres.
func stopsAt(shape, levels []float64) []float64 {
	out := slices.Clone(shape)
	for _, l := range levels {
		i, _ := slices.BinarySearch(out, l)
		near := math.Inf(1)
		for _, j := range []int{i - 1, i} {
			if j >= 0 && j < len(out) {
				near = min(near, math.Abs(out[j]-l))
			}
		}
		if near > 0.34*shapeStep(l) {
			out = slices.Insert(out, i, l)
		}
	}
	return out
}

// windRange says where winds are sampled: from bottom to top (m above the pad),
// in steps of the share step of the height where they are curved, for a flight
// to the apogee. own: with the spread that goes with their kind.
type windRange struct {
	bottom, top, apogee, step float64
	own                       bool
}

// newWindTable samples the winds. Of the random shape the ground, the height
// near apogee and the middles between are drawn first.
func newWindTable(winds []wind.Choice, w windRange) *windTable {
	var levels []float64
	for _, c := range winds {
		for _, l := range c.Profile.Levels {
			levels = append(levels, l.Height)
		}
	}
	t := &windTable{shapeAt: shapeHeights(w.bottom, w.top, levels)}
	stops := stopsAt(t.shapeAt, levels)
	t.heights = slices.Clone(t.shapeAt)
	total := 0.0
	for _, c := range winds {
		t.heights = append(t.heights, c.Profile.Heights(w.top, w.step)...)
		total += weightOf(c)
		t.choices = append(t.choices, total)
	}
	for i := range t.choices {
		t.choices[i] /= total
	}
	slices.Sort(t.heights)
	t.heights = slices.CompactFunc(t.heights, func(a, b float64) bool { return math.Abs(b-a) < 1e-6 })
	for _, c := range winds {
		t.addChoice(c.Profile, w)
	}
	for _, z := range t.heights {
		k, _ := slices.BinarySearch(stops, z+1e-9)
		t.lower = append(t.lower, stops[max(k-1, 0)])
		j, _ := slices.BinarySearch(t.shapeAt, z)
		j = min(max(j, 1), len(t.shapeAt)-1)
		lo, hi := t.shapeAt[j-1], t.shapeAt[j]
		t.between = append(t.between, shapeShare{j - 1, j, min((z-lo)/(hi-lo), 1)})
	}
	return t
}

// addChoice tables the mean, the error and the draws of one wind.
func (t *windTable) addChoice(p wind.Profile, w windRange) {
	var own *wind.Spread
	if w.own {
		own = p.Spread.For(w.apogee)
	}
	n := len(t.heights)
	mean, sd, reach, carried := make([][2]float64, n), make([]float64, n), wind.ShapeScale, 1.0
	var miss [][2]float64
	var tail []float64
	if own != nil {
		miss, tail, reach, carried = make([][2]float64, n), make([]float64, n), own.Reach, own.Carried
	}
	for i, z := range t.heights {
		mean[i][0], mean[i][1] = p.At(z)
		if own == nil {
			sd[i] = p.ShapeSD(z)
		} else {
			row := own.At(z)
			miss[i], sd[i], tail[i] = [2]float64{row.U, row.V}, row.SD, row.Tail
		}
	}
	t.mean, t.miss, t.sd, t.tail = append(t.mean, mean), append(t.miss, miss), append(t.sd, sd), append(t.tail, tail)
	t.carried = append(t.carried, carried)
	t.bridges = append(t.bridges, bridges(t.shapeAt, w.apogee, reach))
}

func weightOf(c wind.Choice) float64 {
	if c.Weight == 0 {
		return 1
	}
	return c.Weight
}

// bridges orders the draws of the unit process exp(-|dz|/reach). It is Markov,
// so a node given its nearest drawn neighbours does not depend on the others.
func bridges(zs []float64, apogee, reach float64) []bridge {
	ground := slices.Index(zs, 0)
	mid := ground + 1
	for mid+1 < len(zs) && zs[mid] < apogee {
		mid++
	}
	rho := func(i, j int) float64 { return math.Exp(-math.Abs(zs[i]-zs[j]) / reach) }
	out := []bridge{{node: ground, left: ground, right: ground, s: 1}}
	chain := func(node, from int) {
		r := rho(node, from)
		out = append(out, bridge{node, from, from, r, 0, math.Sqrt(1 - r*r)})
	}
	fill := func(lo, hi int) {
		for queue := [][2]int{{lo, hi}}; len(queue) > 0; queue = queue[1:] {
			l, r := queue[0][0], queue[0][1]
			if r-l < 2 {
				continue
			}
			k := (l + r) / 2
			p, q := rho(l, k), rho(k, r)
			d := 1 - p*p*q*q
			out = append(out, bridge{k, l, r, p * (1 - q*q) / d, q * (1 - p*p) / d, math.Sqrt((1 - p*p) * (1 - q*q) / d)})
			queue = append(queue, [2]int{l, k}, [2]int{k, r})
		}
	}
	chain(mid, ground)
	fill(ground, mid)
	for k := mid + 1; k < len(zs); k++ {
		chain(k, k-1)
	}
	for k := ground - 1; k >= 0; k-- {
		chain(k, k+1)
	}
	return out
}

// windNode is the run's wind at a height and its slopes up to the next.
type windNode struct{ z, u, v, du, dv float64 }

// windDraw is what one run makes of the wind: the choice, a scale and a
// clockwise turn (radians) of the whole profile, and the shape's factor and
// normals (pairs, in the order of the bridges; empty: no shape).
type windDraw struct {
	choice             int
	scale, turn, shape float64
	size               float64 // normal, of the error's size
	z                  []float64
}

// setWind fills w.wind for a run. The nominal flight has the wind as it was
// given, without what such winds are known to miss.
func (w *Work) setWind(d windDraw) {
	t := w.table
	n := len(t.heights)
	if cap(w.wind) < n || cap(w.shape) < len(t.shapeAt) {
		w.wind = make([]windNode, n)
		w.shape = make([][2]float64, len(t.shapeAt))
	}
	w.wind, w.shape, w.cell = w.wind[:n], w.shape[:len(t.shapeAt)], 0
	s, c := math.Sincos(d.turn)
	s, c = s*d.scale, c*d.scale
	mean, miss := t.mean[d.choice], t.miss[d.choice]
	for i, zi := range t.heights {
		u, v := mean[i][0], mean[i][1]
		if miss != nil && !w.nominal {
			u, v = u+miss[i][0], v+miss[i][1]
		}
		w.wind[i] = windNode{z: zi, u: u*c + v*s, v: v*c - u*s}
	}
	if len(d.z) > 0 && d.shape > 0 {
		g, z := w.shape, d.z
		chain := t.bridges[d.choice]
		for k := range chain {
			b := &chain[k]
			l, r := g[b.left], g[b.right]
			g[b.node] = [2]float64{b.a*l[0] + b.b*r[0] + b.s*z[2*k], b.a*l[1] + b.b*r[1] + b.s*z[2*k+1]}
		}
		sd, tail := t.sd[d.choice], t.tail[d.choice]
		for i := range t.between {
			b := &t.between[i]
			lo, hi, k := &g[b.lo], &g[b.hi], sd[i]*d.shape
			if d.size != 0 && tail != nil {
				k *= math.Exp(tail[i]*d.size - tail[i]*tail[i])
			}
			w.wind[i].u += k * (lo[0] + b.f*(hi[0]-lo[0]))
			w.wind[i].v += k * (lo[1] + b.f*(hi[1]-lo[1]))
		}
	}
	for i := 0; i+1 < n; i++ {
		a, b := &w.wind[i], &w.wind[i+1]
		inv := 1 / (b.z - a.z)
		a.du, a.dv = (b.u-a.u)*inv, (b.v-a.v)*inv
	}
}

// at returns the node below z, for z below the first node a level one.
func (w *Work) windCell(z float64) *windNode {
	n, c := w.wind, w.cell
	for c+1 < len(n) && z >= n[c+1].z {
		c++
	}
	for c > 0 && z < n[c].z {
		c--
	}
	w.cell = c
	return &n[c]
}
