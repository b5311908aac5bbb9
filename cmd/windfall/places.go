package main

import (
	"fmt"
	"strings"

	"windfall/geo/chance"
)

// printChance prints the chance of a place with its error and, where people or
// traffic may be, the outcomes it comes with: a ballistic return is not a
// streamer.
func printChance(p *printer, c chance.Chance, runs int) {
	if c.Probability == 0 {
		// Rule of three: none of n runs leaves 3/n at 95 % (Hanley and
		// Lippman-Hand 1983, JAMA 249).
		p.f("  %-24s   none of %d runs: below %.2g %%", c.Name, runs, 300/float64(runs))
		return
	}
	var parts []string
	if c.Kind == chance.Place || c.Kind == chance.NoGo || c.Kind == chance.Line {
		for _, o := range c.Outcomes {
			parts = append(parts, fmt.Sprintf("%s %.2g %%", o.Name, 100*o.Probability))
		}
	}
	by := ""
	if len(parts) > 0 {
		by = "  of which " + strings.Join(parts, ", ")
	}
	p.f("  %-24s %s%s", c.Name, percent(c.Probability, c.SE), by)
}
