// Package usage marks errors of the command line, of a request or of a file a
// person wrote: something they can put right. All other errors are failures of
// the run.
package usage

import (
	"errors"
	"fmt"
)

// Error is an error that a person can put right.
type Error struct{ err error }

func (e *Error) Error() string { return e.err.Error() }

// Unwrap returns the error that was marked.
func (e *Error) Unwrap() error { return e.err }

// Errorf makes such an error, as fmt.Errorf does.
func Errorf(format string, a ...any) error { return &Error{fmt.Errorf(format, a...)} }

// Mark returns err as such an error; nil stays nil.
func Mark(err error) error {
	if err == nil {
		return nil
	}
	return &Error{err}
}

// Is reports whether err, or one it wraps, is such an error.
func Is(err error) bool {
	var e *Error
	return errors.As(err, &e)
}
