// Package trigger names what starts a recovery device or sheds a part: values
// that the flight file gives and the flight model waits for.
//
// Units: seconds, and metres above the pad. Not here: when a trigger comes; that
// is the flight's.
package trigger

// Trigger is what starts a device or sheds a part.
type Trigger struct {
	Kind  Kind
	Value float64 // Height: m above the pad; AtTime: s after ignition; Apogee: s after it
}

// Kind names the kinds of trigger.
type Kind uint8

// The triggers.
const (
	Ejection Kind = iota // the motor's charge
	Apogee
	Height // on the way down
	Burnout
	AtTime
)
