package flightfile

import (
	"errors"
	"strconv"
	"strings"
)

// splice puts v at the steps of a flight file's text, or takes out what is
// there when v is nil.
func splice(text string, steps []string, v *node, insert bool) (string, error) {
	root, err := layoutOf(text)
	if err != nil {
		return "", err
	}
	at, way := root, []found{}
	for i, s := range steps {
		k := at.index(s)
		last := i == len(steps)-1
		if k < 0 || insert && last {
			return put(text, spot{at, way, steps[i:]}, v, k)
		}
		way = append(way, found{at, k})
		at = at.entries[k].value
		if !last && at.kind != mapping && at.kind != list {
			return put(text, spot{at, way, steps[i+1:]}, v, -1)
		}
	}
	if v == nil {
		return remove(text, way), nil
	}
	return replace(text, at, way, v), nil
}

// found is an entry on the way to a value.
type found struct {
	in *item
	k  int
}

// index finds an entry by its key or number, -1 where there is none.
func (m *item) index(step string) int {
	if m.kind == list {
		if i, err := strconv.Atoi(step); err == nil && i >= 0 && i < len(m.entries) {
			return i
		}
		return -1
	}
	for i, e := range m.entries {
		if e.key == step {
			return i
		}
	}
	return -1
}

// inFlow says whether the last entry on the way lies within {..} or [..].
func inFlow(way []found) bool { return len(way) > 0 && way[len(way)-1].in.flow }

// replace writes v over the value at the end of the way.
func replace(text string, old *item, way []found, v *node) string {
	out := render(v, inFlow(way), old.quote != 0)
	if old.kind == null && old.start == old.end {
		return text[:old.start] + " " + out + text[old.end:]
	}
	start := old.start
	// a block: the new value goes after its key
	if (old.kind == mapping || old.kind == list) && !old.flow && len(way) > 0 {
		e := way[len(way)-1].in.entries[way[len(way)-1].k]
		head := text[e.start:old.start]
		if c := strings.IndexByte(head, '\n'); c >= 0 {
			first := strings.TrimRight(withoutComment(head[:c]), " \t\r")
			return text[:e.start] + first + " " + out + strings.TrimRight(head[len(first):], " \t\r\n") + text[old.end:]
		}
	}
	return text[:start] + out + text[old.end:]
}

// withoutComment cuts a line at its comment.
func withoutComment(line string) string {
	if i := strings.Index(line, " #"); i >= 0 {
		return line[:i]
	}
	return line
}

// spot is where an entry goes: into an item, come to by a way, with steps left.
type spot struct {
	at    *item
	way   []found
	steps []string
}

// put adds an entry to a spot: before its entry k, or where a new one belongs.
func put(text string, to spot, v *node, k int) (string, error) {
	at, way, steps := to.at, to.way, to.steps
	if v == nil {
		return text, nil // nothing there to take out
	}
	if at.kind != mapping && at.kind != list { // a key without a value
		if at.kind == scalar {
			return "", errors.New("has no parts")
		}
		return replace(text, at, way, wrapped(steps, v)), nil
	}
	in := wrapped(steps[1:], v)
	if k < 0 && at.kind == mapping {
		k = newKeyAt(at.keys(), steps[0], len(way) == 0)
	} else if k < 0 {
		k = len(at.entries)
	}
	head := ""
	if at.kind == mapping {
		head = render(&node{kind: scalar, text: steps[0]}, true, false) + ": "
	}
	if at.flow {
		return putInFlow(text, at, k, head+render(in, true, false)), nil
	}
	if at.kind == list {
		head = "- "
	}
	return putInBlock(text, at, k, head+render(in, false, false)), nil
}

func (m *item) keys() []string {
	var out []string
	for _, e := range m.entries {
		out = append(out, e.key)
	}
	return out
}

func putInFlow(text string, at *item, k int, entry string) string {
	switch {
	case len(at.entries) == 0:
		return text[:at.start+1] + entry + text[at.end-1:]
	case k < len(at.entries):
		i := at.entries[k].start
		return text[:i] + entry + ", " + text[i:]
	}
	i := at.entries[len(at.entries)-1].end
	return text[:i] + ", " + entry + text[i:]
}

func putInBlock(text string, at *item, k int, entry string) string {
	nl, pad := "\n", strings.Repeat(" ", at.indent)
	if strings.Contains(text, "\r\n") {
		nl = "\r\n"
	}
	if k < len(at.entries) && (k == 0 || at.kind == list) {
		i := at.entries[k].start
		return text[:i] + entry + nl + pad + text[i:]
	}
	i := lineEnd(text, at.entries[k-1].end)
	if i > 0 && text[i-1] == '\r' {
		i--
	}
	return text[:i] + nl + pad + entry + text[i:]
}

func lineEnd(text string, i int) int {
	if n := strings.IndexByte(text[i:], '\n'); n >= 0 {
		return i + n
	}
	return len(text)
}

// remove takes out the entry at the end of the way, and what holds nothing else.
func remove(text string, way []found) string {
	for len(way) > 1 && len(way[len(way)-1].in.entries) == 1 {
		way = way[:len(way)-1]
	}
	m, k := way[len(way)-1].in, way[len(way)-1].k
	e := m.entries[k]
	switch {
	case m.flow && k+1 < len(m.entries):
		return text[:e.start] + text[m.entries[k+1].start:]
	case m.flow && k > 0:
		return text[:m.entries[k-1].end] + text[e.end:]
	case m.flow:
		return text[:m.start+1] + text[m.end-1:]
	}
	start := strings.LastIndexByte(text[:e.start], '\n') + 1
	if strings.TrimSpace(text[start:e.start]) != "" { // stands after a dash: what follows takes its place
		if k+1 < len(m.entries) {
			return text[:e.start] + text[m.entries[k+1].start:]
		}
		return text[:e.start] + text[e.end:]
	}
	end := lineEnd(text, e.end)
	if end < len(text) {
		end++
	}
	return text[:start] + text[end:]
}

// render writes a value on one line; flow: within {..} or [..]; quote: a scalar
// is quoted even where it need not be.
func render(n *node, flow, quote bool) string {
	switch n.kind {
	case null:
		return "null"
	case mapping:
		var parts []string
		for _, k := range n.keys {
			parts = append(parts, render(&node{kind: scalar, text: k}, true, false)+": "+render(n.field[k], true, false))
		}
		return "{" + strings.Join(parts, ", ") + "}"
	case list:
		var parts []string
		for _, it := range n.items {
			parts = append(parts, render(it, true, false))
		}
		return "[" + strings.Join(parts, ", ") + "]"
	}
	if quote || !plain(n.text, flow) {
		return quotedText(n.text)
	}
	return n.text
}

// plain says whether a text can stand without quotes.
func plain(s string, flow bool) bool {
	switch {
	case s == "" || s == "~" || strings.EqualFold(s, "null") || s != strings.TrimSpace(s):
		return false
	case strings.IndexByte("-?:,[]{}#&*!|>'\"%@`=<", s[0]) >= 0 && !(s[0] == '-' && startsNumber(s)):
		return false
	case strings.Contains(s, ": ") || strings.Contains(s, " #") || strings.HasSuffix(s, ":"):
		return false
	case flow && strings.ContainsAny(s, ",[]{}"):
		return false
	}
	return !strings.ContainsFunc(s, func(r rune) bool {
		return r < ' ' || r == 0x7f || r == 0xfeff || r == 0x85 || r == 0x2028 || r == 0x2029
	})
}

// quotedText is a text in double quotes, by the escapes of YAML 1.2, section 5.7.
func quotedText(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteString(`\t`)
		case r < ' ' || r == 0x7f:
			b.WriteString(`\x` + strconv.FormatInt(int64(r)+0x100, 16)[1:])
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
