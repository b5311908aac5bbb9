//go:build unix

package logbook

import "syscall"

// asNobody runs a program as a user who owns nothing.
func asNobody() *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
}
