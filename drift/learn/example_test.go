package learn_test

import (
	"fmt"

	"windfall/drift/learn"
)

// The chance behind 18 of 20 finds inside their 90 % areas, at 95 % confidence.
func ExampleBinomial() {
	low, high := learn.Binomial(18, 20, 0.95)
	fmt.Printf("%.3f to %.3f\n", low, high)
	// Output: 0.683 to 0.988
}
