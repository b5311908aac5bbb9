package rules_test

import (
	"fmt"

	"windfall/drift/rules"
)

// The side of a published figure that a rail leaning 12 degrees is on.
func ExampleCompare() {
	for _, f := range rules.Compare(rules.Facts{Mass: 1.2, LeanDeg: 12}) {
		if f.Item == "rail lean" && f.Code == rules.Model {
			fmt.Println(f.Within, f.Value, f.Figure)
		}
	}
	// Output: true 12 deg at most 30 deg from vertical
}
