package learn

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"windfall/geo"
)

// flown is a run under drawing.
type flown struct {
	y    []float64 // its standard coordinates along the frame
	x    []float64 // its columns
	logL float64   // log of all its likelihood, the find's part included

	told Told
}

// drawing is how runs of an aim are drawn.
type drawing struct {
	*aim
	columns frame // what the factors' values stand for
	across  frame // the directions that are fitted
	plane   *plane
	found   bool // they land on the find
}

// runs draws n runs of the aim's outcome that agree with what was logged:
// with the find, where found is set, and with the entries. A first half comes
// from the belief; where few of those are effective a normal is fitted to them,
// tempered, and the rest comes from that (adaptive importance sampling; all
// rounds count by the mixture they came from together, Veach and Guibas 1995).
func (h *aim) runs(n int, found bool, r *rand.Rand) runs {
	d := drawing{h, h.columnsOf(), nil, &plane{}, found}
	d.across = d.columns
	if found {
		p, ok := h.touch()
		if !ok {
			return runs{width: len(d.columns), entries: len(h.c.Entries)}
		}
		d.plane, d.across = &p, nil
		for _, e := range d.columns {
			d.across = d.across.add(p.without(e))
		}
	}
	from := []normal{standard(len(d.across))}
	var all []flown
	for round := range drawRounds {
		all = append(all, d.round(even(n/drawRounds), from[round], r)...)
		next, ok := refitted(all, from)
		if round == drawRounds-1 || !ok {
			break
		}
		from = append(from, next)
	}
	return h.gather(all, from, len(d.columns))
}

func even(n int) int { return max(2, n+n%2) }

// without is xi with nothing in the plane.
func (p *plane) without(xi []float64) []float64 {
	out := append([]float64(nil), xi...)
	if p.b[0] == nil {
		return out
	}
	for k := range 2 {
		floats.AddScaled(out, -floats.Dot(out, p.b[k]), p.b[k])
	}
	return out
}

// round draws and flies count runs, those along the fitted directions from g.
func (d *drawing) round(count int, g normal, r *rand.Rand) []flown {
	var all []flown
	for _, xi := range evenNormals(count, d.c.Dim, d.across, r) {
		u := d.across.of(xi)
		y := g.at(u)
		for k, b := range d.across {
			floats.AddScaled(xi, y[k]-u[k], b)
		}
		run := flown{y: y}
		if d.found {
			xi = d.hit(d.plane, d.plane.without(xi), &run, r)
		} else if _, ok := d.flyLogged(xi, &run); !ok {
			run.logL = math.Inf(-1)
		}
		if !math.IsInf(run.logL, -1) {
			run.x = d.values(d.columns, xi)
		}
		all = append(all, run)
	}
	return all
}

// flyLogged flies the input xi and fills run with what the entries say of it.
func (h *aim) flyLogged(xi []float64, run *flown) (at geo.XY, ok bool) {
	n := len(h.c.Entries)
	if run.logL = 0; n == 0 {
		return h.at(xi)
	}
	run.told = Told{make([]float64, n), make([]float64, n), make([]float64, n)}
	for i := range xi {
		h.in.Z[i] = h.q.mean[i] + h.q.sd[i]*xi[i]
	}
	at, ok = h.weigh(h.in, run.told)
	run.logL = floats.Sum(run.told.Log)
	return at, ok
}

// evenNormals draws standard normals of dimension dim, whose means along the
// frame are 0 and covariance there 1 exactly: what was logged then tells of a
// factor only what it does, nothing by chance of the draw.
func evenNormals(count, dim int, f frame, r *rand.Rand) [][]float64 {
	out := make([][]float64, count)
	for i := range out {
		out[i] = make([]float64, dim)
		for j := range out[i] {
			if i%2 == 1 {
				out[i][j] = -out[i-1][j]
				continue
			}
			out[i][j] = r.NormFloat64()
		}
	}
	k := len(f)
	if k == 0 || count < 4*k {
		return out
	}
	c := mat.NewSymDense(k, nil)
	for _, xi := range out {
		c.SymRankOne(c, 1/float64(count), mat.NewVecDense(k, f.of(xi)))
	}
	var ch mat.Cholesky
	if !ch.Factorize(c) {
		return out
	}
	root := mat.NewTriDense(k, mat.Lower, nil)
	ch.LTo(root)
	for _, xi := range out {
		y := f.of(xi)
		u := append([]float64(nil), y...)
		for i := range u {
			for j := range i {
				u[i] -= root.At(i, j) * u[j]
			}
			u[i] /= root.At(i, i)
		}
		for i, b := range f {
			floats.AddScaled(xi, u[i]-y[i], b)
		}
	}
	return out
}

// mixed is the log of the density over that of the mixture of from, of the
// standard normal at y.
func mixed(y []float64, from []normal) float64 {
	if len(from) == 1 {
		return 0
	}
	logs := make([]float64, len(from))
	for k := range from {
		logs[k] = from[k].logRatio(y)
	}
	return math.Log(float64(len(from))) - floats.LogSumExp(logs)
}

// refitted is the normal that the next round draws from; ok is false where the
// runs so far are effective enough, or say nothing.
func refitted(runs []flown, from []normal) (normal, bool) {
	logs := make([]float64, len(runs))
	top := math.Inf(-1)
	for i := range runs {
		logs[i] = runs[i].logL
		if !math.IsInf(logs[i], -1) {
			logs[i] += mixed(runs[i].y, from)
		}
		top = max(top, logs[i])
	}
	if math.IsInf(top, -1) || len(runs[0].y) == 0 {
		return normal{}, false
	}
	w := make([]float64, len(logs))
	temper := func(beta float64) float64 {
		for i, v := range logs {
			w[i] = math.Exp(beta * (v - top))
		}
		s := floats.Sum(w)
		return s * s / floats.Dot(w, w)
	}
	if temper(1) > drawEnough*float64(len(runs)) {
		return normal{}, false
	}
	want := min(float64(4*len(runs[0].y)), 0.5*float64(len(runs)))
	lo, hi := 0.0, 1.0
	if temper(1) < want {
		for range 30 {
			mid := (lo + hi) / 2
			if temper(mid) > want {
				lo = mid
			} else {
				hi = mid
			}
		}
		temper(lo)
	}
	y := make([][]float64, len(runs))
	for i := range runs {
		y[i] = runs[i].y
	}
	return fitNormal(y, w, drawWiden)
}

// gather makes runs of those flown; those of next to no weight under the belief
// are left out.
func (h *aim) gather(all []flown, from []normal, width int) runs {
	out := runs{width: width, entries: len(h.c.Entries)}
	out.mean, out.sd = h.columns()
	top := math.Inf(-1)
	for i := range all {
		if all[i].x != nil {
			all[i].logL += mixed(all[i].y, from) - math.Log(float64(len(all)))
			top = max(top, all[i].logL)
		}
	}
	for _, run := range all {
		if run.x == nil || run.logL < top-drawLeast || math.IsInf(run.logL, -1) {
			continue
		}
		out.x, out.logW = append(out.x, run.x...), append(out.logW, run.logL)
		out.log, out.mistake = append(out.log, run.told.Log...), append(out.mistake, run.told.Mistake...)
		out.off = append(out.off, run.told.Off...)
	}
	return out
}
