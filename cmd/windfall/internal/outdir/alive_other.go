//go:build !unix

package outdir

import "os"

// alive says whether a process is there.
func alive(pid int) bool {
	p, err := os.FindProcess(pid)
	if err != nil {
		return false
	}
	p.Release()
	return true
}
