package flightfile

import (
	_ "embed" // keys.csv
	"encoding/csv"
	"math"
	"regexp"
	"strings"
)

// Key is one key of a flight file: what it means, what it may be, and what
// happens when it is left out. Keys is the one list of them: the reader
// refuses keys that are not in it, checks values against its ranges, and
// docs/flight-file.md is made from it.
type Key struct {
	Path    string // with [] for the entries of a list, such as recovery[].diameter
	Says    string // what it is
	Example string
	LeftOut string // what happens without it; "must be given" where it must
	Can     Range  // beyond it: an error
	Usual   Range  // beyond it: a caution that asks
}

// Range is two quantities with their units, least and most; empty: no bound.
type Range [2]string

// Keys lists every key of a flight file, in the order of the page: keys.csv.
var Keys = readKeys(keyTable)

//go:embed keys.csv
var keyTable string

// readKeys reads the table of keys; it is the program's own and must be sound.
func readKeys(table string) (keys []Key) {
	rows, err := csv.NewReader(strings.NewReader(table)).ReadAll()
	if err != nil {
		panic(err)
	}
	for _, r := range rows[1:] {
		keys = append(keys, Key{Path: r[0], Says: r[1], Example: r[2], LeftOut: r[3], Can: Range{r[4], r[5]},
			Usual: Range{r[6], r[7]}})
	}
	return keys
}

var byPath = func() map[string]*Key {
	m := make(map[string]*Key, len(Keys))
	for i := range Keys {
		m[Keys[i].Path] = &Keys[i]
	}
	return m
}()

var index = regexp.MustCompile(`\[\d+\]`)

// KeyAt returns the key that a path in a file, such as wind[1].speed, is one
// of; nil where there is none. Forms that are short for another, such as
// levels given as the wind itself, are the same keys.
func KeyAt(path string) *Key {
	p := index.ReplaceAllString(path, "[]")
	if rest, ok := strings.CutPrefix(p, "wind[]."); ok {
		switch rest {
		case "height", "from", "speed", "gust":
			p = "wind.levels[]." + rest
		default:
			p = "wind." + rest
		}
	}
	p = strings.Replace(p, "wind.measured[]", "wind.measured", 1)
	if rest, ok := strings.CutPrefix(p, "recovery."); ok {
		p = "recovery[]." + rest
	}
	for _, byCover := range []string{"target.seen_at", "target.unseen"} {
		if strings.HasPrefix(p, byCover+".") {
			p = byCover + "[]"
		}
	}
	return byPath[p]
}

// known returns the names of the keys that may stand in the mapping at a
// path, "" for the whole file.
func known(path string) (names []string) {
	if path != "" {
		path += "."
	}
	for _, k := range Keys {
		if rest, ok := strings.CutPrefix(k.Path, path); ok && !strings.ContainsAny(rest, ".[") {
			names = append(names, rest)
		}
	}
	return names
}

// beyond says how a value lies outside the range, "" where it does not. It is
// in the unit that parse gives.
func (r Range) beyond(v float64, parse func(string) (float64, error)) string {
	const slack = 1e-9 // 500 mm is 0.5 m but for rounding
	if least, err := parse(r[0]); err == nil && v < least-slack*math.Abs(least) {
		return "below " + r[0]
	}
	if most, err := parse(r[1]); err == nil && v > most+slack*math.Abs(most) {
		return "above " + r[1]
	}
	return ""
}

// hold fails where a value cannot be, and asks where it is unusual.
func (d *decoder) hold(n *node, v float64, parse func(string) (float64, error)) bool {
	k := KeyAt(n.path)
	if k == nil {
		return true
	}
	if out := k.Can.beyond(v, parse); out != "" {
		d.fail(n, "%q cannot be: it is %s; write %s, and check the unit", clip(n.text), out, k.Can)
		return false
	}
	if out := k.Usual.beyond(v, parse); out != "" {
		d.ask(n, "%q is unusual: %s is common; check the number and its unit", clip(n.text), k.Usual)
	}
	return true
}

// clip keeps a message to one line that can be read.
func clip(s string) string {
	const most = 60
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "..."
	}
	return s
}

// String is the range as a page shows it.
func (r Range) String() string {
	if r == (Range{}) {
		return ""
	}
	return r[0] + " to " + r[1]
}
