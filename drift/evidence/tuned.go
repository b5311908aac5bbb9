package evidence

// stageRuns is how many runs of one outcome stand at each rung of a climb.
const stageRuns = 1500

// tuned are the numbers of the sampler that no theory gives: chosen by trial on
// the flights and sightings of the tests here (one to six sightings of a flight
// on a streamer and of linear ones, up to six standard deviations from the
// prior), so that few flights give the effective runs wanted. Whatever they are,
// the weights make the sample right: TestAgainstRejection, TestConjugate and
// TestFarEvidence hold that, BenchmarkLocate the flights that it takes.
var tuned = struct {
	rungShares [3]float64 // the next rung keeps the first of these shares of runs effective that goes far enough
	goodStep   float64    // far enough: the power grows by this factor
	leastStep  float64    // the least factor, whatever is effective
	goodShare  float64    // at the top, rungs stop once this share is effective,
	better     float64    // or once a rung betters the share by less than this factor,
	topRepeats int        // or after so many rungs at the top
	mostRungs  int

	pilotRuns    float64 // of the rough sample, over all outcomes
	pilotLeast   float64 // of them of an outcome that has any mass
	refitLeast   float64 // effective runs of an outcome below which its proposal stays
	firstShare   float64 // of the runs that the pilot's efficiency asks for, flown first
	roundLeast   float64 // runs of a further round
	outcomeLeast float64 // of them of an outcome that has any mass
	leastMore    float64 // share of the runs had that a further round adds at least
	rounds       int

	againWanted int // effective runs of a sample that only tells what one sighting did,
	againMost   int // and its flights at most

	weakest      float64 // of the strongest direction of the features, below which one is no direction
	mostNarrowed int     // directions that the sample has narrowed along
	edge         float64 // beyond the edges that chance gives a covariance
	widened      float64 // standard deviations of a widened component

	rungFit, finalFit fitting
}{
	rungShares: [3]float64{0.10, 0.04, 0.015}, goodStep: 1.5, leastStep: 1.2,
	goodShare: 0.30, better: 1.1, topRepeats: 4, mostRungs: 20,
	pilotRuns: 4000, pilotLeast: 300, refitLeast: 300,
	firstShare: 0.6, roundLeast: 1000, outcomeLeast: 100, leastMore: 0.02, rounds: 6,
	againWanted: 1200, againMost: 25000,
	weakest: 0.02, mostNarrowed: 4, edge: 1.25, widened: 2.5,
	rungFit:  fitting{maxDirections: 14, maxParts: 4, inflate: 1.15, wide: 0.15, prior: 0.08},
	finalFit: fitting{maxDirections: 16, maxParts: 10, inflate: 1.08, wide: 0.10, prior: 0.05},
}

// enoughWithout is the effective number of runs of n below which the map
// without a sighting is sampled anew instead of reweighted.
func enoughWithout(n int) float64 { return clamp(float64(n)/50, 100, 400) }
