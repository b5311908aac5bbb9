package drift

import (
	"math/bits"
	"math/rand/v2"

	"windfall/drift/internal/stream"
)

// replicates is the number of independent randomizations that the runs are
// spread over, run i belonging to replicate i mod replicates. Each replicate is
// a scrambled Sobol sequence of its own, so the scatter between replicates
// measures the Monte Carlo error.
const replicates = 16

const sobolBits = 32

// sobolMatrix holds the direction numbers, one row a dimension.
var sobolMatrix = makeSobol()

func makeSobol() (m [len(sobolSeeds) + 1][sobolBits]uint32) {
	for k := range sobolBits {
		m[0][k] = 1 << (31 - k)
	}
	for d, s := range sobolSeeds {
		v := &m[d+1]
		n := len(s.start)
		for k := range sobolBits {
			if k < n {
				v[k] = s.start[k] << (31 - k)
				continue
			}
			v[k] = v[k-n] ^ v[k-n]>>n
			for j := 1; j < n; j++ {
				if s.poly>>(n-j)&1 == 1 {
					v[k] ^= v[k-j]
				}
			}
		}
	}
	return m
}

// sobol returns point i of a dimension as a 32-bit fraction.
func sobol(dim int, i uint32) (x uint32) {
	row := &sobolMatrix[dim]
	for k := 0; i != 0; k, i = k+1, i>>1 {
		x ^= row[k] & -(i & 1)
	}
	return x
}

// scramble permutes a 32-bit fraction: a hash whose every bit depends on the
// higher bits alone (Owen's nested scrambling as hashed by Burley 2020, J.
// Computer Graphics Techniques 9(4), with Vegdahl's constants), then a random
// digital shift, which alone makes the point uniform on [0, 1).
func scramble(x uint32, seed uint64) uint32 {
	a, shift := uint32(seed), uint32(seed>>32)
	x = bits.Reverse32(x)
	x ^= x * 0x3d20adea
	x += a
	x *= a>>16 | 1
	x ^= x * 0x05526c56
	x ^= x * 0x53a22864
	return bits.Reverse32(x) ^ shift
}

// random is the generator of an Input, kept so that drawing allocates nothing.
type random struct {
	pcg  rand.PCG
	rand *rand.Rand
}

// Draw fills in with run i of the seed's runs: the outcome and the first normals
// from a scrambled Sobol point, the rest from a generator seeded with (seed, i).
// Any run can be drawn alone, and the same seed and i give the same run.
func (m *Model) Draw(seed uint64, i int, in *Input) {
	if in.random == nil {
		in.random = &random{}
		in.random.rand = rand.New(&in.random.pcg)
	}
	n := len(m.coords)
	if cap(in.Z) < n {
		in.Z = make([]float64, n)
	}
	in.Z = in.Z[:n]
	replicate, point := uint64(i%replicates), uint32(i/replicates)
	key := stream.Mix(stream.Mix(seed) ^ replicate)
	even := func(dim int) float64 {
		x := scramble(sobol(dim, point), stream.Mix(key+uint64(dim)))
		return (float64(x) + 0.5) / (1 << 32)
	}
	in.Outcome = m.pickOutcome(even(0))
	k := min(n, len(sobolMatrix)-1)
	for j := range k {
		in.Z[j] = normalQuantile(even(j + 1))
	}
	stream.Runs.Seed(&in.random.pcg, seed, stream.Mix(uint64(i)^0x5eed))
	for j := k; j < n; j++ {
		in.Z[j] = in.random.rand.NormFloat64()
	}
}

// pickOutcome returns the outcome that an even number u falls on.
func (m *Model) pickOutcome(u float64) int {
	sum, last := 0.0, 0
	for i, c := range m.outcomes {
		if c.P == 0 {
			continue
		}
		last = i
		if sum += c.P; u < sum {
			return i
		}
	}
	return last
}
