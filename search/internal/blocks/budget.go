package blocks

import (
	"context"
	"math"
)

// mostWork is what planning one layout may cost on all axes, in the units that a
// chain counts: one is a cell swept, a way held against a block, or a run of
// edges looked at for a way round, some five nanoseconds each. Plans of a few
// searchers take a tenth of it. It is counted, not timed, so that the same task
// stops at the same step everywhere.
const mostWork = 5e9

// reckonEvery is how many steps pass between two looks at what is spent.
const reckonEvery = 256

// budget is what each of a round's chains may spend.
func (t *Task) budget(chains int) float64 {
	b := t.most
	if b == 0 {
		b = mostWork
	}
	if t.Quick {
		b /= 10
	}
	return b / float64(len(tuned.Rounds)*chains)
}

// afford returns how many of n steps the budget lasts for, at the mean cost of
// the k made so far; the cooling then comes to its end sooner.
func (c *chain) afford(k, n int) int {
	if c.spent*float64(n) <= c.budget*float64(k) {
		return n
	}
	c.short = true
	return min(n, k+int(max(0, c.budget-c.spent)/c.spent*float64(k)))
}

// pay counts a step: the cells swept, and the ways held against blocks and
// other ways.
func (c *chain) pay(ss []*schedule) {
	c.spent += float64(c.ledger.swept)
	ways, boxes := 0, 0
	for _, s := range ss {
		ways, boxes = ways+len(s.ways), boxes+len(s.boxes)
	}
	c.spent += float64(ways * (ways + boxes))
}

// fewer takes steps off where each is dear: much ground, in small cells, for wide
// strips.
func (c *chain) fewer(steps int) int {
	cells := 0.0 // that the present layout sweeps
	for i, s := range c.now {
		for _, p := range s.passes {
			cells += 1 + p.b.sub(p.a).norm()*most(c.task.Searchers[i].Width)/(c.r.h*c.r.h)
		}
	}
	return int(float64(steps) * math.Max(tuned.Fewest, math.Min(1, tuned.Cells/cells)))
}

// settle goes on, at the full price of disorder, until an allowed layout was seen,
// but not for ever.
func (c *chain) settle(ctx context.Context, h heat) {
	for range settleMost {
		if !math.IsInf(c.bestValue, -1) || c.spent > 2*c.budget {
			return
		}
		for k := range h.Steps / 2 {
			if k%512 == 0 && ctx.Err() != nil {
				return
			}
			c.try(h.Cold)
		}
	}
}

// settleMost is how many half rounds are added at most.
const settleMost = 4
