package trigger_test

import (
	"fmt"

	"windfall/drift/trigger"
)

// A main that opens 250 m above the pad, and a charge one second after apogee.
func Example() {
	parachute, charge := trigger.Trigger{Kind: trigger.Height, Value: 250}, trigger.Trigger{Kind: trigger.Apogee, Value: 1}
	fmt.Println(parachute.Value, charge.Value, parachute == charge)
	// Output: 250 1 false
}
