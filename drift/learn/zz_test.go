package learn

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"
)

func TestZZ(t *testing.T) {
	for _, n := range []int{1, 6, 30} {
		tr := drawTruth(rand.New(rand.NewPCG(3, 43)))
		cases := season(n, tr, 5003)
		t0 := time.Now()
		p, err := Fit(context.Background(), cases, nil, Options{Seed: 1, Workers: 1, Draws: 600})
		if err != nil {
			t.Fatal(err)
		}
		np := 0
		for _, s := range p.problem.sites {
			for _, w := range s.ways {
				np += w.len()
			}
		}
		fmt.Println(n, time.Since(t0), "points", np, p.effective)
	}
}
