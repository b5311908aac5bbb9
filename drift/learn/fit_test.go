package learn

import (
	"context"
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestTry(t *testing.T) {
	tr := truth{mu: map[string]float64{WindSpeed: math.Log(1.2) / 0.15, DragFactor("streamer"): 2 * math.Log(1/0.75) / 0.15}, s: map[string]float64{}}
	for _, n := range []int{1, 5, 20, 100} {
		t0 := time.Now()
		p, err := Fit(context.Background(), season(n, tr, 3), Options{Seed: 1})
		require.NoError(t, err)
		fmt.Println(n, time.Since(t0))
		for k, f := range p.problem.factors {
			var m, m2, s, s2 float64
			for _, d := range p.draws {
				m += d.mu[k]
				m2 += d.mu[k] * d.mu[k]
				s += d.s[k]
				s2 += d.s[k] * d.s[k]
			}
			N := float64(len(p.draws))
			m, m2, s, s2 = m/N, m2/N, s/N, s2/N
			pm, ps := p.predict(k, -1, 1, nil)
			fmt.Printf("  %-18s mu %6.2f +- %.2f (true %.2f)  s %.2f +- %.2f   pred %.2f %.2f\n", f.Name, m, math.Sqrt(m2-m*m), tr.mu[f.Name], s, math.Sqrt(s2-s*s), pm, ps)
		}
		h := 0
		for _, s := range p.problem.sites {
			for _, x := range s.hits {
				h += len(x.logw)
			}
		}
		fmt.Println("hits per site", h/n)
		t0 = time.Now()
		res, err := p.Report(context.Background(), Options{})
		require.NoError(t, err)
		fmt.Println(time.Since(t0), res.Verdict, res.Coverage)
		fmt.Printf("%+v\n", res.Outcomes)
		a, b := 0.0, 0.0
		for _, s := range res.Scores {
			a += s.Log
			b += s.WasLog
		}
		fmt.Println("log score", b/float64(n), a/float64(n), res.Scores[0])
	}
}
