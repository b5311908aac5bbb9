package flightfile

import (
	"errors"
	"fmt"
	"strings"
)

// item is a value of a flight file with the bytes that it takes, so that one
// value can be changed and every other byte kept. It covers the YAML that
// people write by hand; anchors, tags and block scalars it does not.
type item struct {
	kind       nodeKind
	flow       bool // {..} or [..]
	quote      byte // ' or ", 0 for a plain scalar
	start, end int  // of the value
	indent     int  // column of the entries of a block
	entries    []entry
}

// entry is a key with its value, or an entry of a list.
type entry struct {
	key        string
	start, end int // from the key or the dash to the end of the value
	value      *item
}

var errLayout = errors.New("uses YAML that cannot be changed in place (an anchor, a tag or text over several " +
	"lines); change it in an editor")

// layoutOf finds where every value of a flight file stands.
func layoutOf(text string) (root *item, err error) {
	l := &layout{text: text}
	defer func() { // the one way out of a recursion of small functions
		if e, ok := recover().(error); ok && errors.Is(e, errLayout) {
			err = e
		} else if e != nil {
			panic(e)
		}
	}()
	if strings.HasPrefix(text, "\ufeff") {
		l.pos = len("\ufeff")
	}
	l.skip()
	if strings.HasPrefix(l.rest(), "---") {
		l.pos = l.lineEnd()
		l.skip()
	}
	root = l.block(0)
	if l.skip(); l.pos < len(text) && !strings.HasPrefix(l.rest(), "...") {
		l.fail()
	}
	return root, nil
}

type layout struct {
	text string
	pos  int
}

func (l *layout) fail() {
	panic(fmt.Errorf("line %d %w", 1+strings.Count(l.text[:l.pos], "\n"), errLayout))
}
func (l *layout) rest() string { return l.text[l.pos:] }

func (l *layout) peek() byte {
	if l.pos < len(l.text) {
		return l.text[l.pos]
	}
	return '\n'
}

func (l *layout) lineEnd() int {
	if i := strings.IndexByte(l.rest(), '\n'); i >= 0 {
		return l.pos + i
	}
	return len(l.text)
}

func (l *layout) column() int { return l.pos - 1 - strings.LastIndexByte(l.text[:l.pos], '\n') }

func (l *layout) spaces() {
	for l.pos < len(l.text) && (l.text[l.pos] == ' ' || l.text[l.pos] == '\t' || l.text[l.pos] == '\r') {
		l.pos++
	}
}

// skip goes on to the next byte that is neither space nor comment.
func (l *layout) skip() {
	for l.pos < len(l.text) {
		l.spaces()
		switch l.peek() {
		case '#':
			l.pos = l.lineEnd()
		case '\n':
			if l.pos < len(l.text) {
				l.pos++
			}
		default:
			return
		}
	}
}

// atEnd says whether only a comment follows on the line.
func (l *layout) atEnd() bool {
	l.spaces()
	return l.peek() == '\n' || l.peek() == '#'
}

func (l *layout) dash() bool {
	return l.peek() == '-' && (l.pos+1 == len(l.text) || strings.IndexByte(" \n\r\t", l.text[l.pos+1]) >= 0)
}

// block reads what stands at the next content, which must be indented by least.
func (l *layout) block(least int) *item {
	start := l.pos
	if l.skip(); l.pos == len(l.text) || l.column() < least {
		l.pos = start
		return &item{start: start, end: start}
	}
	col := l.column()
	if l.dash() {
		return l.sequence(col)
	}
	if l.keyed() {
		return l.mapping(col)
	}
	return l.inline(least)
}

// keyed says whether a key starts here.
func (l *layout) keyed() bool {
	at := l.pos
	defer func() { l.pos = at }()
	if strings.IndexByte("{[&*!|>%@`", l.peek()) >= 0 {
		return false
	}
	_, ok := l.key(false)
	return ok
}

// key reads a key and the colon after it.
func (l *layout) key(flow bool) (string, bool) {
	at := l.pos
	var name string
	if q := l.peek(); q == '"' || q == '\'' {
		l.quoted(q)
		name = l.text[at+1 : l.pos-1]
	} else {
		for l.pos < len(l.text) && !l.colon(flow) {
			c := l.text[l.pos]
			if c == '\n' || c == '#' && l.text[l.pos-1] == ' ' || flow && strings.IndexByte(",{}[]", c) >= 0 {
				break
			}
			l.pos++
		}
		name = strings.TrimSpace(l.text[at:l.pos])
	}
	l.spaces()
	if !l.colon(flow) {
		return name, false
	}
	l.pos++
	return name, true
}

func (l *layout) colon(flow bool) bool {
	if l.peek() != ':' {
		return false
	}
	if l.pos+1 == len(l.text) {
		return true
	}
	next := l.text[l.pos+1]
	return strings.IndexByte(" \n\r\t", next) >= 0 || flow && strings.IndexByte(",{}[]", next) >= 0
}

func (l *layout) mapping(col int) *item {
	m := &item{kind: mapping, start: l.pos, indent: col}
	for {
		e := entry{start: l.pos}
		var ok bool
		if e.key, ok = l.key(false); !ok {
			l.fail()
		}
		e.value = l.after(col, true)
		e.end = max(l.pos, e.value.end)
		if e.value.kind == null {
			e.end = e.value.end
		}
		m.entries, m.end = append(m.entries, e), e.end
		back := l.pos
		if l.skip(); l.pos == len(l.text) || l.column() != col || l.dash() || !l.keyed() {
			l.pos = back
			return m
		}
	}
}

func (l *layout) sequence(col int) *item {
	s := &item{kind: list, start: l.pos, indent: col}
	for {
		e := entry{start: l.pos}
		l.pos++
		e.value = l.after(col, false)
		e.end = max(l.pos, e.value.end)
		s.entries, s.end = append(s.entries, e), e.end
		back := l.pos
		if l.skip(); l.pos == len(l.text) || l.column() != col || !l.dash() {
			l.pos = back
			return s
		}
	}
}

// after reads the value that stands after a key or a dash of a block whose
// entries start at column col. A list may stand as far left as its key.
func (l *layout) after(col int, key bool) *item {
	here := l.pos
	if !l.atEnd() {
		if !key && (l.dash() || l.keyed()) {
			return l.block(col + 1)
		}
		return l.inline(col + 1)
	}
	end := l.lineEnd()
	l.skip()
	switch {
	case l.pos < len(l.text) && l.column() > col:
		return l.block(col + 1)
	case key && l.pos < len(l.text) && l.column() == col && l.dash():
		return l.sequence(col)
	}
	l.pos = end
	return &item{start: here, end: here}
}

// inline reads a flow collection or a scalar on a line.
func (l *layout) inline(least int) *item {
	v := l.value(false)
	if v.flow || v.quote != 0 {
		if !l.atEnd() {
			l.fail()
		}
		l.pos = v.end
		return v
	}
	back := l.pos
	if l.skip(); l.pos < len(l.text) && l.column() >= least {
		l.fail() // goes on in the next line
	}
	l.pos = back
	return v
}

func (l *layout) value(flow bool) *item {
	switch c := l.peek(); {
	case c == '{' || c == '[':
		return l.collection()
	case c == '"' || c == '\'':
		v := &item{kind: scalar, quote: c, start: l.pos}
		l.quoted(c)
		v.end = l.pos
		return v
	case strings.IndexByte("&*!|>%@`", c) >= 0:
		l.fail()
	}
	v := &item{kind: scalar, start: l.pos}
	for l.pos < len(l.text) {
		c := l.text[l.pos]
		if c == '\n' || c == '#' && (l.pos == v.start || l.text[l.pos-1] == ' ' || l.text[l.pos-1] == '\t') || flow &&
			strings.IndexByte(",{}[]", c) >= 0 || l.colon(flow) {
			break
		}
		l.pos++
	}
	v.end = v.start + len(strings.TrimRight(l.text[v.start:l.pos], " \t\r"))
	if l.colon(false) && !flow {
		l.fail()
	}
	l.pos = v.end
	if t := l.text[v.start:v.end]; t == "" || t == "~" || strings.EqualFold(t, "null") {
		v.kind = null
	}
	return v
}

func (l *layout) quoted(q byte) {
	for l.pos++; ; l.pos++ {
		switch {
		case l.pos >= len(l.text) || l.text[l.pos] == '\n':
			l.fail()
		case l.text[l.pos] == '\\' && q == '"':
			l.pos++
		case l.text[l.pos] == q && q == '\'' && strings.HasPrefix(l.text[l.pos+1:], "'"):
			l.pos++
		case l.text[l.pos] == q:
			l.pos++
			return
		}
	}
}

// collection reads {..} or [..].
func (l *layout) collection() *item {
	c := &item{kind: mapping, flow: true, start: l.pos}
	closing := byte('}')
	if l.peek() == '[' {
		c.kind, closing = list, ']'
	}
	for l.pos++; ; {
		if l.skip(); l.pos >= len(l.text) {
			l.fail()
		}
		if l.peek() == closing {
			l.pos++
			c.end = l.pos
			return c
		}
		l.member(c)
		if l.skip(); l.peek() == ',' && l.pos < len(l.text) {
			l.pos++
		} else if l.peek() != closing {
			l.fail()
		}
	}
}

// member reads one entry of a flow collection. In a mapping a place written
// 39.05,-5.58 is one value, though its comma would end a value by the letter.
func (l *layout) member(c *item) {
	e := entry{start: l.pos}
	if c.kind == mapping {
		var ok bool
		if e.key, ok = l.key(true); !ok {
			last := len(c.entries) - 1
			if last < 0 || c.entries[last].value.kind != scalar || !startsNumber(e.key) {
				l.fail()
			}
			end := e.start + len(strings.TrimRight(l.text[e.start:l.pos], " \t\r"))
			c.entries[last].value.end, c.entries[last].end, l.pos = end, end, end
			return
		}
		l.skip()
	}
	if strings.IndexByte(",}]", l.peek()) >= 0 {
		e.value = &item{start: l.pos, end: l.pos}
	} else {
		e.value = l.value(true)
	}
	e.end = max(e.value.end, e.start)
	if e.value.kind == null && e.value.start == e.value.end {
		e.end = e.value.end
	}
	c.entries = append(c.entries, e)
}
