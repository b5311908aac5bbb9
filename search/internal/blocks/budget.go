package blocks

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
	for _, t := range c.ledger.touched {
		c.spent += float64(t[1]-t[0]+1) * float64(t[3]-t[2]+1)
	}
	ways, boxes := 0, 0
	for _, s := range ss {
		ways, boxes = ways+len(s.ways), boxes+len(s.boxes)
	}
	c.spent += float64(ways * (ways + boxes))
}
