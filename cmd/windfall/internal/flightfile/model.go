package flightfile

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"windfall/drift"
	"windfall/search"
)

// Model makes the flight ready to fly. What is wrong with it gets the line of
// the field it names.
func (f *File) Model() (*drift.Model, error) {
	m, err := drift.Prepare(f.Flight)
	if err != nil {
		if named := f.Explain(err); named != err {
			return nil, named
		}
		return nil, fmt.Errorf("%s: %w", f.Path, err)
	}
	return m, nil
}

// Explain gives an error of a later stage that names a field of the flight the
// field's file and line, and its value as written; other errors come back as they are.
func (f *File) Explain(err error) error {
	var ofFlight *drift.FieldError
	var ofSearcher *search.FieldError
	switch {
	case errors.As(err, &ofFlight):
		return f.Error(ofFlight.Field, strings.TrimSpace(quoted(ofFlight.Value)+" "+ofFlight.Msg))
	case errors.As(err, &ofSearcher):
		value := ofSearcher.Value
		if n, own := f.find(ofSearcher.Field); own && n.kind == scalar {
			value = n.text
		}
		return f.Error(ofSearcher.Field, quoted(value)+" "+ofSearcher.Msg)
	}
	return err
}

func quoted(s string) string {
	if s == "" {
		return ""
	}
	return strconv.Quote(s)
}
