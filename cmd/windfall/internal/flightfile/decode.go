package flightfile

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"windfall/cmd/windfall/internal/nearest"
	"windfall/geo/place"
	"windfall/geo/quantity"
)

// Error is one thing wrong with a file. It prints as
// "flight.yaml:28: wind[1].speed "24" has no unit; write one, such as 24 kn".
type Error struct {
	File  string
	Line  int    // 0: not known
	Field string // dotted path; empty: the file as a whole
	Msg   string
}

func (e *Error) Error() string {
	where := e.File
	if e.Line > 0 {
		where = fmt.Sprintf("%s:%d", e.File, e.Line)
	}
	if e.Field != "" {
		return fmt.Sprintf("%s: %s %s", where, e.Field, e.Msg)
	}
	return fmt.Sprintf("%s: %s", where, e.Msg)
}

// decoder reads values out of a tree. The first error stays; what follows it
// reads as absent, so that callers need no check after every value.
type decoder struct {
	file    string
	err     error
	assumed []string
	asked   []string // what is unusual, to be looked at again
}

func (d *decoder) fail(n *node, format string, args ...any) {
	if d.err == nil {
		d.err = &Error{File: d.file, Line: n.line, Field: n.path, Msg: fmt.Sprintf(format, args...)}
	}
}

// ask is fail for what may be right but hardly is.
func (d *decoder) ask(n *node, format string, args ...any) {
	e := &Error{File: d.file, Line: n.line, Field: n.path, Msg: fmt.Sprintf(format, args...)}
	d.asked = append(d.asked, e.Error())
}

func (d *decoder) assume(format string, args ...any) {
	d.assumed = append(d.assumed, fmt.Sprintf(format, args...))
}

// keys checks that n is a mapping of the keys that Keys lists below a path.
func (d *decoder) keys(n *node, path string) bool {
	known := known(path)
	if n.kind != mapping {
		d.fail(n, "must be keys and values, such as %s: ...", known[0])
		return false
	}
	for _, k := range n.keys {
		if !contains(known, k) {
			d.fail(n.field[k], "is not a known key; %s", nearest.Hint(k, known))
			return false
		}
	}
	return true
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

// get returns the value at key, nil where absent or null.
func (n *node) get(key string) *node {
	if n == nil || n.kind != mapping {
		return nil
	}
	if c := n.field[key]; c != nil && c.kind != null {
		return c
	}
	return nil
}

// need returns the value at key and fails where there is none.
func (d *decoder) need(n *node, key, example string) *node {
	c := n.get(key)
	if c == nil {
		missing := &node{path: join(n.path, key), line: n.line}
		d.fail(missing, "is missing; write it, such as %s: %s", key, example)
	}
	return c
}

func (d *decoder) text(n *node) string {
	if n == nil {
		return ""
	}
	if n.kind != scalar {
		d.fail(n, "must be one value%s", n.suchAs(", "))
		return ""
	}
	return strings.TrimSpace(n.text)
}

// suchAs gives the key's example behind a joining text, for messages.
func (n *node) suchAs(join string) string {
	if k := KeyAt(n.path); k != nil && k.Example != "" {
		return join + "such as " + k.Example
	}
	return ""
}

// A bound is what a quantity must satisfy.
type bound uint8

const (
	finite   bound = iota
	positive       // > 0
	nonNeg         // >= 0
)

// quantity reads a dimensional value into SI; ok is false where n is nil or wrong.
func (d *decoder) quantity(n *node, k quantity.Kind, b bound) (v float64, ok bool) {
	if n == nil {
		return 0, false
	}
	s := d.text(n)
	v, err := quantity.Parse(s, k)
	if err != nil {
		d.fail(n, "%v", err)
		return 0, false
	}
	switch {
	case b == positive && v <= 0:
		d.fail(n, "%q must be greater than zero%s", s, n.suchAs("; write one "))
	case b == nonNeg && v < 0:
		d.fail(n, "%q must not be negative%s", s, n.suchAs("; write one "))
	default:
		return v, d.hold(n, v, func(s string) (float64, error) { return quantity.Parse(s, k) })
	}
	return 0, false
}

// pointer is quantity for values that may be left out.
func (d *decoder) pointer(n *node, k quantity.Kind, b bound) *float64 {
	if v, ok := d.quantity(n, k, b); ok {
		return &v
	}
	return nil
}

// value is quantity with zero for what is left out.
func (d *decoder) value(n *node, k quantity.Kind, b bound) float64 {
	v, _ := d.quantity(n, k, b)
	return v
}

// number reads a plain number.
func (d *decoder) number(n *node, b bound) (float64, bool) {
	if n == nil {
		return 0, false
	}
	s := d.text(n)
	v, err := strconv.ParseFloat(s, 64)
	switch {
	case err != nil || math.IsNaN(v) || math.IsInf(v, 0):
		d.fail(n, "%q is not a plain number; write one such as 0.6", s)
	case b == positive && v <= 0:
		d.fail(n, "%q must be greater than zero%s", s, n.suchAs("; write one "))
	case b == nonNeg && v < 0:
		d.fail(n, "%q must not be negative%s", s, n.suchAs("; write one "))
	default:
		return v, d.hold(n, v, func(s string) (float64, error) { return strconv.ParseFloat(s, 64) })
	}
	return 0, false
}

func (d *decoder) boolean(n *node) bool {
	if n == nil {
		return false
	}
	switch s := d.text(n); s {
	case "true", "yes":
		return true
	case "false", "no":
		return false
	default:
		d.fail(n, "%q is neither; write true or false", s)
		return false
	}
}

// place reads a place; a list of two numbers is latitude and longitude.
func (d *decoder) place(n *node) orb.Point {
	if n == nil {
		return orb.Point{}
	}
	s := n.text
	if n.kind == list && len(n.items) == 2 {
		s = n.items[0].text + "," + n.items[1].text
	} else if n.kind != scalar {
		d.fail(n, "must be a place, such as 39.0512, -5.5831")
		return orb.Point{}
	}
	p, err := place.Parse(s)
	if err != nil {
		d.fail(n, "%v", err)
	}
	return p
}
