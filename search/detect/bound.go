package detect

import (
	"math"
	"sort"
)

// Effort is what a group of searchers with the same sweep widths can spend:
// Length is the way (m) they can cover in all, Width their sweep width (m) by
// cover class. Searchers whose widths are in proportion form one group too,
// with Length scaled.
type Effort struct {
	Length float64
	Width  []float64
}

// Bound returns the POS of the best possible spread of the efforts over cells
// of the given chances, area (m2, of one cell) and cover classes, with free
// travel; a nil class is class 0 everywhere. It is the classic problem of the
// distribution of effort (Koopman, The theory of search III, Operations
// Research 5, 1957; Charnes and Cooper, The theory of search: optimum
// distribution of search effort, Management Science 5, 1958; Stone, Theory of
// Optimal Search, 1975), solved by its Lagrangian dual: the multipliers (POS
// per metre of each group) are brought to the minimum, and whatever they are,
// the dual is never below what any plan can reach.
func Bound(law Law, chance []float64, area float64, class []int, efforts []Effort) float64 {
	var act []Effort
	for _, e := range efforts {
		if e.Length > 0 {
			act = append(act, e)
		}
	}
	if len(act) == 0 {
		return 0
	}
	d := dual{law: law, area: area, efforts: act}
	d.collect(chance, class, widths(act))
	lam := make([]float64, len(act))
	var top float64
	for _, s := range d.classes {
		if len(s.p) > 0 {
			top = math.Max(top, s.p[0])
		}
	}
	if top == 0 {
		return 0
	}
	for g, e := range act {
		w := 0.0
		for _, v := range e.Width {
			w = math.Max(w, v)
		}
		if w == 0 {
			return Bound(law, chance, area, class, append(append([]Effort{}, act[:g]...), act[g+1:]...))
		}
		lam[g] = math.Log(top * w / area)
	}
	best := d.at(lam)
	for round := 0; round < 40; round++ {
		before := best
		for g := range lam {
			best = d.descend(lam, g, best)
		}
		if len(lam) > 1 {
			best = d.descend(lam, -1, best) // all together
		}
		if before-best < 1e-12 || len(lam) == 1 {
			break
		}
	}
	return math.Min(best, d.mass)
}

func widths(es []Effort) int {
	n := 1
	for _, e := range es {
		n = max(n, len(e.Width))
	}
	return n
}

type dual struct {
	law     Law
	area    float64
	efforts []Effort
	classes []sorted
	mass    float64
}

// sorted holds the cells of one cover class, likeliest first, with running sums
// of their chances and of the logarithms.
type sorted struct {
	p, sumP, sumLog []float64
}

func (d *dual) collect(chance []float64, class []int, n int) {
	d.classes = make([]sorted, n)
	for i, p := range chance {
		if !(p > 0) {
			continue
		}
		c := 0
		if class != nil && class[i] < n {
			c = class[i]
		}
		d.classes[c].p = append(d.classes[c].p, p)
		d.mass += p
	}
	for c := range d.classes {
		s := &d.classes[c]
		sort.Sort(sort.Reverse(sort.Float64Slice(s.p)))
		s.sumP, s.sumLog = make([]float64, len(s.p)+1), make([]float64, len(s.p)+1)
		for i, p := range s.p {
			s.sumP[i+1], s.sumLog[i+1] = s.sumP[i]+p, s.sumLog[i]+math.Log(p)
		}
	}
}

// at returns the dual at the logarithms of the multipliers.
func (d *dual) at(lam []float64) float64 {
	mu := make([]float64, len(d.classes)) // price of one unit of coverage, by class
	var sum float64
	for c := range mu {
		mu[c] = math.Inf(1)
	}
	for g, e := range d.efforts {
		l := math.Exp(lam[g])
		sum += l * e.Length
		for c, w := range e.Width {
			if w > 0 {
				mu[c] = math.Min(mu[c], l*d.area/w)
			}
		}
	}
	for c, s := range d.classes {
		m := mu[c]
		k := sort.Search(len(s.p), func(i int) bool { return s.p[i] <= m })
		if d.law == InverseCube {
			for _, p := range s.p[:k] {
				z := math.Sqrt(4 / math.Pi * math.Log(p/m))
				sum += p*math.Erf(math.Sqrt(math.Pi)*z/2) - m*z
			}
			continue
		}
		// p - m - m ln(p/m), summed
		sum += s.sumP[k] - m*(float64(k)*(1-math.Log(m))+s.sumLog[k])
	}
	return sum
}

// descend brings one multiplier (g), or all by one factor (-1), to the minimum
// of the dual, which is convex in the multipliers, by golden section on its
// logarithm, and returns the value there; lam is changed if that is less.
func (d *dual) descend(lam []float64, g int, best float64) float64 {
	try := func(x float64) float64 {
		t := append([]float64(nil), lam...)
		for i := range t {
			if g < 0 || i == g {
				t[i] += x
			}
		}
		return d.at(t)
	}
	const gold = 0.6180339887498949
	lo, hi := -30.0, 5.0
	a, b := hi-gold*(hi-lo), lo+gold*(hi-lo)
	fa, fb := try(a), try(b)
	for hi-lo > 1e-7 {
		if fa <= fb {
			hi, b, fb = b, a, fa
			a = hi - gold*(hi-lo)
			fa = try(a)
		} else {
			lo, a, fa = a, b, fb
			b = lo + gold*(hi-lo)
			fb = try(b)
		}
	}
	x := (lo + hi) / 2
	if v := try(x); v < best {
		for i := range lam {
			if g < 0 || i == g {
				lam[i] += x
			}
		}
		return v
	}
	return best
}
