package stream

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The first three outputs of SplitMix64 from 0 of the authors' reference code
// (prng.di.unimi.it/splitmix64.c), from memory.
func TestMix(t *testing.T) {
	const gamma = 0x9e3779b97f4a7c15
	assert.Equal(t, uint64(0xe220a8397b1dcdaf), Mix(0))
	assert.Equal(t, uint64(0x6e789e6aa1b965f4), Mix(gamma))
	twice := uint64(gamma)
	twice *= 2
	assert.Equal(t, uint64(0x06c45d188009454f), Mix(twice))
}

// No two streams begin alike, whatever the index, for one seed or for neighbours.
func TestNoTwoStreamsAreEqual(t *testing.T) {
	all := map[string]Stream{"runs": Runs, "fits": Fits, "refits": Refits, "pilot": Pilot, "extremes": Extremes, "watchers": Watchers,
		"tangents": Tangents, "chains": Chains, "scores": Scores, "forecasts": Forecasts}
	for k := range 8 {
		all[fmt.Sprint("first rung ", k)] = FirstRung(k)
		all[fmt.Sprint("sample ", k)] = Sample(k)
		for rung := range 24 {
			all[fmt.Sprint("rung ", k, rung)] = Rung(k, rung)
		}
	}
	seen := map[uint64]string{}
	for seed := range uint64(20) {
		for name, s := range all {
			state := Mix(seed^s.salt) ^ s.part
			was, ok := seen[state]
			require.False(t, ok, "%s of seed %d begins as %s", name, seed, was)
			seen[state] = fmt.Sprint(name, " of seed ", seed)
		}
	}
}

func ExampleStream_New() {
	one, again, other := Pilot.New(7, 3), Pilot.New(7, 3), Pilot.New(7, 4)
	a, b, c := one.Uint64(), again.Uint64(), other.Uint64()
	fmt.Println(a == b, a == c)
	// Output: true false
}

func TestSeedIsNew(t *testing.T) {
	var p rand.PCG
	Refits.Seed(&p, 5, 9)
	assert.Equal(t, Refits.New(5, 9).Uint64(), p.Uint64())
}
