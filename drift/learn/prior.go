package learn

import (
	"math"
	"strings"

	"windfall/drift"
)

// The prior of the factors, in default spreads. Choices of ours, made so that
// the prior predictive of a flight is a tenth wider than the default spread, with
// no bias: one find moves a factor a little, thirty decide. Flights of a club
// spread nearly as the defaults say, and its bias comes on top: a map too small
// costs more than one too wide.
//
//	x = mu + u + s eps            a flight's value of a factor
//	mu  ~ Student t, 30 degrees, scale biasScale   the bias all flights share
//	u   ~ N(0, tau^2)             what a place, vehicle or device adds
//	tau ~ log-normal, median poolMedian, log sd poolLogSD
//	s   ~ log-normal, median spreadMedian, log sd spreadLogSD  run to run
//
// The drag of a kind of device is the exception: it comes from a catalogue or a
// rule of thumb, and may be wrong by far more than it varies from run to run.
// Streamers that fall 25 % slower than computed are four default spreads off.
// Its bias is the one that maps before any find are drawn with: drift's.
const (
	biasScale    = 0.5
	biasDegrees  = 30.0
	poolMedian   = 0.15
	poolLogSD    = 0.5
	spreadMedian = 0.9 // by simulation, see TestPriorPredictiveIsNearTheDefault
	spreadLogSD  = 0.25
)

// biasScale is the scale of the prior of a factor's bias.
func (f *factor) biasScale() float64 {
	if f.Pool != "device" {
		return biasScale
	}
	bias, run := f.device().DragBias()
	return bias / run
}

// priorSD is the standard deviation of a flight's value before anything is
// learned, for a run-to-run spread ratio times the default's.
func (f *factor) priorSD(ratio float64) float64 {
	bias := f.biasScale() * math.Sqrt(biasDegrees/(biasDegrees-2))
	return math.Sqrt(bias*bias + poolMedian*poolMedian + ratio*ratio*spreadMedian*spreadMedian)
}

// device is one of those that a factor of drag is about.
func (s Spec) device() *drift.Device {
	if kind, ok := strings.CutSuffix(s.Name, rateSuffix); ok {
		return &drift.Device{Kind: kind, DescentRate: new(float64)}
	}
	return &drift.Device{Kind: strings.TrimSuffix(s.Name, dragSuffix)}
}

// spreadMedian is the median of the prior of a factor's spread.
func (f *factor) spreadMedian() float64 {
	if f.scaleOnly {
		return 1
	}
	return spreadMedian
}

// Outcomes: the chances before learning count as this many finds (a Dirichlet
// prior of that total).
const outcomeStrength = 20

// vehicleStrength is how many finds the chances of all count for beside a
// vehicle's own: a choice of ours, as much as the chances before learning do.
const vehicleStrength = 20

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
