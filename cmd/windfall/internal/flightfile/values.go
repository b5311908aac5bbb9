package flightfile

import "fmt"

// Values returns what a flight file's text says: mappings as map[string]any,
// lists as []any, all else as the text that was written. Keys without a value
// are left out.
func Values(name string, text []byte) (map[string]any, error) {
	root, err := parse(name, text)
	if err != nil {
		return nil, err
	}
	return root.values().(map[string]any), nil
}

func (n *node) values() any {
	switch n.kind {
	case mapping:
		out := make(map[string]any, len(n.keys))
		for _, k := range n.keys {
			if c := n.field[k]; c.kind != null {
				out[k] = c.values()
			}
		}
		return out
	case list:
		out := make([]any, len(n.items))
		for i, it := range n.items {
			out[i] = it.values()
		}
		return out
	}
	return n.text
}

// Flat lists the texts of a flight file by their paths, such as
// recovery[0].width; empty for what is not a flight file.
func Flat(text []byte) map[string]string {
	out := map[string]string{}
	if root, err := parse("", text); err == nil {
		root.flat("", out)
	}
	return out
}

func (n *node) flat(path string, out map[string]string) {
	for _, k := range n.keys {
		n.field[k].flat(join(path, k), out)
	}
	for i, it := range n.items {
		it.flat(fmt.Sprintf("%s[%d]", path, i), out)
	}
	if n.kind == scalar {
		out[path] = n.text
	}
}
