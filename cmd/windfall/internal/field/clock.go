package field

import (
	"fmt"
	"time"
)

// clockSlack is how far a phone's clock may seem off before its times are put
// right: what a request takes on its way at the edge of a network is not the
// clock's fault, and a right clock must stay right. A choice of ours.
const clockSlack = 10 * time.Second

// shifted is a time put right by how far the phone's clock is off; one that is
// then still in the future is taken for now. Within the slack it stays: what one
// phone says must keep its distances in time.
func shifted(at time.Time, by time.Duration, now time.Time) time.Time {
	if at = at.Add(by); at.Sub(now) > clockSlack {
		return now
	}
	return at
}

// ClockWords says what became of the times of a phone whose clock is ahead by
// off; "": nothing.
func ClockWords(off time.Duration) string {
	if off.Abs() <= clockSlack {
		return ""
	}
	way := "ahead"
	if off < 0 {
		way = "behind"
	}
	return fmt.Sprintf("the clock of this phone is %s %s: the times of what it sent were put right by that; "+
		"set the clock", off.Abs().Round(time.Second), way)
}
