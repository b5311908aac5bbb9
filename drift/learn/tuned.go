package learn

// The numbers of the fit that no theory gives, chosen by trial on the clubs of the
// short tests here. Those of the prior stand in prior.go.
const (
	looks     = 4   // at which runs are drawn anew, at most
	farthest  = 3.0 // default spreads that a factor's mean may move from look to look
	lastFar   = 5.0 // and after the last look
	wider     = 2.5 // so many times a factor's spread may grow from look to look
	widerMany = 1.6 // the same of many flights
	lookDraws = 240 // draws kept of a look that is not the last

	scoutFrom   = 2.0  // scales of a device's bias to either side, where scouts start
	scoutWithin = 6.5  // default spreads that they may go from the centre: runs of the first look reach so far
	scoutGain   = 10.0 // of the logarithm, that makes what they found the likelier place

	chains     = 4
	burnIn     = 800 // sweeps of a chain before it counts; half in looks before the last
	thin       = 4
	manyCases  = 60   // above it every second sweep is kept, runs are drawn twice at most and rare ones are half as many
	sliceWidth = 0.6  // of the logarithm of a spread, of the slice sampler
	moveTarget = 0.25 // share of joint moves taken that their size is tuned for: 0.23 to 0.44 is best for normals
	moveRate   = 0.1  // of the logarithm of the size, by how far the share is off
	moveSize   = 2.38 // over the root of the dimension: first size (Gelman, Roberts and Gilks 1996)
	moveLeast  = 1e-4 // default spreads squared, added to the variances: never singular

	allRuns        = 8000 // of likely outcomes, all cases together
	leastRuns      = 400  // of a case's likely outcome
	mostRuns       = 800
	allPoints      = 300 // that they become, likewise
	leastPoints    = 16
	mostPoints     = 50
	rareShare      = 3    // so many times fewer runs of any other outcome
	leastRare      = 60   // and at least this
	likelyNow      = 0.05 // an outcome with that chance is drawn as often as a likely one
	smoothing      = 0.6  // of the runs' covariance that each point has of its own
	mostOwn        = 0.9  // and at most this, of the belief's variance
	wayLeast       = 7.0  // ways whose log weight is so far below the greatest are left out
	leastEffective = 20.0 // runs of a case; with fewer, or a tenth of those drawn, it is drawn anew
	watchDraws     = 40   // of the posterior, by which they are counted
	beliefWiden    = 1.05 // of the standard deviations that runs are drawn with

	mostTeachers = 6    // entries that are named as what taught a factor
	leastLoss    = 0.02 // of the logarithm, a flight: less is no reason to leave a factor as it was
	leastTaught  = 0.05 // of the logarithm of the spread of a value, that something taught of it
	mostOf       = 0.6  // of what was taught: what taught so much is named
	muchSmaller  = 0.95 // of its area: a map that one more thing makes smaller than that
	timedError   = 1.0  // default spreads: how well one timed descent tells a drag, the height not known

	drawRounds = 2    // of a case's runs, the later ones from what the earlier tell
	drawEnough = 0.5  // effective share of the first round that needs no second
	drawWiden  = 1.3  // of the standard deviations of the normal that the next comes from
	fitLeast   = 1e-3 // added to its variances: never singular
	drawLeast  = 14.0 // runs whose log weight is so far below the greatest are left out
	negligible = 14.0 // the same of points under factors on trial

	maxNewton  = 8    // steps toward the find
	newtonStep = 3.0  // standard deviations of a step, at most: the linear picture bears no more
	reach      = 9.0  // standard deviations from the belief's centre: beyond, the density is below exp(-40)
	slopeStep  = 0.4  // standard deviations for a Jacobian's differences: wide enough to see past thresholds
	nearFind   = 0.1  // of the find's error: so near is near enough
	leastDet   = 1e-9 // of a Jacobian, m2: below, nothing moves

	strayDegrees = 20 // of freedom, of the t distribution by which hits stray

	likelyRuns   = 2400    // of a likely outcome, for a map that is only scored
	rareRuns     = 360     // of any other
	manyFewer    = 4       // so many times fewer are both of many flights
	likelyChance = 0.3     // above it an outcome is likely
	mapCells     = 1 << 14 // of such a map
)
