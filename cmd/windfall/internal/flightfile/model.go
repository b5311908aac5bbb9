package flightfile

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"windfall/drift"
)

// Model makes the flight ready to fly. What is wrong with it gets the line of
// the field it names.
func (f *File) Model() (*drift.Model, error) {
	m, err := drift.Prepare(f.Flight)
	var fe *drift.FieldError
	if errors.As(err, &fe) {
		return nil, f.Error(fe.Field, strings.TrimSpace(quoted(fe.Value)+" "+fe.Msg))
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", f.Path, err)
	}
	return m, nil
}

func quoted(s string) string {
	if s == "" {
		return ""
	}
	return strconv.Quote(s)
}
