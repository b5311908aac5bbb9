package learn

import "math"

// The prior of the factors, in default spreads. Choices of ours, made so that
// the prior predictive of a flight has exactly the default spread (variance 1)
// and no bias: one find moves a factor a little, thirty decide.
//
//	x = mu + u + s eps            a flight's value of a factor
//	mu  ~ Student t, 4 degrees, scale biasScale     the bias all flights share
//	u   ~ N(0, tau^2)             what a place, vehicle or device adds
//	tau ~ log-normal, median poolMedian, log sd poolLogSD
//	s   ~ log-normal, median spreadMedian, log sd spreadLogSD    run to run
//
// Heavy tails on mu let a strong bias be learned in full: streamers 25 % slower
// than catalogued are four default spreads off.
const (
	biasScale   = 0.4
	biasDegrees = 4.0
	poolMedian  = 0.25
	poolLogSD   = 0.5
	spreadLogSD = 0.4
)

// spreadMedian makes biasVar + E[tau^2] + E[s^2] = 1.
var spreadMedian = math.Sqrt((1 - biasVar - poolMedian*poolMedian*math.Exp(2*poolLogSD*poolLogSD)) / math.Exp(2*spreadLogSD*spreadLogSD))

// biasVar is the variance of mu: the t's is scale^2 nu/(nu-2).
const biasVar = biasScale * biasScale * biasDegrees / (biasDegrees - 2)

// Outcomes: the chances before learning count as this many finds (a Dirichlet
// prior of that total).
const outcomeStrength = 20

// A wrong entry: one in fifty before learning (beta 1, 49), lying anywhere
// around the pad with the density of a Cauchy distribution in the plane, half
// of it within 3.5 km.
const (
	wrongAlpha = 1.0
	wrongBeta  = 49.0
	wrongScale = 2000.0 // m
)

// logWrong is the log density of a wrong find at r metres from the pad, per m2.
func logWrong(r float64) float64 {
	return -math.Log(2*math.Pi*wrongScale*wrongScale) - 1.5*math.Log1p(r*r/(wrongScale*wrongScale))
}
