package flightfile

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"strings"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// node is a YAML value with its place in the file: a scalar (text), a mapping
// (keys in file order) or a list. A key without a value is a null node.
type node struct {
	kind  nodeKind
	path  string // wind[1].speed
	line  int
	text  string
	keys  []string
	field map[string]*node
	items []*node
}

type nodeKind uint8

const (
	null nodeKind = iota
	scalar
	mapping
	list
)

// parse reads the text of a flight file into a tree. Errors carry file and line.
func parse(name string, text []byte) (*node, error) {
	text, err := readable(name, text)
	if err != nil {
		return nil, err
	}
	f, err := parser.ParseBytes(text, 0)
	if err != nil {
		return nil, syntaxError(name, err)
	}
	var docs []*ast.DocumentNode
	for _, d := range f.Docs {
		if d.Body != nil {
			docs = append(docs, d)
		}
	}
	switch {
	case len(docs) == 0:
		return nil, fmt.Errorf("%s: is empty; 'windfall new DIR' writes one to start from", name)
	case len(docs) > 1:
		return nil, &Error{File: name, Line: docs[1].Body.GetToken().Position.Line,
			Msg: "a second document starts here (---); write one flight a file"}
	}
	b := builder{file: name, anchors: map[string]ast.Node{}}
	n := b.build(docs[0].Body, "", 0)
	if b.err != nil {
		return nil, b.err
	}
	if n.kind != mapping {
		return nil, &Error{File: name, Line: n.line,
			Msg: "is not a flight file: write keys such as site:, vehicle: and motor:"}
	}
	return n, nil
}

// readable takes off the mark that some editors write before the text, and
// refuses what is no text or would cost the parser more than any flight file.
func readable(name string, text []byte) ([]byte, error) {
	text = bytes.TrimPrefix(text, []byte("\xef\xbb\xbf"))
	if bytes.HasPrefix(text, []byte("\xff\xfe")) || bytes.HasPrefix(text, []byte("\xfe\xff")) {
		return nil, &Error{File: name, Line: 1, Msg: "is in UTF-16; save it as UTF-8"}
	}
	line, deep := 1, 0
	for _, c := range text {
		switch {
		case c == '\n':
			line++
		case c == '[' || c == '{':
			deep++
		case c == ']' || c == '}':
			deep = max(0, deep-1)
		case c < ' ' && c != '\t' && c != '\r' || c == 0x7f:
			return nil, &Error{File: name, Line: line,
				Msg: fmt.Sprintf("holds a control character (%#02x); write plain text", c)}
		}
		if deep > maxBrackets {
			return nil, &Error{File: name, Line: line,
				Msg: fmt.Sprintf("opens more than %d brackets in each other; close them", maxBrackets)}
		}
	}
	return text, nil
}

var twice = regexp.MustCompile(`mapping key "(.{1,60})" already defined`)

// syntaxError says in our words what the parser found.
func syntaxError(name string, err error) error {
	var at interface{ GetToken() *token.Token }
	line := 0
	if errors.As(err, &at) && at.GetToken() != nil {
		line = at.GetToken().Position.Line
	}
	if m := twice.FindStringSubmatch(err.Error()); m != nil {
		return &Error{File: name, Line: line, Field: m[1], Msg: "is written twice; keep one"}
	}
	return &Error{File: name, Line: line,
		Msg: "is not valid YAML here; check the indentation, brackets and quotes, write keys as key: value, and quote " +
			"text that holds : or #"}
}

// builder turns the parser's tree into nodes.
type builder struct {
	file    string
	anchors map[string]ast.Node
	nodes   int
	err     error
}

const (
	maxBrackets = 40     // a flight file has four
	maxNodes    = 20_000 // aliases of aliases multiply; a flight file has some hundred
)

const maxDepth = 20 // a flight file has five levels; an alias that holds itself has no end

func (b *builder) build(a ast.Node, path string, depth int) *node {
	n := &node{path: path}
	if a == nil {
		return n
	}
	n.line = a.GetToken().Position.Line
	if b.nodes++; depth > maxDepth || b.nodes > maxNodes {
		if b.err == nil {
			b.err = &Error{File: b.file, Line: n.line, Field: clip(path),
				Msg: fmt.Sprintf("is nested too deeply or repeats itself; a flight file has at most %d levels and %d values",
					maxDepth, maxNodes)}
		}
		return n
	}
	switch v := a.(type) {
	case *ast.NullNode:
	case *ast.AnchorNode:
		b.anchors[v.Name.GetToken().Value] = v.Value
		return b.build(v.Value, path, depth+1)
	case *ast.AliasNode:
		return b.build(b.anchors[v.Value.GetToken().Value], path, depth+1)
	case *ast.TagNode:
		return b.build(v.Value, path, depth+1)
	case *ast.MappingNode:
		b.mapping(n, v, depth)
	case *ast.MappingValueNode:
		m := &ast.MappingNode{BaseNode: &ast.BaseNode{}, Start: v.Start, Values: []*ast.MappingValueNode{v}}
		b.mapping(n, m, depth)
	case *ast.SequenceNode:
		n.kind = list
		for i, x := range v.Values {
			if b.err != nil {
				break
			}
			n.items = append(n.items, b.build(x, fmt.Sprintf("%s[%d]", path, i), depth+1))
		}
	case *ast.LiteralNode:
		n.kind, n.text = scalar, strings.TrimSpace(v.Value.Value)
	default:
		n.kind, n.text = scalar, a.GetToken().Value
	}
	return n
}

func (b *builder) mapping(n *node, v *ast.MappingNode, depth int) {
	n.kind, n.field = mapping, map[string]*node{}
	if len(v.Values) > 0 {
		n.line = v.Values[0].Key.GetToken().Position.Line
	}
	for _, kv := range v.Values {
		if b.err != nil {
			return
		}
		key := kv.Key.GetToken().Value
		child := b.build(kv.Value, join(n.path, key), depth+1)
		// In a flow mapping a comma ends a value, so that the place in
		// {start: 39.05,-5.58} arrives as a value and a key without one.
		if v.IsFlowStyle && child.kind == null && len(n.keys) > 0 && startsNumber(key) {
			if last := n.field[n.keys[len(n.keys)-1]]; last.kind == scalar {
				last.text += "," + key
				continue
			}
		}
		child.line = kv.Key.GetToken().Position.Line
		n.keys = append(n.keys, key)
		n.field[key] = child
	}
}

func startsNumber(s string) bool {
	s = strings.TrimLeft(s, "+-")
	return s != "" && s[0] >= '0' && s[0] <= '9'
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

// set puts value, itself YAML, at a dotted path such as recovery.0.device or
// motor.delay, making mappings on the way as needed.
func (n *node) set(file, path, value string) error {
	v, err := parse(file, []byte("v: "+value))
	if err != nil {
		return fmt.Errorf("%s=%s: the value is not valid YAML; quote it", path, value)
	}
	leaf := v.field["v"]
	at := n
	parts := strings.FieldsFunc(path, func(r rune) bool { return r == '.' || r == '[' || r == ']' })
	if len(parts) == 0 {
		return fmt.Errorf("%q is not a key; write one such as motor.delay", path)
	}
	for i, p := range parts {
		var next **node
		switch at.kind {
		case list:
			var k int
			if _, err := fmt.Sscanf(p, "%d", &k); err != nil || k < 0 || k >= len(at.items) {
				return fmt.Errorf("%s: %s has %d entries, counted from 0", path, strings.Join(parts[:i], "."), len(at.items))
			}
			next = &at.items[k]
		case mapping, null:
			if at.kind == null {
				at.kind, at.field = mapping, map[string]*node{}
			}
			if _, ok := at.field[p]; !ok {
				at.keys = append(at.keys, p)
				at.field[p] = &node{path: join(at.path, p), line: at.line}
			}
			c := at.field[p]
			next = &c
			if i == len(parts)-1 {
				at.field[p] = relabel(leaf, c.path, c.line)
				return nil
			}
		default:
			return fmt.Errorf("%s: %s has no parts", path, strings.Join(parts[:i], "."))
		}
		if i == len(parts)-1 {
			*next = relabel(leaf, (*next).path, (*next).line)
			return nil
		}
		at = *next
	}
	return nil
}

// relabel gives a parsed value the path and line of the place it takes.
func relabel(n *node, path string, line int) *node {
	n.path, n.line = path, line
	for k, c := range n.field {
		relabel(c, join(path, k), line)
	}
	for i, c := range n.items {
		relabel(c, fmt.Sprintf("%s[%d]", path, i), line)
	}
	return n
}
