//go:build !unix

package logbook

import "syscall"

// asNobody changes nothing: only Unix has the superuser that it is for.
func asNobody() *syscall.SysProcAttr { return nil }
