package search

import (
	"math"

	"windfall/search/internal/blocks"
)

// team is walkers who go over the same blocks side by side; alone, one.
type team struct {
	members []int // agents
}

// teams pairs walkers off when they go abreast: the first two, the next two. A
// walker left over and drones go alone.
func teams(agents []*agent, abreast bool) (out []team) {
	waiting := -1
	for i, a := range agents {
		switch {
		case !abreast || a.drone() || a.end <= a.begin:
			out = append(out, team{[]int{i}})
		case waiting < 0:
			waiting = len(out)
			out = append(out, team{[]int{i}})
		default:
			out[waiting].members = append(out[waiting].members, i)
			waiting = -1
		}
	}
	return out
}

// worker is the team as the planner of blocks meets it: as slow as the slowest,
// there as long as both are, and seeing as far as both together.
func (t team) worker(agents []*agent, o Options) blocks.Searcher {
	s := agents[t.members[0]].worker(o)
	for _, i := range t.members[1:] {
		x := agents[i].worker(o)
		s.Begin, s.End = math.Max(s.Begin, x.Begin), math.Min(s.End, x.End)
		s.At, s.Start = s.At.Add(x.At).Scale(0.5), s.Start.Add(x.Start).Scale(0.5)
		width, speed := make([]float64, len(s.Width)), make([]float64, len(s.Speed))
		for c := range width {
			width[c], speed[c] = s.Width[c]+x.Width[c], math.Min(s.Speed[c], x.Speed[c])
		}
		s.Width, s.Speed = width, speed
	}
	return s
}

// abreast names, for each agent, who goes side by side with them.
func abreast(agents []*agent, ts []team) [][]string {
	out := make([][]string, len(agents))
	for _, t := range ts {
		for _, i := range t.members {
			for _, j := range t.members {
				if j != i {
					out[i] = append(out[i], agents[j].Name)
				}
			}
		}
	}
	return out
}

// lanesOf is a block of a team of n as its member k walks it: every lane a
// spacing of their own beside the others'.
func lanesOf(b blocks.Block, k, n int) blocks.Block {
	side := b.Gap / float64(n)
	b.V += side * (float64(k) - float64(n-1)/2)
	return b
}
