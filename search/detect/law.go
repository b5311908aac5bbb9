// Package detect holds the detection side of search theory: the laws by which
// a pass detects, sweep widths on the ground and from the air, and the best
// that a given effort could do with free travel.
//
// Sweep width W (m) is the area under the lateral range curve; coverage is W
// times track length over area. POA, POD and POS are the search manuals'
// probability of area, of detection and of success. Nothing here knows of
// routes or clocks.
package detect

import (
	"fmt"
	"math"
)

// Law is a detection law.
type Law string

// The laws.
const (
	// Exponential is the law of random search: a pass adds 1 to the coverage of
	// every point abeam within W/2 and POD = 1 - exp(-coverage). It is on the
	// cautious side of InverseCube. (Koopman, The theory of search II,
	// Operations Research 4, 1956.)
	Exponential Law = "exponential"
	// InverseCube is the law of a long straight pass of an eye whose rate of
	// detection falls with the cube of the range: missed at distance x with
	// probability exp(-W^2/(4 pi x^2)). (Koopman, the same.)
	InverseCube Law = "inverse-cube"
)

// Parse returns the law named s; "" is Exponential.
func Parse(s string) (Law, error) {
	switch Law(s) {
	case "", Exponential:
		return Exponential, nil
	case InverseCube:
		return InverseCube, nil
	}
	return "", fmt.Errorf("detection %q is not known; write exponential or inverse-cube", s)
}

// PassMiss returns the probability that one pass of sweep width w (m) misses
// what lies x metres abeam of it. It is 1 when w is 0.
func (l Law) PassMiss(w, x float64) float64 {
	if w <= 0 {
		return 1
	}
	x = math.Abs(x)
	if l == InverseCube {
		if x == 0 {
			return 0
		}
		return math.Exp(-w * w / (4 * math.Pi * x * x))
	}
	if x <= w/2 {
		return math.Exp(-1)
	}
	return 1
}

// POD returns the probability of detection of parallel passes of the given
// coverage over ground of even chance: 1 - exp(-c) for Exponential and
// erf(sqrt(pi) c/2) for InverseCube (Koopman 1956).
func (l Law) POD(coverage float64) float64 {
	if coverage <= 0 {
		return 0
	}
	if l == InverseCube {
		return math.Erf(math.Sqrt(math.Pi) * coverage / 2)
	}
	return -math.Expm1(-coverage)
}

// Range returns how far abeam (m) a pass of sweep width w is reckoned to see:
// w/2 for Exponential; 4 w for InverseCube, where what is left out is 4 % of W,
// on the cautious side.
func (l Law) Range(w float64) float64 {
	if l == InverseCube {
		return 4 * w
	}
	return w / 2
}
