package compare

import (
	"context"
	"hash/fnv"
	"math/rand/v2"

	"windfall/drift"
)

// Draws are the runs of one flight, to be shared by its variants.
type Draws struct {
	base *drift.Model
	seed uint64
	at   map[string]int // index of each of base's coordinates, by name
}

// NewDraws returns the runs of base from seed.
func NewDraws(base *drift.Model, seed uint64) Draws {
	d := Draws{base: base, seed: seed, at: map[string]int{}}
	for i, c := range base.Coords() {
		d.at[c.Name] = i
	}
	return d
}

// Fly flies the first runs runs of m, a variant of the base flight, on one
// goroutine. An input that both flights have, by name, takes the base's draw;
// one that only m has takes a draw of its own, made from the seed, the run and
// its name. A variant with the inputs of its base thus lands where drift's Run
// lands it. The outcome is drawn from the same even number in both. It returns
// ctx's error when it is cancelled.
func (d Draws) Fly(ctx context.Context, m *drift.Model, runs int) ([]drift.Landing, error) {
	var w drift.Work
	var in, shared drift.Input
	from, same := d.match(m)
	names := m.Coords()
	out := make([]drift.Landing, runs)
	for i := range out {
		if i%64 == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		m.Draw(d.seed, i, &in)
		if !same {
			d.base.Draw(d.seed, i, &shared)
			for k, j := range from {
				if j >= 0 {
					in.Z[k] = shared.Z[j]
				} else {
					in.Z[k] = own(d.seed, i, names[k].Name)
				}
			}
		}
		out[i] = m.Fly(in, &w)
	}
	return out, nil
}

// match returns for each of m's coordinates the base's of that name, -1 for
// none; same says that both have the same list.
func (d Draws) match(m *drift.Model) (from []int, same bool) {
	names := m.Coords()
	same = len(names) == len(d.base.Coords())
	for k, c := range names {
		j, ok := d.at[c.Name]
		if !ok {
			j = -1
		}
		same = same && j == k
		from = append(from, j)
	}
	return from, same
}

// own returns a normal of run i for a coordinate that the base does not have.
// The base's other draws are no use: one of them would serve twice in a run.
func own(seed uint64, i int, name string) float64 {
	h := fnv.New64a()
	h.Write([]byte(name))
	return rand.New(rand.NewPCG(seed^h.Sum64(), uint64(i))).NormFloat64()
}
