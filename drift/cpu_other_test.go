//go:build !unix

package drift

import "time"

var began = time.Now()

// cpuSeconds is the clock's where processor time is not to be had so simply.
func cpuSeconds() float64 { return time.Since(began).Seconds() }
