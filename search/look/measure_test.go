package look

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"image"
	"image/draw"
	"image/jpeg"
	"image/png"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"windfall/search/look/scene"
)

func ground(t *testing.T, file string) *image.RGBA {
	r, err := os.Open(file)
	require.NoError(t, err)
	defer r.Close()
	m, err := png.Decode(r)
	require.NoError(t, err)
	o := image.NewRGBA(image.Rect(0, 0, m.Bounds().Dx(), m.Bounds().Dy()))
	draw.Draw(o, o.Rect, m, m.Bounds().Min, draw.Src)
	return o
}

// trial is one picture: a thing drawn into ground, and what was found.
type trial struct {
	ground, name string
	shape        scene.Shape
	paint        string
	width        float64
	hit          float64   // score of the thing, with its colour said; 0: not found
	plain        float64   // the same, its colour not said
	wrong        []float64 // scores of what it is not
	wrongPlain   []float64
}

const trialW, trialH = 1600, 1200

// try draws and looks. A thing of several parts counts as found when a
// candidate lies on any of them.
func try(m *image.RGBA, sh scene.Shape, w float64, rng *rand.Rand) (out trial, err error) {
	shrink := 1 + rng.IntN(3)
	p := scene.FromImage(m, trialW, trialH, shrink, image.Pt(rng.IntN(4096), rng.IntN(4096)))
	th := scene.Thing{Shape: sh, Paint: scene.Paints[rng.IntN(len(scene.Paints))], Width: w,
		X: trialW * (0.3 + 0.4*rng.Float64()), Y: trialH * (0.3 + 0.4*rng.Float64()), Turn: 2 * math.Pi * rng.Float64()}
	o := Options{Pixel: func(float64, float64) float64 { return 1 }}
	if w > 0 {
		p.Draw(th, rng)
		for _, s := range scene.Shapes {
			t := th
			t.Shape = s
			o.Things = append(o.Things, Thing{t.Long(), w})
		}
	}
	out = trial{shape: sh, paint: th.Paint.Name, width: w}
	file, err := p.Take(scene.AnyCamera(rng), rng)
	if err != nil {
		return out, err
	}
	taken, err := jpeg.Decode(bytes.NewReader(file))
	if err != nil {
		return out, err
	}
	ready := Ready(taken)
	for k, cs := range [2][]Colour{nil, Colours(th.Paint.Name)} {
		o.Colours = cs
		hit, wrong := 0.0, []float64{}
		for _, c := range ready.find(o, 8) {
			if w > 0 && on(th, c) {
				hit = max(hit, c.Score)
			} else {
				wrong = append(wrong, c.Score)
			}
		}
		if k == 0 {
			out.plain, out.wrongPlain = hit, wrong
		} else {
			out.hit, out.wrong = hit, wrong
		}
	}
	return out, nil
}

// on tells whether a candidate lies on the thing.
func on(t scene.Thing, c Candidate) bool {
	sin, cos := math.Sincos(t.Turn)
	dx, dy := c.X-t.X, c.Y-t.Y
	return math.Abs(dx*cos+dy*sin) < t.Long()/2+t.Width && math.Abs(dy*cos-dx*sin) < 2*t.Width+4
}

var measuredWidths = []float64{2, 3, 4, 5, 6, 8, 10, 15, 20, 30}

// rate is how often a thing was found.
type rate struct{ found, of int }

func (r rate) add(hit bool) rate {
	if hit {
		r.found++
	}
	r.of++
	return r
}

// readTrials reads what TestMeasure wrote.
func readTrials(t *testing.T, name string) (out []trial) {
	f, err := os.Open(name)
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		require.NoError(t, err)
		return v
	}
	list := func(s string) (vs []float64) {
		for _, w := range strings.Fields(strings.Trim(s, "[]")) {
			vs = append(vs, number(w))
		}
		return vs
	}
	for _, r := range rows[1:] {
		out = append(out, trial{ground: r[0], name: r[1], shape: scene.Shape(r[2]), paint: r[3], width: number(r[4]),
			hit: number(r[5]), plain: number(r[6]), wrong: list(r[7]), wrongPlain: list(r[8])})
	}
	return out
}

// thresholds are the scores that what is not the thing reaches once in twelve
// megapixels, by ground, with the colour said and not said.
func thresholds(ts []trial) (said, unsaid map[string]float64) {
	said, unsaid = map[string]float64{}, map[string]float64{}
	pictures, all, plain := map[string]float64{}, map[string][]float64{}, map[string][]float64{}
	for _, r := range ts {
		pictures[r.ground] += trialW * trialH / 12e6
		all[r.ground], plain[r.ground] = append(all[r.ground], r.wrong...), append(plain[r.ground], r.wrongPlain...)
	}
	at := func(vs []float64, n float64) float64 {
		slices.Sort(vs)
		if k := len(vs) - 1 - int(n); k >= 0 {
			return max(vs[k], Worth)
		}
		return Worth
	}
	for g, n := range pictures {
		said[g], unsaid[g] = at(all[g], n), at(plain[g], n)
	}
	return said, unsaid
}

// hides tells whether the paint is one that the ground has too.
func hides(ground, paint string) bool {
	return slices.Contains(dull, paint) || ground == "snow" && paint == "white"
}

// even returns rates that do not fall as the pixels grow, in hundredths: the
// pooling of neighbours that do (isotonic regression, Barlow and others 1972).
func even(rs []rate) []float64 {
	var found, of []float64
	var size []int
	for _, r := range rs {
		found, of, size = append(found, float64(r.found)), append(of, float64(r.of)), append(size, 1)
		for n := len(of); n > 1 && found[n-2]*of[n-1] >= found[n-1]*of[n-2]; n-- {
			found[n-2], of[n-2], size[n-2] = found[n-2]+found[n-1], of[n-2]+of[n-1], size[n-2]+size[n-1]
			found, of, size = found[:n-1], of[:n-1], size[:n-1]
		}
	}
	var out []float64
	for i, n := range size {
		for range n {
			out = append(out, math.Round(100*found[i]/math.Max(of[i], 1)))
		}
	}
	return out
}

// TestTable prints the tables of docs/pictures.md and the chances of Seen from
// the trials in $WINDFALL_TRIALS.
func TestTable(t *testing.T) {
	name := os.Getenv("WINDFALL_TRIALS")
	if name == "" {
		t.Skip("needs WINDFALL_TRIALS")
	}
	ts := readTrials(t, name)
	said, unsaid := thresholds(ts)
	grounds := slices.Sorted(maps.Keys(said))
	for _, g := range grounds {
		fmt.Printf("%s: one in 12 megapixels at %.1f, its colour said at %.1f\n", g, unsaid[g], said[g])
	}
	row := func(name string, colour bool, of func(trial) bool) []rate {
		rs := make([]rate, len(measuredWidths))
		for _, r := range ts {
			if of(r) {
				hit := r.plain > unsaid[r.ground]
				if colour {
					hit = r.hit > said[r.ground]
				}
				i := slices.Index(measuredWidths, r.width)
				rs[i] = rs[i].add(hit)
			}
		}
		fmt.Printf("| %s |", name)
		for _, r := range rs {
			if r.of == 0 {
				fmt.Print(" - |")
				continue
			}
			fmt.Printf(" %.0f (%d) |", 100*float64(r.found)/float64(r.of), r.of)
		}
		fmt.Println()
		return rs
	}
	open := func(r trial) bool { return r.ground == "grass" || r.ground == "dry-grass" || r.ground == "earth" }
	for _, colour := range []bool{false, true} {
		fmt.Println("colour said:", colour)
		for _, sh := range scene.Shapes {
			row("open ground, "+string(sh), colour, func(r trial) bool { return open(r) && r.shape == sh && !hides(r.ground, r.paint) })
		}
		row("open ground, black", colour, func(r trial) bool { return open(r) && r.paint == "black" })
		row("open ground, green, brown", colour, func(r trial) bool { return open(r) && (r.paint == "green" || r.paint == "brown") })
	}
	for _, g := range grounds {
		for k, word := range []string{"bright", "dull"} {
			rs := row(g+", "+word, true, func(r trial) bool { return r.ground == g && hides(r.ground, r.paint) == (k == 1) })
			fmt.Println("evened:", even(rs))
		}
	}
}

// TestMeasure measures what Find finds on the photographs in the folder
// $WINDFALL_GROUNDS, one folder a kind of ground, and writes every trial to
// $WINDFALL_TRIALS. docs/pictures.md has the command and the table.
func TestMeasure(t *testing.T) {
	dir, to := os.Getenv("WINDFALL_GROUNDS"), os.Getenv("WINDFALL_TRIALS")
	if dir == "" || to == "" || os.Getenv("WINDFALL_SLOW") == "" {
		t.Skip("needs WINDFALL_SLOW=1, WINDFALL_GROUNDS and WINDFALL_TRIALS")
	}
	every, _ := strconv.Atoi(os.Getenv("WINDFALL_EVERY"))
	every = max(every, 1)
	from, _ := strconv.Atoi(os.Getenv("WINDFALL_FROM"))
	files, err := filepath.Glob(filepath.Join(dir, "*", "*.png"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	f, err := os.Create(to)
	require.NoError(t, err)
	defer f.Close()
	w := csv.NewWriter(f)
	defer w.Flush()
	require.NoError(t, w.Write([]string{"ground", "name", "shape", "paint", "width", "hit", "plain", "wrong", "wrong_plain"}))
	var mu sync.Mutex
	var wait sync.WaitGroup
	next := make(chan int)
	for range 2 {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for i := range next {
				m := ground(t, files[i])
				for k, px := range measuredWidths {
					for j, sh := range scene.Shapes {
						r, err := try(m, sh, px, rand.New(rand.NewPCG(uint64(i), uint64(10*k+j))))
						if err != nil {
							t.Error(err)
							return
						}
						mu.Lock()
						w.Write([]string{filepath.Base(filepath.Dir(files[i])), filepath.Base(files[i]), string(sh), r.paint,
							fmt.Sprint(px), fmt.Sprintf("%.2f", r.hit), fmt.Sprintf("%.2f", r.plain), fmt.Sprintf("%.2f", r.wrong), fmt.Sprintf("%.2f", r.wrongPlain)})
						mu.Unlock()
					}
				}
				mu.Lock()
				w.Flush()
				mu.Unlock()
			}
		}()
	}
	for i := from; i < len(files); i += every {
		next <- i
	}
	close(next)
	wait.Wait()
}
