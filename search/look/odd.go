package look

import (
	"math"
	"slices"
)

const (
	block  = 16 // pixels a side; a background is one window of blocks
	reach  = 4  // blocks on each side that a background takes in
	guard  = 1  // blocks on each side that it leaves out
	kinds  = 6  // kinds of ground in a picture
	sample = 6000
	rounds = 8
	// nearby is the distance from the local background below which a pixel is
	// no candidate whatever the rest of the picture holds.
	nearby = 3.0
)

// odd holds how odd every pixel of one scale is: the distance, in standard
// deviations, from the ground around it or from the kind of ground anywhere in
// the picture that is most like it, whichever is less. A white stone among
// grass is no wonder where there are white stones.
type odd struct {
	*planes
	d    []float32
	q99  float64 // distance that one pixel in a hundred passes
	q999 float64 // one in a thousand
}

// oddness measures every pixel; room is as in moments.gauss.
func oddness(p *planes, room float64) *odd {
	o := &odd{planes: p, d: make([]float32, p.w*p.h)}
	near := p.backgrounds(room)
	anywhere := p.kinds(room)
	nx := (p.w + block - 1) / block
	hist := new([tiles * tiles][bins]int)
	var count [tiles * tiles]int
	for y := range p.h {
		row := near[(y/block)*nx:]
		at := y * tiles / p.h * tiles
		for x := range p.w {
			i := y*p.w + x
			c := p.lab[3*i:][:3]
			d := row[x/block].far2(c)
			if d > nearby*nearby {
				for k := range anywhere {
					d = min(d, anywhere[k].far2(c))
				}
			}
			d = float32(math.Sqrt(float64(d)))
			o.d[i] = d
			t := at + x*tiles/p.w
			count[t]++
			hist[t][min(int(d*perBin), bins-1)]++
		}
	}
	var q99, q999 [tiles * tiles]float64
	for t := range hist {
		q99[t] = quantile(hist[t][:], count[t], 0.01) / perBin
		q999[t] = quantile(hist[t][:], count[t], 0.001) / perBin
	}
	slices.Sort(q99[:])
	slices.Sort(q999[:])
	o.q99, o.q999 = q99[wild], q999[wild]
	return o
}

const (
	bins   = 2048
	perBin = 20.0 // bins to a standard deviation
	// The tail of the distances is that of the wild quarter of the picture's
	// tiles: no calmer, where the picture is of several kinds of ground, and no
	// wilder, for the thing itself makes up the tail where it lies.
	tiles = 4 // a side
	wild  = tiles * tiles * 3 / 4
)

// quantile returns the place (in bins) that the share of the counts lies above.
func quantile(hist []int, n int, share float64) float64 {
	want := share * float64(n)
	above := 0.0
	for i := len(hist) - 1; i >= 0; i-- {
		h := float64(hist[i])
		if above+h >= want {
			return float64(i) + 1 - (want-above)/math.Max(h, 1)
		}
		above += h
	}
	return 0
}

// leastDecade is the step in distance from one in a hundred to one in a
// thousand for three normal axes, 0.66 (chi, three degrees of freedom: 3.37 and
// 4.03): no tail is taken as thinner.
const leastDecade = 0.66

// rarity turns a distance into decades: -log10 of the share of the picture's
// pixels that would be as odd, the picture's own tail drawn on as an exponential.
func (o *odd) rarity(d float32) float64 {
	return 3 + (float64(d)-math.Max(o.q999, 4))/math.Max(o.q999-o.q99, leastDecade)
}

// reaching returns the distance of a rarity.
func (o *odd) reaching(r float64) float32 {
	return float32(math.Max(o.q999, 4) + (r-3)*math.Max(o.q999-o.q99, leastDecade))
}

// backgrounds returns the ground about each block, the nearest blocks left out
// so that a thing does not hide in its own background.
func (p *planes) backgrounds(room float64) []gauss {
	nx, ny := (p.w+block-1)/block, (p.h+block-1)/block
	sums := make([]moments, nx*ny)
	for y := range p.h {
		row := sums[(y/block)*nx:]
		for x := range p.w {
			row[x/block].add(p.lab[3*(y*p.w+x):])
		}
	}
	// table[j][i]: sums over blocks left of i and above j
	table := make([]moments, (nx+1)*(ny+1))
	for j := range ny {
		var run moments
		for i := range nx {
			run.plus(&sums[j*nx+i], 1)
			t := run
			t.plus(&table[j*(nx+1)+i+1], 1)
			table[(j+1)*(nx+1)+i+1] = t
		}
	}
	window := func(i, j, r int) moments {
		x0, y0, x1, y1 := max(i-r, 0), max(j-r, 0), min(i+r+1, nx), min(j+r+1, ny)
		m := table[y1*(nx+1)+x1]
		m.plus(&table[y0*(nx+1)+x1], -1)
		m.plus(&table[y1*(nx+1)+x0], -1)
		m.plus(&table[y0*(nx+1)+x0], 1)
		return m
	}
	out := make([]gauss, nx*ny)
	for j := range ny {
		for i := range nx {
			m, in := window(i, j, reach), window(i, j, guard)
			if m.n-in.n >= 4*block*block {
				m.plus(&in, -1)
			}
			out[j*nx+i] = m.gauss(room)
		}
	}
	return out
}

// kinds returns the kinds of ground in the picture: k-means over an even sample
// of its pixels (Lloyd 1982), with the spread of each kind; kinds that fewer
// than one pixel in fifty belong to are no ground.
func (p *planes) kinds(room float64) []gauss {
	n := p.w * p.h
	step := max(1, n/sample) | 1
	var at [][]float32
	for i := step / 2; i < n; i += step {
		at = append(at, p.lab[3*i:][:3])
	}
	if len(at) == 0 {
		return nil
	}
	mid := spreadOut(at)
	sums := make([]moments, len(mid))
	for range rounds {
		clear(sums)
		for _, c := range at {
			best, least := 0, float32(math.Inf(1))
			for k := range mid {
				if d := gap2(c, mid[k][:]); d < least {
					best, least = k, d
				}
			}
			sums[best].add(c)
		}
		for k := range mid {
			if sums[k].n > 0 {
				for j := range 3 {
					mid[k][j] = float32(sums[k].s[j] / sums[k].n)
				}
			}
		}
	}
	var out []gauss
	for k := range sums {
		if sums[k].n >= float64(len(at))/50 {
			out = append(out, sums[k].gauss(room))
		}
	}
	return out
}

func gap2(a, b []float32) float32 {
	l, m, n := a[0]-b[0], a[1]-b[1], a[2]-b[2]
	return l*l + 4*(m*m+n*n) // ground differs less in colour than in lightness
}

// spreadOut returns starting middles at even ranks of lightness.
func spreadOut(at [][]float32) [][3]float32 {
	var hist [256]int
	for _, c := range at {
		hist[min(max(int(c[0]*255), 0), 255)]++
	}
	out := make([][3]float32, kinds)
	for k := range out {
		out[k] = [3]float32{float32(quantile(hist[:], len(at), 1-(float64(k)+0.5)/kinds)) / 255}
	}
	mean := [2]float32{}
	for _, c := range at {
		mean[0] += c[1] / float32(len(at))
		mean[1] += c[2] / float32(len(at))
	}
	for k := range out {
		out[k][1], out[k][2] = mean[0], mean[1]
	}
	return out
}
