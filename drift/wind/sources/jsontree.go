package sources

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
)

// node is a JSON value that knows its line. Exactly one of the members below
// holds it: obj and keys for an object, arr for an array, else val.
type node struct {
	line int
	keys []string
	obj  map[string]*node
	arr  []*node
	val  any // string, json.Number, bool or nil
}

const (
	maxJSON  = 12 << 20 // bytes; a fortnight of an ensemble by the hour is 3 MB
	maxDepth = 64
	maxNodes = 1_500_000 // values, some 130 bytes each in memory
)

// parseJSON reads one JSON document. NaN and the infinities, which JSON does
// not have but some archives write, are read as null.
func parseJSON(name string, in io.Reader) (*node, error) {
	data, err := io.ReadAll(io.LimitReader(in, maxJSON+1))
	if err != nil {
		return nil, at(name, 1, "%v", err)
	}
	if len(data) > maxJSON {
		return nil, at(name, 1, "is larger than %d MB; this is no wind file", maxJSON>>20)
	}
	data = nullNaN(data)
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	p := &treeParser{d: d, data: data, line: 1}
	n, err := p.value(0)
	if err == nil {
		if _, err2 := d.Token(); err2 != io.EOF {
			err = errors.New("something follows the end of the JSON document")
		}
	}
	if err != nil {
		p.count(len(data))
		line := p.line
		var syn *json.SyntaxError
		if errors.As(err, &syn) && syn.Offset <= int64(len(data)) {
			line = 1 + bytes.Count(data[:syn.Offset], []byte{'\n'})
		}
		if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			err = errors.New("the JSON ends in the middle; the file seems cut short, fetch it again")
		}
		return nil, at(name, line, "%s", strings.TrimPrefix(err.Error(), "json: "))
	}
	return n, nil
}

type treeParser struct {
	d    *json.Decoder
	data []byte
	pos  int
	line int
	n    int // values so far
}

// count moves the line counter to the byte offset.
func (p *treeParser) count(to int) {
	to = min(to, len(p.data))
	if to > p.pos {
		p.line += bytes.Count(p.data[p.pos:to], []byte{'\n'})
		p.pos = to
	}
}

func (p *treeParser) value(depth int) (*node, error) {
	t, err := p.d.Token()
	if err != nil {
		return nil, err
	}
	p.count(int(p.d.InputOffset()))
	if p.n++; p.n > maxNodes {
		return nil, fmt.Errorf("holds more than %d values; ask for fewer hours, levels or members", maxNodes)
	}
	n := &node{line: p.line}
	delim, ok := t.(json.Delim)
	if !ok {
		n.val = t
		return n, nil
	}
	if depth > maxDepth {
		return nil, fmt.Errorf("nested deeper than %d; this is no wind file", maxDepth)
	}
	if delim == '{' {
		n.obj = map[string]*node{}
	} else {
		n.arr = []*node{} // not nil: an empty list is no null
	}
	for p.d.More() {
		key := ""
		if n.obj != nil {
			k, err := p.d.Token()
			if err != nil {
				return nil, err
			}
			key, _ = k.(string)
		}
		c, err := p.value(depth + 1)
		if err != nil {
			return nil, err
		}
		if n.obj == nil {
			n.arr = append(n.arr, c)
			continue
		}
		if _, dup := n.obj[key]; !dup {
			n.keys = append(n.keys, key)
		}
		n.obj[key] = c
	}
	_, err = p.d.Token() // the closing bracket
	return n, err
}

// get returns a member of an object, nil where there is none.
func (n *node) get(key string) *node {
	if n == nil || n.obj == nil {
		return nil
	}
	return n.obj[key]
}

// number returns a finite number, NaN for null or nothing; ok is false for
// anything else.
func (n *node) number() (v float64, ok bool) {
	if n == nil || (n.val == nil && n.obj == nil && n.arr == nil) {
		return math.NaN(), true
	}
	num, isNum := n.val.(json.Number)
	if !isNum {
		return 0, false
	}
	v, err := num.Float64()
	if err != nil || math.IsInf(v, 0) {
		return 0, false
	}
	if v == -9999 || v == -8888 {
		return math.NaN(), true
	}
	return v, true
}

// text returns a string, "" for anything else.
func (n *node) text() string {
	if n == nil {
		return ""
	}
	s, _ := n.val.(string)
	return s
}

// show writes a value for messages.
func (n *node) show() string {
	switch {
	case n == nil:
		return "nothing"
	case n.obj != nil:
		return "an object"
	case n.arr != nil:
		return "a list"
	}
	b, _ := json.Marshal(n.val)
	return clip(string(b))
}

// nullNaN replaces NaN, Infinity and -Infinity outside strings by null.
func nullNaN(b []byte) []byte {
	if !bytes.Contains(b, []byte("NaN")) && !bytes.Contains(b, []byte("Infinity")) {
		return b
	}
	out := make([]byte, 0, len(b)+len(b)/8)
	inString := false
	for i := 0; i < len(b); i++ {
		c := b[i]
		switch {
		case inString && c == '\\' && i+1 < len(b):
			out = append(out, c, b[i+1])
			i++
			continue
		case c == '"':
			inString = !inString
		case !inString:
			if n := nanAt(b[i:]); n > 0 {
				out = append(out, "null"...)
				i += n - 1
				continue
			}
		}
		out = append(out, c)
	}
	return out
}

func nanAt(b []byte) int {
	for _, w := range []string{"NaN", "-NaN", "Infinity", "-Infinity"} {
		if bytes.HasPrefix(b, []byte(w)) {
			return len(w)
		}
	}
	return 0
}
