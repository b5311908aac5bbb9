package flightfile

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Edit is one change to the text of a flight file.
type Edit struct {
	Key    string `json:"key"`              // dotted path, such as motor.delay or recovery[0].width
	Value  string `json:"value,omitempty"`  // YAML or JSON of the new value; empty: the key is taken out
	Insert bool   `json:"insert,omitempty"` // Key is an entry of a list: the value goes in before it
}

// Apply makes changes to the text of a flight file, one after the other, and
// keeps every byte that they do not touch: comments, order and layout. One more
// entry of a list is written at the index after its last. A mapping or list
// that loses its last entry goes with it. What comes out is read again and
// compared: it says what was asked for, or nothing is changed. Name is the
// file's, for messages.
func Apply(name string, text []byte, edits []Edit) ([]byte, error) {
	want, err := parse(name, text)
	if err != nil {
		return nil, err
	}
	out := string(text)
	for _, e := range edits {
		steps, err := steps(e.Key)
		if err != nil {
			return nil, err
		}
		v, err := valueOf(name, e)
		if err != nil {
			return nil, err
		}
		if want, err = want.edit(steps, v, e.Insert); err != nil {
			return nil, fmt.Errorf("%s %w", e.Key, err)
		}
		if out, err = splice(out, steps, v, e.Insert); err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
	}
	got, err := parse(name, []byte(out))
	if err != nil || !same(got, want) {
		return nil, fmt.Errorf("%s: %w", name, errLayout)
	}
	return []byte(out), nil
}

// Same tells whether two texts of a flight file say the same.
func Same(a, b []byte) bool {
	x, errX := parse("", a)
	y, errY := parse("", b)
	return errX == nil && errY == nil && same(x, y)
}

// valueOf reads the new value of an edit; nil: none.
func valueOf(name string, e Edit) (*node, error) {
	if strings.TrimSpace(e.Value) == "" {
		return nil, nil
	}
	root, err := parse(name, []byte("v: "+e.Value))
	if err != nil || len(root.keys) != 1 {
		return nil, fmt.Errorf("%s=%s: the value is not valid YAML; quote it", e.Key, e.Value)
	}
	if v := root.field["v"]; v.kind != null {
		return v, nil
	}
	return nil, nil
}

// steps splits recovery[0].width into recovery, 0, width.
func steps(key string) ([]string, error) {
	s := strings.FieldsFunc(key, func(r rune) bool { return r == '.' || r == '[' || r == ']' })
	if len(s) == 0 || len(s) > maxDepth {
		return nil, fmt.Errorf("%q is not a key; write one such as motor.delay", key)
	}
	return s, nil
}

// same compares two trees by what they say.
func same(a, b *node) bool {
	if a.kind != b.kind || a.text != b.text || !slices.Equal(a.keys, b.keys) || len(a.items) != len(b.items) {
		return false
	}
	for i := range a.items {
		if !same(a.items[i], b.items[i]) {
			return false
		}
	}
	for _, k := range a.keys {
		if !same(a.field[k], b.field[k]) {
			return false
		}
	}
	return true
}

// edit returns the tree with v at the steps below n; nil where nothing is left
// of it. It changes n.
func (n *node) edit(steps []string, v *node, insert bool) (*node, error) {
	if len(steps) == 0 {
		return v, nil
	}
	if n == nil || n.kind == null {
		if v == nil {
			return n, nil
		}
		return wrapped(steps, v), nil
	}
	switch n.kind {
	case mapping:
		return n.editKey(steps, v, insert)
	case list:
		return n.editItem(steps, v, insert)
	}
	return nil, fmt.Errorf("has no parts: %q is one value", n.text)
}

func (n *node) editKey(steps []string, v *node, insert bool) (*node, error) {
	k := steps[0]
	old, had := n.field[k]
	c, err := old.edit(steps[1:], v, insert && len(steps) > 1)
	switch {
	case err != nil:
		return nil, err
	case c == nil && had:
		delete(n.field, k)
		n.keys = slices.DeleteFunc(n.keys, func(s string) bool { return s == k })
		if len(n.keys) == 0 {
			return nil, nil
		}
	case c != nil:
		if !had {
			n.keys = slices.Insert(n.keys, newKeyAt(n.keys, k, n.path == ""), k)
		}
		n.field[k] = c
	}
	return n, nil
}

func (n *node) editItem(steps []string, v *node, insert bool) (*node, error) {
	i, err := strconv.Atoi(steps[0])
	if err != nil || i < 0 || i > len(n.items) || i == len(n.items) && v == nil {
		return nil, fmt.Errorf("has %d entries, counted from 0", len(n.items))
	}
	if i == len(n.items) || insert && len(steps) == 1 {
		n.items = slices.Insert(n.items, i, wrapped(steps[1:], v))
		return n, nil
	}
	c, err := n.items[i].edit(steps[1:], v, insert)
	if err != nil {
		return nil, err
	}
	if c == nil {
		n.items = slices.Delete(n.items, i, i+1)
		if len(n.items) == 0 {
			return nil, nil
		}
		return n, nil
	}
	n.items[i] = c
	return n, nil
}

// wrapped returns v inside the mappings and lists that lead to it.
func wrapped(steps []string, v *node) *node {
	if len(steps) == 0 {
		return v
	}
	in := wrapped(steps[1:], v)
	if steps[0] == "0" {
		return &node{kind: list, items: []*node{in}}
	}
	return &node{kind: mapping, keys: []string{steps[0]}, field: map[string]*node{steps[0]: in}}
}

// topKeys are the keys of a flight file in the order that people read them.
var topKeys = known("")

// newKeyAt is the index at which a key goes in: at the end, or at the top of a
// file after those that are read before it.
func newKeyAt(keys []string, k string, top bool) int {
	rank := slices.Index(topKeys, k)
	if !top || rank < 0 {
		return len(keys)
	}
	at := 0
	for i, x := range keys {
		if r := slices.Index(topKeys, x); r >= 0 && r < rank {
			at = i + 1
		}
	}
	return at
}
