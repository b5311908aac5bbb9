// Package stream lists every random stream of the flight model and of what is
// learned with it, so that no two of them are ever the same.
//
//	seed of the user, Stream, index -> a generator of its own
//
// A generator depends on these three alone: run i draws the same numbers on any
// number of cores, and alone as among others.
//
// Not here: the scrambled Sobol points of the runs (drift), search plans.
package stream

import "math/rand/v2"

// Stream is one purpose that numbers are drawn for.
type Stream struct{ salt, part uint64 }

// The streams, with what their index counts. Their numbers are arbitrary; they
// stay as they are so that a seed keeps its map.
var (
	Runs = Stream{} // drift: a run, scrambled, for its inputs beyond the Sobol points

	Fits     = Stream{salt: 0xf17}  // evidence: starts of a rung's fit, by outcome and rung
	Refits   = Stream{salt: 0x4ef}  // evidence: starts of the last fit, by outcome
	Pilot    = proposal(1 << 40)    // evidence: the rough sample, by run
	Extremes = Stream{salt: 0xc4ec} // evidence: flights that one sighting is checked with, by outcome and run
	Watchers = Stream{salt: 0x5b07} // evidence: errors of watchers, by candidate and flight

	Tangents  = Stream{salt: 0x7a69} // learn: hits of a find, by look, outcome and case
	Chains    = Stream{salt: 0xc4a1} // learn: the sampler's chains, by look and chain
	Scores    = Stream{salt: 0x5c03} // learn: the maps before and after, both from one stream, by case
	Forecasts = Stream{salt: 0xf03e} // learn: a new flight's value of a factor, by factor
)

// Rung is of evidence: the runs of outcome k at a rung of its climb, by run.
func Rung(k, rung int) Stream { return proposal(uint64(k)<<16 | uint64(rung)) }

// FirstRung is of evidence: runs of outcome k besides those of the prior, by run.
func FirstRung(k int) Stream { return proposal(1<<42 | uint64(k)) }

// Sample is of evidence: a round of the sample, by run.
func Sample(round int) Stream { return proposal(1<<41 + uint64(round)) }

// Without is the seed of all streams of a sample without sighting i.
func Without(seed uint64, i int) uint64 { return seed ^ uint64(i+1)<<32 }

func proposal(n uint64) Stream { return Stream{part: Mix(n<<8 + 0xe51d)} }

// Seed starts p for number i of the stream.
func (s Stream) Seed(p *rand.PCG, seed, i uint64) { p.Seed(Mix(seed^s.salt)^s.part, i) }

// New returns the generator of number i of the stream.
func (s Stream) New(seed, i uint64) *rand.Rand {
	p := &rand.PCG{}
	s.Seed(p, seed, i)
	return rand.New(p)
}

// Mix is the output function of SplitMix64 (Steele, Lea and Flood 2014): every
// bit of it depends on every bit of x.
func Mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}
