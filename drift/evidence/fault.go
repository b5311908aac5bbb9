package evidence

import (
	"errors"
	"fmt"
	"reflect"
	"regexp"
	"strings"
	"sync"
)

// fault is a sighting that cannot be. Its format names fields in braces, by the
// name of the command's flag without its dashes; who took the sighting from
// elsewhere can say them by other names.
type fault struct {
	format string
	args   []any
}

func faulty(format string, args ...any) error { return &fault{format, args} }

func (f *fault) Error() string { return f.Named(func(name string) string { return name }) }

var inBraces = regexp.MustCompile(`\{[a-z-]+\}`)

// Named is Error with other names for the fields.
func (f *fault) Named(as func(name string) string) string {
	return fmt.Sprintf(inBraces.ReplaceAllStringFunc(f.format, func(s string) string {
		return as(strings.Trim(s, "{}"))
	}), f.args...)
}

// byKey names the fields of an error as the logbook does.
func byKey(err error) error {
	var f *fault
	if !errors.As(err, &f) {
		return err
	}
	return errors.New(f.Named(func(name string) string {
		if key, ok := keys()[name]; ok {
			return key
		}
		return name
	}))
}

var unit = regexp.MustCompile(`_(deg|m|s)$`)

// keys are the keys of the logbook by the names of fields: a key is the name
// and, with some, its unit.
var keys = sync.OnceValue(func() map[string]string {
	out, all := map[string]string{}, map[string]bool{}
	for _, k := range kinds {
		names(reflect.TypeOf(k.kind), all)
	}
	for key := range all {
		out[strings.ReplaceAll(unit.ReplaceAllString(key, ""), "_", "-")] = key
	}
	return out
})
