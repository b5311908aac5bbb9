//go:build unix

package drift

import (
	"math"
	"syscall"
)

// cpuSeconds returns the processor time this process has used, which other
// work on the machine disturbs less than the clock's.
func cpuSeconds() float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return math.NaN()
	}
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e9
}
