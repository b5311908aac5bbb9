//go:build unix

package outdir

import (
	"errors"
	"os"
	"syscall"
)

// alive says whether a process is there.
func alive(pid int) bool {
	p, err := os.FindProcess(pid)
	if err != nil {
		return false
	}
	err = p.Signal(syscall.Signal(0))
	return err == nil || errors.Is(err, os.ErrPermission)
}
